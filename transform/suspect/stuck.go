package suspect

import (
	"fmt"
	"math"
	"time"
)

// A run of one value is stuck where it is this many times as long as the
// longest other run of the series, and has so many readings (common practice, no
// source): a thermometer that prints whole degrees stands still often.
const (
	stuckTimes    = 3
	stuckReadings = 12
)

// stuck finds the longest stretch in which a series prints one value. A dark
// lamp's zero is not one.
func stuck(c *series, set Settings) []Finding {
	r, ok := spans[c.Quantity]
	if !ok || r.repeated {
		return nil
	}
	type run struct{ lo, hi int }
	var longest, second run
	floor := floorOf(c.Channel, set)
	t := c.Track
	length := func(r run) int64 { return t.Time[r.hi] - t.Time[r.lo] }
	for lo := 0; lo < t.Len(); {
		hi := lo
		for hi+1 < t.Len() && t.Value[hi+1] == t.Value[lo] {
			hi++
		}
		if v := t.Value[lo]; math.Abs(v) > floor && v >= r.lo && v <= r.hi {
			switch k := (run{lo, hi}); {
			case length(k) > length(longest):
				longest, second = k, longest
			case length(k) > length(second):
				second = k
			}
		}
		lo = hi + 1
	}
	if t.Len() == 0 {
		return nil
	}
	d := time.Duration(length(longest)) * time.Microsecond
	if d.Hours() < set.StuckHours || longest.hi-longest.lo+1 < stuckReadings ||
		length(longest) < stuckTimes*length(second) {
		return nil
	}
	sure := Likely
	if d >= 24*time.Hour {
		sure = Certain
	}
	return []Finding{{
		Sensor: c.sensor, Channel: c.Name, Kind: Stuck, From: moment(t.Time[longest.lo]), To: moment(t.Time[longest.hi]),
		Sure: sure,
		What: fmt.Sprintf("%d readings in a row of %s, %.0f h; otherwise it stood still for %.1f h at most",
			longest.hi-longest.lo+1, short(t.Value[longest.lo]), d.Hours(), float64(length(second))/3600e6),
		Do: "look at the sensor's cable and the logger's channel; the readings are left out of the levels where the lamp burned",
	}}
}

// floorOf is the value up to which a series may well stand still.
func floorOf(c *Channel, set Settings) float64 {
	if c.burns() {
		return set.LampFloor
	}
	return 0
}
