package suspect

import (
	"math"

	"wane/transform/robust"
)

// LightDay is a day of one lamp's light: ln of its median reading, and the relative
// spread of the readings that the median is of.
type LightDay struct {
	Day        int32
	Ln, Spread float64
}

// Limits of Sunlight (common practice, no source; tried on invented sites).
const (
	sunPairs   = 40   // least pairs of days
	sunGoes    = 0.5  // least correlation of one lamp's spreads with its medians
	sunShared  = 0.3  // and of all lamps' of a room
	sunLifts   = .003 // least that the sun moves the median from day to day, ln
	sunMost    = .6   // a change from day to day above which something else happened
	sunSpreads = .008 // least by which the days' spreads differ
)

// Sunlight is how far the light of lamps follows the sun, where nobody said that it
// does. A lamp's readings of one day lie close together, whatever its level. The sun
// comes on top of some of them and not of others, more on a clear day than on a
// dull one: then the day's median and the spread of its readings rise and fall
// together from one day to the next, and nothing else known does that. Neither the
// place nor the clock need be right.
type Sunlight struct {
	pairs, lamps int
	yy, ss, ys   float64 // sums of squares and products of the days' differences
	apart        float64 // by how much the spreads differ, summed over lamps
}

// SunlightOf is that of one lamp by its days, which are in order.
func SunlightOf(days []LightDay) Sunlight {
	var out Sunlight
	var spreads []float64
	for k := 1; k < len(days); k++ {
		a, b := days[k-1], days[k]
		y, s := b.Ln-a.Ln, b.Spread-a.Spread
		if b.Day-a.Day > 2 || !(math.Abs(y) < sunMost && math.Abs(s) < sunMost) {
			continue
		}
		out.pairs++
		out.yy, out.ss, out.ys = out.yy+y*y, out.ss+s*s, out.ys+y*s
		spreads = append(spreads, b.Spread)
	}
	if n := len(spreads); n > 0 {
		out.lamps, out.apart = 1, robust.Nth(spreads, n*9/10)-robust.Nth(spreads, n/10)
	}
	return out
}

// With is that of the lamps of both.
func (a Sunlight) With(b Sunlight) Sunlight {
	return Sunlight{a.pairs + b.pairs, a.lamps + b.lamps, a.yy + b.yy, a.ss + b.ss, a.ys + b.ys, a.apart + b.apart}
}

// There says whether the sun is in the readings.
func (a Sunlight) There() bool {
	if a.pairs < sunPairs || a.yy == 0 || a.ss == 0 {
		return false
	}
	least := sunGoes
	if a.lamps > 2 {
		least = sunShared
	}
	goes := a.ys / math.Sqrt(a.yy*a.ss)
	return goes >= least && goes*math.Sqrt(a.yy/float64(a.pairs)) >= sunLifts && a.apart >= sunSpreads*float64(a.lamps)
}
