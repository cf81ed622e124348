package suspect

import (
	"fmt"
	"math"
	"strconv"

	"wane/transform/fleet"
)

// span is what a quantity can be in its unit, and what to look at where a
// series is not. Common practice, no source.
type span struct {
	lo, hi   float64
	under    string
	over     string
	repeated bool // a counter or a state: one value for long is nothing odd
}

var spans = map[fleet.Quantity]span{
	fleet.PPFD: {-5, 5000, "an offset of the sensor or its amplifier",
		"lux or foot-candles, a slipped decimal, or a code for no value that is not declared", false},
	fleet.SupplyV: {-1, 1000, "a sign or a code for no value", "millivolts, or a code for no value that is not declared",
		false},
	fleet.CurrentA: {-1, 5000, "the clamp is on the wrong way round",
		"milliamperes, or a code for no value that is not declared", false},
	fleet.PowerW: {-50, 2e6, "the clamp is on the wrong way round",
		"another unit, or a code for no value that is not declared", false},
	fleet.AmbientC: {-30, 70, "a broken sensor, or a code for no value that is not declared",
		"degrees Fahrenheit, or a code for no value that is not declared", false},
	fleet.RH:       {-2, 105, "a broken sensor", "another unit, or a code for no value that is not declared", false},
	fleet.DimPct:   {-1, 110, "a sign", "another scale: write the factor that makes it per cent", true},
	fleet.RunHours: {0, 500_000, "a counter cannot be negative", "another unit: minutes or seconds", true},
	fleet.Energy:   {0, 1e9, "a counter cannot be negative", "another unit: Wh", true},
}

// A single reading out of range is left out by itself; so many of them are a
// setting. Common practice, no source.
const (
	leastOutside = 3
	shareOutside = 0.01
)

func outOfRange(c *series) []Finding {
	r, ok := spans[c.Quantity]
	if !ok {
		return nil
	}
	t := c.Track
	n, first, last := 0, -1, -1
	lowest, highest := math.Inf(1), math.Inf(-1)
	for i, v := range t.Value {
		if v >= r.lo && v <= r.hi {
			continue
		}
		if n++; first < 0 {
			first = i
		}
		last = i
		lowest, highest = min(lowest, v), max(highest, v)
	}
	// The share is that of the stretch in which it happened.
	if n < leastOutside || float64(n) < shareOutside*float64(last-first+1) {
		return nil
	}
	why, extreme := r.over, highest
	if highest <= r.hi {
		why, extreme = r.under, lowest
	}
	return []Finding{{
		Sensor: c.sensor, Channel: c.Name, Kind: OutOfRange, From: moment(t.Time[first]), To: moment(t.Time[last]),
		Sure: Certain,
		What: fmt.Sprintf("%d of %d readings are not within %s to %s; the farthest is %s", n, last-first+1, short(r.lo),
			short(r.hi), short(extreme)),
		Do: "look for " + why,
	}}
}

func short(v float64) string { return strconv.FormatFloat(v, 'g', 5, 64) }
