package suspect

import (
	"math"
	"slices"

	"wane/transform/daily"
	"wane/transform/fleet"
	"wane/transform/robust"
)

// burns says whether the series shows a lamp's switching.
func (c *Channel) burns() bool {
	switch c.Quantity {
	case fleet.PPFD, fleet.PowerW, fleet.CurrentA:
		return true
	}
	return false
}

// series is a channel with what several looks at it need.
type series struct {
	*Channel
	sensor string
	step   int64   // cadence, microseconds
	limit  float64 // value above which it is lit; +Inf where it never is
	levels []Level // usual burning value of each day that has one
}

func (s *series) prepare(sensor *Sensor, c *Channel, days []daily.Bound, set Settings) {
	s.Channel, s.sensor, s.step = c, sensor.Name, cadence(c.Track)
	scratch := make([]float64, 0, c.Track.Len())
	if c.burns() {
		s.limit = c.litAbove(append(scratch, c.Track.Value...), set)
	}
	if ratioed(c.Quantity) {
		s.levels = c.levels(days, scratch, set)
	}
}

// litShare is the share of its usual burning value above which a series is lit.
const litShare = 0.2

// litAbove gives the value above which a series with these readings is lit; +Inf
// where it never is. It changes their order.
func (c *Channel) litAbove(v []float64, set Settings) float64 {
	if len(v) == 0 {
		return math.Inf(1)
	}
	usual := robust.Nth(v, (len(v)-1)*9/10)
	floor := 0.0
	if c.Quantity == fleet.PPFD {
		floor = set.LampFloor
	}
	if usual <= 2*floor {
		return math.Inf(1)
	}
	return max(floor, litShare*usual)
}

// levels gives the usual burning value of each day that has one.
func (c *Channel) levels(days []daily.Bound, scratch []float64, set Settings) []Level {
	const least = 6 // readings
	var out []Level
	i := 0
	for _, b := range days {
		v := scratch[:0]
		for ; i < c.Track.Len() && c.Track.Time[i] < b.To; i++ {
			if c.Track.Time[i] >= b.From {
				v = append(v, c.Track.Value[i])
			}
		}
		if len(v) >= least && c.burns() {
			limit := c.litAbove(v, set)
			v = slices.DeleteFunc(v, func(x float64) bool { return !(x > limit) })
		}
		if len(v) >= least {
			out = append(out, Level{b.Day, robust.Middle(v)})
		}
	}
	return out
}

// switched is when a lamp was switched on and off on one day, in minutes after
// midnight by the wall's clock; NaN where it was not, or not once.
type switched struct{ on, off float64 }

// edges reads the switching of each day from a series. Days of 23 or 25 hours
// tell nothing: minutes after midnight are not the clock's there.
func edges(c *series, days []daily.Bound) []switched {
	out := make([]switched, len(days))
	t, limit, step := c.Track, c.limit, c.step
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

// cadence is the median time between readings, microseconds; the first thousand
// tell it.
func cadence(t daily.Track) int64 {
	n := min(t.Len(), 1001)
	if n < 2 {
		return 0
	}
	steps := make([]int64, n-1)
	for i := range steps {
		steps[i] = t.Time[i+1] - t.Time[i]
	}
	slices.Sort(steps)
	return steps[len(steps)/2]
}

// round gives the distance from b to a on a clock, -720 to 720 minutes.
func round(a, b float64) float64 { return math.Mod(math.Mod(a-b+720, 1440)+1440, 1440) - 720 }
