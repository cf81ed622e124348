package suspect

import (
	"math"
	"slices"

	"wane/transform/daily"
	"wane/transform/fleet"
)

// burns says whether the series shows a lamp's switching.
func (c *Channel) burns() bool {
	switch c.Quantity {
	case fleet.PPFD, fleet.PowerW, fleet.CurrentA:
		return true
	}
	return false
}

// litShare is the share of its usual burning value above which a series is lit.
const litShare = 0.2

// lit gives the value above which a series is lit; +Inf where it never is.
func (c *Channel) lit(set Settings) float64 {
	if c.Track.Len() == 0 {
		return math.Inf(1)
	}
	v := slices.Clone(c.Track.Value)
	slices.Sort(v)
	usual := v[(len(v)-1)*9/10]
	floor := 0.0
	if c.Quantity == fleet.PPFD {
		floor = set.LampFloor
	}
	if usual <= 2*floor {
		return math.Inf(1)
	}
	return max(floor, litShare*usual)
}

// switched is when a lamp was switched on and off on one day, in minutes after
// midnight by the wall's clock; NaN where it was not, or not once.
type switched struct{ on, off float64 }

// edges reads the switching of each day from a series. Days of 23 or 25 hours
// tell nothing: minutes after midnight are not the clock's there.
func edges(c *Channel, days []daily.Bound, set Settings) []switched {
	out := make([]switched, len(days))
	t, limit := c.Track, c.lit(set)
	step := cadence(t)
	i := 1
	for d, b := range days {
		var on, off []float64
		for ; i < t.Len() && t.Time[i] < b.To; i++ {
			if t.Time[i] < b.From || t.Time[i]-t.Time[i-1] > 2*step {
				continue // the moment was not seen
			}
			was, is := t.Value[i-1] > limit, t.Value[i] > limit
			at := float64((t.Time[i]+t.Time[i-1])/2-b.From) / 60e6
			switch {
			case is && !was:
				on = append(on, at)
			case was && !is:
				off = append(off, at)
			}
		}
		out[d] = switched{math.NaN(), math.NaN()}
		if b.To-b.From != 24*3600e6 {
			continue
		}
		if len(on) == 1 {
			out[d].on = on[0]
		}
		if len(off) == 1 {
			out[d].off = off[0]
		}
	}
	return out
}

// cadence is the median time between readings, microseconds.
func cadence(t daily.Track) int64 {
	if t.Len() < 2 {
		return 0
	}
	steps := make([]int64, t.Len()-1)
	for i := range steps {
		steps[i] = t.Time[i+1] - t.Time[i]
	}
	slices.Sort(steps)
	return steps[len(steps)/2]
}

// round gives the distance from b to a on a clock, -720 to 720 minutes.
func round(a, b float64) float64 { return math.Mod(math.Mod(a-b+720, 1440)+1440, 1440) - 720 }

func median(v []float64) float64 {
	v = slices.Clone(v)
	slices.Sort(v)
	n := len(v)
	if n == 0 {
		return math.NaN()
	}
	return (v[n/2] + v[(n-1)/2]) / 2
}
