package hours

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func seen(day int32, lit, edge float64) Day {
	return Day{Day: day, Length: 24, LitH: lit, EdgeH: edge}
}

func TestLampOnTimeAddsUp(t *testing.T) {
	got, warn := Add([]Day{seen(10, 11.5, 1), seen(11, 11.5, 1)}, Start{Hours: 100, Day: 10}, 11, -1)
	if len(warn) != 0 || got[1].Hours != 124 || got[1].Lo != 123 || got[1].Hi != 125 || got[1].Method != ByLit {
		t.Fatalf("%+v %v", got, warn)
	}
}

func TestAGapIsBoundedNotBridged(t *testing.T) {
	days := []Day{seen(0, 12, 0), seen(3, 12, 0)}
	got, warn := Add(days, Start{Day: 0}, 3, -1)
	last := got[3]
	if last.Hours != 48 || last.Lo != 24 || last.Hi != 72 || got[1].Method != ByHabit || len(warn) != 1 {
		t.Fatalf("%+v %v", got, warn)
	}
	// a declared photoperiod speaks before the last days do
	if got, _ := Add(days, Start{Day: 0}, 3, 18); got[3].Hours != 60 {
		t.Fatalf("with 18 h a day: %+v", got)
	}
	// half a day unseen: what has burned already is not burned again
	half := Day{Day: 0, Length: 24, LitH: 12, GapH: 12}
	if got, _ := Add([]Day{half}, Start{Day: 0}, 0, 12); got[0].Hours != 12 || got[0].Hi != 24 {
		t.Fatalf("half a day: %+v", got)
	}
}

func TestNothingBurnsInAnOutage(t *testing.T) {
	got, _ := Add([]Day{seen(0, 12, 0), {Day: 1, Length: 24, GapH: 24, OutageH: 24}}, Start{Day: 0}, 1, -1)
	if got[1].Hours != 12 || got[1].Hi != 12 || got[1].Method != ByOutage {
		t.Fatalf("%+v", got)
	}
}

func TestAWeeklyMeterIsSharedByTheDays(t *testing.T) {
	var days []Day
	for d := range int32(8) {
		w := seen(d, 10, 0)
		if d == 0 || d == 7 {
			w.MeterAt, w.Meter = int64(d)*24*microPerHour+1, 500+77*float64(d)/7
		}
		days = append(days, w)
	}
	got, warn := Add(days, Start{Day: 0, Hours: 0}, 7, -1)
	if math.Abs(got[7].Hours-(10+77)) > 1e-9 || got[7].Method != ByMeter || len(warn) != 0 {
		t.Fatalf("%+v %v", got[7], warn)
	}
	if math.Abs(got[3].Disagree+7.0/77) > 1e-9 {
		t.Fatalf("lamp-on time says 70 h, the meter 77: disagree %v", got[3].Disagree)
	}
}

// A meter that stood still for weeks under a burning lamp missed those hours; one that
// moves in steps of ten, and one of a lamp that was off, did not.
func TestAMeterThatStandsStillUnderABurningLampIsNotBelieved(t *testing.T) {
	metered := func(face func(day int) float64, lit func(day int) float64) []Day {
		var days []Day
		for d := range int32(60) {
			w := seen(d, lit(int(d)), 0)
			w.MeterAt, w.Meter = (int64(d)*24+23)*microPerHour, face(int(d))
			days = append(days, w)
		}
		return days
	}
	ten := func(int) float64 { return 10 }
	still := func(d int) float64 { return 10 * float64(min(d, 20)+max(0, d-40)) } // from day 20 to 40
	steps := func(d int) float64 { return 10 * math.Floor(float64(d)*7/10) }
	for name, c := range map[string]struct {
		face, lit func(int) float64
		hours     float64
		warned    bool
	}{
		"goes on":      {func(d int) float64 { return 10 * float64(d) }, ten, 600, false},
		"stood still":  {still, ten, 600, true},
		"lamp was off": {still, func(d int) float64 { return 10 * float64(btoi(d <= 20 || d > 40)) }, 400, false},
		"steps of ten": {steps, func(int) float64 { return 7 }, 417, false},
		"a day missed": {func(d int) float64 { return 10 * float64(d-btoi(d >= 30)) }, ten, 590, false},
	} {
		got, warn := Add(metered(c.face, c.lit), Start{Day: 0}, 59, -1)
		if math.Abs(got[59].Hours-c.hours) > .01 || strings.Contains(strings.Join(warn, ";"), "stood still") != c.warned {
			t.Errorf("%s: %.1f h, not %.0f; %v", name, got[59].Hours, c.hours, warn)
		}
	}
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

func TestFaceStandsForHoursBeforeTheRecord(t *testing.T) {
	days := []Day{{Day: 100, Length: 24, LitH: 12, MeterAt: 1, Meter: 1300, FirstAt: 1, First: 1300}}
	got, warn := Add(days, Start{Day: 0, First: true}, 100, 12)
	if got[100].Hours != 1300 || len(warn) != 2 {
		t.Fatalf("%+v %v", got[100], warn)
	}
	days[0].Meter = 9000 // more than there was time for
	if got, warn := Add(days, Start{Day: 0, First: true}, 100, 12); got[100].Hours != 101*12 || len(warn) != 2 {
		t.Fatalf("%+v %v", got[100], warn)
	}
}

func TestRolloverResetAndJump(t *testing.T) {
	for _, c := range []struct {
		from, to, elapsed, adv float64
		step                   Step
	}{
		{100, 112, 24, 12, Advance},
		{99990, 8, 24, 18, Rollover}, // a five-digit face ran over
		{9995, 3, 24, 8, Rollover},   // a four-digit one
		{12000, 5, 24, 0, Reset},     // from the middle of its range
		{99990, 20000, 24, 0, Reset}, // not to the bottom tenth
		{99000, 5, 24, 0, Reset},     // over the top, but by more hours than passed
		{100, 200, 24, 0, Jump},      // no lamp burns 100 h in a day
		{100, 125, 24, 25, Advance},  // rounding of the face
		{0, 0, 24, 0, Advance},
	} {
		if adv, step := Advanced(c.from, c.to, c.elapsed); step != c.step || math.Abs(adv-c.adv) > 1e-9 {
			t.Errorf("Advanced(%v, %v, %v) = %v %v, want %v %v", c.from, c.to, c.elapsed, adv, step, c.adv, c.step)
		}
	}
}

// A meter that is replaced, or set back, ends one count of its face and begins
// another: the life's total goes on by lamp-on time over the change, by the new
// face after it, and never takes the new face for hours of the lamp.
func TestReplacedMeters(t *testing.T) {
	const lit = 12.0
	for _, c := range []struct {
		name string
		face func(day int) float64 // at the end of the day
		warn string
	}{
		{"a new meter at 0", func(d int) float64 {
			if d < 10 {
				return 31_000 + lit*float64(d+1)
			}
			return lit * float64(d-9)
		}, "hour meter fell back 1 time without a rollover"},
		{"a used meter with more on it", func(d int) float64 {
			if d < 10 {
				return 31_000 + lit*float64(d+1)
			}
			return 52_000 + lit*float64(d-9)
		}, "hour meter advanced by more than the hours that passed 1 time"},
		{"a used meter with a little less on it", func(d int) float64 {
			if d < 10 {
				return 31_000 + lit*float64(d+1)
			}
			return 31_050 + lit*float64(d-9)
		}, "hour meter fell back 1 time without a rollover"},
		{"over the top of five digits", func(d int) float64 { return math.Mod(99_900+lit*float64(d+1), 100_000) }, ""},
	} {
		var days []Day
		for d := range 30 {
			days = append(days, Day{Day: int32(d), Length: 24, LitH: lit, MeterAt: int64(d+1)*24*microPerHour - 1,
				Meter: c.face(d)})
		}
		got, warn := Add(days, Start{Hours: 500}, 29, -1)
		if math.Abs(got[29].Hours-(500+30*lit)) > 1e-6 {
			t.Errorf("%s: %v h, want %v", c.name, got[29].Hours, 500+30*lit)
		}
		if said := strings.Join(warn, "; "); !strings.Contains(said, c.warn) || c.warn == "" && said != "" {
			t.Errorf("%s: %q", c.name, said)
		}
		for d, x := range got {
			want := ByMeter
			if d == 0 || d == 10 && c.warn != "" { // the first face begins a count, the first of another meter too
				want = ByLit
			}
			if x.Method != want {
				t.Errorf("%s: day %d by %s", c.name, d, x.Method)
			}
		}
	}
}

// The life's hours are the hours of its days, never fall, and lie within their
// bounds; a day never burns longer than it is, wherever there was room.
func TestHoursAreConserved(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var days []Day
		meter, at := rapid.Float64Range(0, 99999).Draw(t, "meter"), int64(0)
		for d := int32(0); d < 30; d++ {
			if rapid.IntRange(0, 5).Draw(t, "silent") == 0 {
				continue
			}
			lit := rapid.Float64Range(0, 20).Draw(t, "lit")
			w := Day{Day: d, Length: 24, LitH: lit, EdgeH: rapid.Float64Range(0, 1).Draw(t, "edge"),
				GapH: rapid.Float64Range(0, 3).Draw(t, "gap")}
			if rapid.Bool().Draw(t, "read") {
				now := (int64(d)+1)*24*microPerHour - 1
				meter += rapid.Float64Range(0, 1).Draw(t, "share") * float64(now-at) / microPerHour
				at = now
				w.MeterAt, w.Meter = now, meter
			}
			days = append(days, w)
		}
		start := Start{Hours: rapid.Float64Range(0, 1000).Draw(t, "start")}
		got, _ := Add(days, start, 29, Habit(rapid.SampledFrom([]float64{-1, 0, 12, 18}).Draw(t, "habit")))
		sum := start.Hours
		for _, g := range got {
			sum += g.Burned
			if math.Abs(sum-g.Hours) > 1e-6 || g.Burned < 0 || g.Burned > 24+1e-9 || g.Lo > g.Hours+1e-9 || g.Hi < g.Hours-1e-9 {
				t.Fatalf("%+v (sum %v)", g, sum)
			}
		}
	})
}
