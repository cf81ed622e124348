package daily

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"wane/transform/fleet"
)

const minute = int64(60e6)

// bounds gives n days of 24 h from day 0.
func bounds(n int) []Bound {
	out := make([]Bound, n)
	for i := range out {
		out[i] = Bound{Day: int32(i), From: int64(i) * 24 * 60 * minute, To: int64(i+1) * 24 * 60 * minute}
	}
	return out
}

// burning makes a series of n days at a cadence in minutes, lit from hour on
// for h hours a day (over midnight where that goes past 24).
func burning(days, cadence int, on, h, ppfd float64) Track {
	var t Track
	for m := 0; m < days*24*60; m += cadence {
		since := math.Mod(float64(m)/60-on+48, 24)
		v := 0.3
		if since < h {
			v = ppfd + 0.1*float64((m/cadence)%7) // a sensor's own unrest, so that it is not stuck
		}
		t.Time = append(t.Time, int64(m)*minute)
		t.Value = append(t.Value, v)
	}
	return t
}

func TestPlainDay(t *testing.T) {
	in := Input{LampType: fleet.HPSDE, Light: burning(3, 15, 6, 12, 800)}
	days := Roll(in, bounds(3), DefaultGate())
	if len(days) != 3 {
		t.Fatalf("want 3 days, got %d", len(days))
	}
	d := days[1]
	// 48 lit readings from 06:00 to 17:45: two run up (0 and 15 min since the
	// first), the last is before the edge.
	if d.Readings != 96 || d.Left[Unlit] != 48 || d.Left[RunningUp] != 2 || d.Left[Edge] != 1 || d.Usable != 45 {
		t.Errorf("counts: %+v", d)
	}
	if math.Abs(d.PPFD-800.3) > 0.11 || d.DimPct != 100 || !math.IsNaN(d.SupplyV) {
		t.Errorf("level: %+v", d)
	}
	if d.LitH != 11.75 || d.EdgeH != 0.5 || d.GapH != 0 || d.Starts != 1 {
		t.Errorf("hours: lit %v edge %v gap %v starts %d", d.LitH, d.EdgeH, d.GapH, d.Starts)
	}
}

func TestLampBurningOverMidnightStaysWarm(t *testing.T) {
	in := Input{LampType: fleet.CMH, Light: burning(3, 15, 20, 12, 500)}
	d := Roll(in, bounds(3), DefaultGate())[1]
	if d.Left[RunningUp] != 2 { // only after 20:00, none after 00:00
		t.Errorf("running-up %d, want 2", d.Left[RunningUp])
	}
	if got := d.LitH + d.EdgeH/2; got != 12 {
		t.Errorf("lit hours %v, want 12", got)
	}
}

func TestOddMomentsAreLeftOutByReason(t *testing.T) {
	light := burning(2, 15, 0, 24, 600)
	at := func(day, quarter int) int { return day*96 + quarter }
	light.Value[at(1, 10)] = 6000 // spike above anything plausible
	light.Value[at(1, 11)] = 300  // somebody in the beam
	for q := 40; q < 80; q++ {    // ten hours of the same digits
		light.Value[at(1, q)] = 600.4
	}
	supply := Track{}
	for i := range light.Time {
		v := 230.0
		if i == at(1, 20) {
			v = 120
		}
		supply.Time, supply.Value = append(supply.Time, light.Time[i]), append(supply.Value, v)
	}
	in := Input{LampType: fleet.LED, Light: light, Supply: supply,
		SetPoints: []SetPoint{{At: light.Time[at(1, 90)], Percent: 80}}}
	d := Roll(in, bounds(2), DefaultGate())[1]
	want := map[Reason]int{Implausible: 1, Shadowed: 1, Stuck: 40, OddSupply: 1, OddDim: 6}
	for r, n := range want {
		if d.Left[r] != n {
			t.Errorf("%v: %d left out, want %d", r, d.Left[r], n)
		}
	}
	if d.SupplyV != 230 || d.DimPct != 100 {
		t.Errorf("conditions: %+v", d)
	}
}

func TestOneValueADayServes(t *testing.T) {
	var light, meter Track
	for d := range 5 {
		light.Time, light.Value = append(light.Time, int64(d*24*60+720)*minute), append(light.Value, 700-float64(d))
		meter.Time, meter.Value = append(meter.Time, int64(d*24*60+720)*minute), append(meter.Value, 100+12*float64(d))
	}
	days := Roll(Input{LampType: fleet.HPSSE, Light: light, Counter: meter}, bounds(5), DefaultGate())
	if len(days) != 5 || days[3].PPFD != 697 || days[3].Usable != 1 || days[3].Counter.Last != 136 || days[3].GapH != 24 {
		t.Fatalf("%+v", days)
	}
}

func TestDarkLampHasNoLevelAndNoHours(t *testing.T) {
	d := Roll(Input{LampType: fleet.MH, Light: burning(2, 15, 0, 0, 0)}, bounds(2), DefaultGate())[1]
	if d.Usable != 0 || !math.IsNaN(d.PPFD) || d.LitH != 0 || d.GapH != 0 {
		t.Fatalf("%+v", d)
	}
}

// In a greenhouse only the dark hours count, and run-hours come from power
// where there is a meter, else only what the night shows.
func TestDaylightIsNotTakenForTheLamp(t *testing.T) {
	light := burning(3, 15, 0, 24, 300)
	for i, at := range light.Time {
		if h := (at / (60 * minute)) % 24; h >= 8 && h < 16 {
			light.Value[i] += 900 // a summer's day on top
		}
	}
	in := Input{LampType: fleet.HPSDE, Light: light, Sky: &Sky{Latitude: 52, Longitude: 5}}
	d := Roll(in, bounds(3), DefaultGate())[1] // 2 January
	if d.Left[Daylight] < 34 || d.Left[Daylight] > 42 || math.Abs(d.PPFD-300.3) > 0.1 {
		t.Errorf("%+v", d) // the sun is within 6 degrees of the horizon or above it for about 9 h
	}
	if d.GapH < 8 || d.LitH+d.GapH < 23.7 {
		t.Errorf("by day nobody sees the lamp: lit %v gap %v", d.LitH, d.GapH)
	}
	in.Power = burning(3, 15, 0, 24, 1000)
	if d = Roll(in, bounds(3), DefaultGate())[1]; d.LitH != 24 || d.GapH != 0 {
		t.Errorf("power tells by day too: lit %v gap %v", d.LitH, d.GapH)
	}
}

// messy draws a series with gaps, spikes, dips, odd cadences and dark days.
func messy(t *rapid.T, days int, values ...float64) Track {
	var out Track
	at := int64(0)
	end := int64(days) * 24 * 60 * minute
	for at < end {
		if rapid.IntRange(0, 40).Draw(t, "gap") == 0 {
			at += int64(rapid.IntRange(1, 2000).Draw(t, "gapMinutes")) * minute
		}
		at += int64(rapid.IntRange(5, 30).Draw(t, "step")) * minute
		v := rapid.SampledFrom(values).Draw(t, "v")
		out.Time, out.Value = append(out.Time, at), append(out.Value, v)
	}
	return out
}

// A day's row is the same whether later days are known or not.
func TestRowsDependOnNothingLater(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		light := messy(t, 4, 0, 0.4, 300, 610, 612.5, 620, 9000)
		all := Roll(Input{LampType: fleet.CMH, Light: light}, bounds(4), DefaultGate())
		_, hi := span(light, 0, bounds(4)[1].To)
		cut := Track{light.Time[:hi], light.Value[:hi]}
		early := Roll(Input{LampType: fleet.CMH, Light: cut}, bounds(2), DefaultGate())
		for i, d := range early {
			if !same(d, all[i]) {
				t.Fatalf("day %d:\n%+v\n%+v", d.Day, d, all[i])
			}
		}
	})
}

// Every reading is usable or left out for one reason; lit, edge and gap hours
// fit in the day; hours do not depend on how the time is cut into days.
func TestNothingIsLostInADay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		light := messy(t, 3, 0, 0.4, 300, 610, 612.5, 620, 9000)
		in := Input{LampType: fleet.LED, Light: light}
		for _, d := range Roll(in, bounds(3), DefaultGate()) {
			n := d.Usable
			for _, c := range d.Left {
				n += c
			}
			if n != d.Readings {
				t.Fatalf("%d readings, %d accounted for: %+v", d.Readings, n, d)
			}
		}
	})
	rapid.Check(t, func(t *rapid.T) {
		light := messy(t, 3, 0, 0.4, 610, 612.5, 620)
		in := Input{LampType: fleet.LED, Light: light}
		whole := Roll(in, []Bound{{Day: 0, From: 0, To: bounds(3)[2].To}}, DefaultGate())
		if len(whole) == 0 {
			return
		}
		one := whole[0]
		var scan litScan
		scan.start(light, DefaultGate().OnFloor, DefaultGate(), DefaultGate().runUp(fleet.LED))
		lit, edge := 0.0, 0.0
		for _, b := range bounds(3) {
			lo, hi := span(light, b.From, b.To)
			scan.scan(b, lo, hi)
			lit, edge = lit+scan.litH, edge+scan.edgeH
		}
		if math.Abs(lit-one.LitH) > 1e-9 || math.Abs(edge-one.EdgeH) > 1e-9 {
			t.Fatalf("cut into days: lit %v edge %v; whole: %v %v", lit, edge, one.LitH, one.EdgeH)
		}
	})
}

func same(a, b Day) bool {
	eq := func(x, y float64) bool { return x == y || (math.IsNaN(x) && math.IsNaN(y)) }
	return a.Readings == b.Readings && a.Usable == b.Usable && a.Left == b.Left && eq(a.PPFD, b.PPFD) &&
		eq(a.Spread, b.Spread) &&
		a.LitH == b.LitH && a.EdgeH == b.EdgeH && a.GapH == b.GapH && a.Starts == b.Starts
}

func BenchmarkRollYear(b *testing.B) {
	light := burning(365, 5, 6, 18, 800)
	days := bounds(365)
	b.ReportMetric(float64(light.Len()), "readings/op")
	for b.Loop() {
		Roll(Input{LampType: fleet.HPSDE, Light: light}, days, DefaultGate())
	}
}
