package level

import (
	"math"
	"strings"
	"testing"
)

// The drift between two recalibrations is what the later one found, spread evenly;
// after the last one the sensor goes on at its own past rate.
func TestDriftBetweenRecalibrations(t *testing.T) {
	spans := Drift(0, []Calibration{{400, 0.98}, {600, 0}, {800, 0.97}})
	rate := (math.Log(0.98) + math.Log(0.97)) / 600
	want := []Span{
		{0, 399, math.Log(0.98) / 400, true, true}, {400, 599, rate, false, true},
		{600, 799, math.Log(0.97) / 200, true, true}, {800, math.MaxInt32, rate, false, true},
	}
	if len(spans) != len(want) {
		t.Fatalf("%+v", spans)
	}
	for i, s := range spans {
		if math.Abs(s.PerDay-want[i].PerDay) > 1e-15 {
			t.Errorf("span %d drifts by %v a day, want %v", i, s.PerDay, want[i].PerDay)
		}
		s.PerDay = want[i].PerDay
		if s != want[i] {
			t.Errorf("span %d: %+v, want %+v", i, s, want[i])
		}
	}
	if s := Drift(5, nil); len(s) != 1 || s[0] != (Span{First: 5, Last: math.MaxInt32}) {
		t.Errorf("never recalibrated: %+v", s)
	}
	if s := Drift(50, []Calibration{{10, 0.9}}); len(s) != 1 || s[0].First != 10 || s[0].Known {
		t.Errorf("recalibrated before its first day: %+v", s)
	}
}

// The interval of a median: 1.2533 standard errors of a mean (the large-sample
// efficiency of the median, sqrt(pi/2)).
func TestBaselinesInterval(t *testing.T) {
	b := DefaultBaseline()
	e := b.Of(800, 4, 100, 14, 108)
	if half := 1.96 * math.Sqrt(math.Pi/2) * 1.4826 * 4 / math.Sqrt(14); math.Abs(e.Hi-800-half) > 1e-3 || e.N != 14 ||
		len(e.Warnings) != 0 {
		t.Errorf("%+v, want +- %v", e, half)
	}
	if e := b.Of(800, 4, 100, 9, 900); len(e.Warnings) != 2 || !strings.Contains(e.Warnings[0], "9 of 14") ||
		!strings.Contains(e.Warnings[1], "900 run-hours") {
		t.Errorf("late and short: %q", e.Warnings)
	}
	if b.None(100).Known() {
		t.Error("no day makes no baseline")
	}
	if b.SeasoningHours != 100 { // IES LM-54; CIE e-ILV, term 636, declares the initial flux at 100 h
		t.Errorf("seasoning takes %v h", b.SeasoningHours)
	}
}

func TestFlagsHaveNames(t *testing.T) {
	if got := (GainAhead | Dimmed | BaselineShort).String(); got != "gain-ahead dimmed short-baseline" {
		t.Fatal(got)
	}
	if Flags(0).String() != "" {
		t.Fatal("no flag is an empty text")
	}
	for f := range Flags(1 << len(flagNames)) {
		if got := ParseFlags(f.String()); got != f {
			t.Fatalf("%v is read as %v", f, got)
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
