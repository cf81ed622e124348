package forecast_test

import (
	"math"
	"slices"
	"sort"
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
