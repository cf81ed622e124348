package forecast_test

import (
	"math"
	"slices"
	"sort"
	"strings"
	"testing"

	"wane/transform/forecast"
)

// A cleaning takes off no more than can have gathered since the last: what light comes
// beyond it, such as with new reflectors, is a step that is asked about.
func TestACleaningTakesOffWhatHasGathered(t *testing.T) {
	for _, c := range []struct {
		more float64 // ln of light
		asks bool
	}{{.015, false}, {.08, true}} {
		in := steady()
		group, day := in.Lamps[0].Group, 0
		for _, e := range in.Lamps[0].Cleanings {
			if e.Day+60 < in.AsOf-100 {
				day = e.Day + 60
			}
		}
		under := map[int]bool{}
		for i := range in.Lamps {
			l := &in.Lamps[i]
			if l.Group != group || l.StartDay > day-100 || l.Ended && l.EndDay < day+100 {
				continue
			}
			under[i] = true
			l.Cleanings = append(slices.Clone(l.Cleanings), forecast.Clean{Day: day, Part: forecast.CleanReflector})
			sort.SliceStable(l.Cleanings, func(a, b int) bool { return l.Cleanings[a].Day < l.Cleanings[b].Day })
			for k := range l.Bins {
				if l.Bins[k].Day >= day {
					l.Bins[k].LnOut += c.more
				}
			}
		}
		asked := 0
		for _, s := range run(t, in).Found().Steps {
			if math.Abs(float64((s.Before+s.After)/2-day)) <= 21 && s.Size > 0 {
				asked += len(s.Lamps)
			}
		}
		if asks := 2*asked > len(under); len(under) < 3 || asks != c.asks {
			t.Errorf("%.0f %% more light at a cleaning: asked of %d of %d lamps", 100*c.more, asked, len(under))
		}
	}
}

// Dust that comes within weeks and goes with the next cleaning is not the room's dirt: the
// due hours stay about where they were, and the answer says which days stand for nothing.
// Where something else happened in these weeks too it may go unseen.
func TestDustOfWeeksIsNotTheRoomsDirt(t *testing.T) {
	was, _ := dues(t, steady())
	seen := 0
	for _, c := range steady().Lamps[0].Cleanings {
		in := steady()
		under := map[int]bool{}
		for i := range in.Lamps {
			l := &in.Lamps[i]
			if l.Group != in.Lamps[0].Group || l.StartDay > c.Day-100 || l.Ended && l.EndDay < c.Day+100 || c.Day+50 > in.AsOf {
				continue
			}
			under[i] = true
			for k := range l.Bins {
				if b := &l.Bins[k]; b.Day < c.Day {
					b.LnOut -= .05 * math.Max(0, 1-float64(c.Day-b.Day)/35)
				}
			}
		}
		is, fit := dues(t, in)
		if len(under) < 3 || len(fit.Found().Dusty) == 0 {
			continue
		}
		seen++
		if d := apart(was, is, func(i int) bool { return under[i] }); !(d < .06) {
			t.Errorf("before %d: the due hours of %d lamps changed by %.1f %%", c.Day, len(under), 100*d)
		}
		for _, p := range fit.Posteriors() {
			a := p.Answer(fit.Defaults(), forecast.Asking{})
			if under[p.Lamp] != strings.Contains(a.Reason, "stand for nothing") {
				t.Errorf("lamp %d: %s", p.Lamp, a.Reason)
			}
		}
	}
	if seen < 2 {
		t.Errorf("seen before %d cleanings", seen)
	}
}
