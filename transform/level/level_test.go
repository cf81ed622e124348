package level

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"wane/transform/fleet"
)

var nan = math.NaN()

// fading is a life of n days, 12 h a day, losing a share of its output a day.
func fading(n int, loss float64) []Day {
	out := make([]Day, n)
	for i := range out {
		out[i] = Day{Day: int32(i), RunHours: 12 * float64(i+1), PPFD: 800 * math.Exp(-loss*float64(i)), Usable: 40, DimPct: 100, SupplyV: nan, AmbientC: nan, Sensor: "s"}
	}
	return out
}

func plain() Life {
	return Life{LampType: fleet.HPSDE, Gear: fleet.Magnetic, RatedV: 240, Gains: map[string]Gain{"s": NewGain(0, nil)}}
}

func TestBaselineIsReadAfterSeasoning(t *testing.T) {
	r := Of(fading(60, 0), plain(), DefaultCorrections(), DefaultBaseline())
	// 100 h are burned by the end of the ninth day (12 h a day): eight days season
	if !math.IsNaN(r.Levels[7].Level) || r.Levels[7].Flags&Seasoning == 0 || r.Levels[8].Level != 1 {
		t.Fatalf("%+v %+v", r.Levels[7], r.Levels[8])
	}
	if r.Baseline.N != 14 || r.Baseline.Centre != 800 {
		t.Fatalf("%+v", r.Baseline)
	}
	led := plain()
	led.LampType = fleet.LED
	if r := Of(fading(60, 0), led, DefaultCorrections(), DefaultBaseline()); r.Levels[0].Level != 1 {
		t.Fatalf("an LED has no seasoning: %+v", r.Levels[0])
	}
}

func TestLateAndShortBaselinesAreSaid(t *testing.T) {
	days := fading(80, 0)[70:]
	r := Of(days, plain(), DefaultCorrections(), DefaultBaseline())
	if len(r.Baseline.Warnings) != 2 || r.Levels[0].Flags&(LateBaseline|BaselineShort) != LateBaseline|BaselineShort {
		t.Fatalf("%+v %v", r.Baseline, r.Levels[0].Flags)
	}
}

// The as-found gain of a recalibration takes the drift before it out again.
func TestDriftBetweenRecalibrationsIsTakenOut(t *testing.T) {
	days := fading(800, 0)
	drift := func(day int32) float64 { // 2 % lost in 400 days, made good, 3 % in the next 400
		if day < 400 {
			return math.Pow(0.98, float64(day)/400)
		}
		return math.Pow(0.97, float64(day-400)/400)
	}
	for i := range days {
		days[i].PPFD *= drift(days[i].Day)
	}
	life := plain()
	life.Gains["s"] = NewGain(0, []Calibration{{400, 0.98}, {800, 0.97}})
	for _, l := range Of(days, life, DefaultCorrections(), DefaultBaseline()).Levels[20:] {
		if math.Abs(l.Level-1) > 1e-3 || l.Flags&(GainAhead|GainUnknown) != 0 {
			t.Fatalf("day %d: %+v", l.Day, l)
		}
	}
}

// A uniform gain on a sensor changes nothing after its recalibration is logged
// and before it is spread evenly: levels after are the same as without it.
func TestAUniformGainIsForgottenAfterRecalibration(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.Float64Range(0.5, 2).Draw(t, "k")
		days := fading(200, 1e-4)
		scaled := fading(200, 1e-4)
		for i := range scaled {
			scaled[i].PPFD *= k
		}
		a := Of(days, plain(), DefaultCorrections(), DefaultBaseline())
		b := Of(scaled, plain(), DefaultCorrections(), DefaultBaseline())
		for i := range a.Levels {
			if x, y := a.Levels[i].Level, b.Levels[i].Level; math.Abs(x-y) > 1e-12 {
				t.Fatalf("gain %v: %v against %v", k, x, y)
			}
		}
	})
}

func TestDimSupplyAndTemperatureAreTakenOut(t *testing.T) {
	days := fading(100, 0)
	life := plain()
	life.LampType = fleet.LED
	for i := range days {
		d := &days[i]
		d.SupplyV, d.AmbientC = 240*(1+0.03*math.Sin(float64(i))), 25+4*math.Cos(float64(i))
		d.PPFD *= math.Pow(d.SupplyV/240, 1.5) * math.Exp(-0.003*(d.AmbientC-25))
		if i > 50 {
			d.DimPct = 80
			d.PPFD *= 0.8
		}
	}
	r := Of(days, life, DefaultCorrections(), DefaultBaseline())
	for _, l := range r.Levels {
		if math.Abs(l.Level-1) > 1e-9 {
			t.Fatalf("%+v", l)
		}
	}
	if worst := r.Levels[50].LevelRaw; math.Abs(worst-1) < 1e-3 {
		t.Fatal("the uncorrected level must still show what was taken out")
	}
	if r.Levels[60].Flags&Dimmed == 0 || r.Levels[40].Flags&Dimmed != 0 {
		t.Fatal("a dimmed day says so")
	}
}

func TestFlagsHaveNames(t *testing.T) {
	if got := (GainAhead | Dimmed | BaselineShort).String(); got != "gain-ahead dimmed short-baseline" {
		t.Fatal(got)
	}
	if Flags(0).String() != "" {
		t.Fatal("no flag is an empty text")
	}
}

// Seasoning: the first 100 burning hours of a discharge lamp (IES LM-54; the
// CIE e-ILV, term 636, declares the initial flux at 100 h).
func TestSeasoningIsTheStandards(t *testing.T) {
	b := DefaultBaseline()
	if b.SeasoningHours != 100 {
		t.Fatalf("seasoning takes %v h", b.SeasoningHours)
	}
	for _, lamp := range fleet.LampTypes {
		life := plain()
		life.LampType = lamp
		r := Of(fading(60, 0), life, DefaultCorrections(), b)
		first := -1.0
		for _, l := range r.Levels {
			if !math.IsNaN(l.Level) {
				first = l.RunHours
				break
			}
		}
		if want := 108.0; lamp.Discharge() && first != want { // the first day that ends after 100 h at 12 h a day
			t.Errorf("%s: 100 %% is read from %v h on, want %v", lamp, first, want)
		} else if !lamp.Discharge() && first != 12 {
			t.Errorf("%s: 100 %% is read from %v h on", lamp, first)
		}
	}
}

func TestSettingsThatCannotBeAreNamed(t *testing.T) {
	c := DefaultCorrections()
	c.Supply["magnetik"], c.Ambient["led"] = 1, 3
	if f := c.Validate(); len(f) != 2 {
		t.Errorf("%v", f)
	}
	if f := (Baseline{SeasoningHours: -1, Days: 0, LatestHours: -2}).Validate(); len(f) != 3 {
		t.Errorf("%v", f)
	}
	if f := append(DefaultCorrections().Validate(), DefaultBaseline().Validate()...); len(f) != 0 {
		t.Errorf("defaults are faulty: %v", f)
	}
}
