package lamp

import (
	"math"
	"strings"
	"testing"

	"wane/transform/fleet"
	"wane/transform/level"
)

// ledLives invents n LED lives of one cohort that fade exponentially.
func ledLives(n int, hours, alpha float64) []*Life {
	var out []*Life
	for i := range n {
		l := &Life{Life: fleet.Life{Fixture: string(rune('a' + i)), LampType: fleet.LED, Cohort: "lot"}}
		for h := 12.0; h <= hours; h += 12 {
			l.Levels = append(l.Levels, level.Level{RunHours: h, Level: math.Exp(-alpha * h)})
		}
		out = append(out, l)
	}
	return out
}

// The projection of an exactly exponential cohort is its own crossing, within
// the cap of the procedure, and past it a bound.
func TestStandardsAnswerForLEDCohorts(t *testing.T) {
	s := Standards(ledLives(20, 10_100, 5e-6), 0.9)
	if len(s) != 1 || s[0].Refused != "" || s[0].Units != 20 {
		t.Fatalf("%+v", s)
	}
	// days are medians around each thousand, so within a day's burning
	if want := -math.Log(0.9) / 5e-6; math.Abs(s[0].Life.Calculated/want-1) > 0.01 {
		t.Errorf("calculated %.0f h, the cohort crosses at %.0f h", s[0].Life.Calculated, want)
	}
	if _, bound := Standards(ledLives(20, 10_100, 1e-6), 0.9)[0].Life.Claimed(); !bound {
		t.Error("a crossing past six times the test is claimed")
	}
	for _, c := range []struct {
		lives []*Life
		why   string
	}{
		{ledLives(4, 10_100, 5e-6), "units"},
		{ledLives(20, 3_000, 5e-6), "6000 h"},
		{ledLives(20, 500, 5e-6), "readings"},
	} {
		if s := Standards(c.lives, 0.9); len(s) != 1 || !strings.Contains(s[0].Refused, c.why) {
			t.Errorf("want a refusal for %q: %+v", c.why, s)
		}
	}
	hps := ledLives(20, 10_100, 5e-6)
	for _, l := range hps {
		l.LampType = fleet.HPSDE
	}
	if s := Standards(hps, 0.9); len(s) != 0 {
		t.Errorf("the procedure is for LEDs: %+v", s)
	}
}
