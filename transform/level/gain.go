package level

import "math"

// Calibration is one recalibration of a sensor on a day: from then on it reads
// true; before, its gain had drifted to AsFound (true = reading / as-found;
// 0 = not noted).
type Calibration struct {
	Day     int32
	AsFound float64
}

// Gain is a sensor's gain over time.
type Gain struct {
	first int32 // day from which the sensor drifts: its first, when it was new or true
	cals  []Calibration
	rate  float64 // ln per day after the last recalibration
	known bool
}

// NewGain spreads the as-found gains of a sensor, in day order, over the time
// before each. first is the sensor's first day.
func NewGain(first int32, cals []Calibration) Gain {
	g := Gain{first: first, cals: cals}
	sum, days := 0.0, 0.0
	from := first
	for _, c := range cals {
		if c.AsFound > 0 && c.Day > from {
			sum += math.Log(c.AsFound)
			days += float64(c.Day - from)
		}
		from = c.Day
	}
	if days > 0 {
		g.rate, g.known = sum/days, true
	}
	return g
}

// At gives ln of the gain on a day and which part of it is not measured. An
// interval that ends in a recalibration without an as-found value drifts at
// the sensor's mean rate.
func (g Gain) At(day int32) (float64, Flags) {
	var flag Flags
	if !g.known {
		flag = GainUnknown
	}
	from := g.first
	for _, c := range g.cals {
		if day < c.Day {
			if c.AsFound > 0 && c.Day > from {
				return math.Log(c.AsFound) * float64(max(0, day-from)) / float64(c.Day-from), flag
			}
			return g.rate * float64(max(0, day-from)), flag | GainAhead
		}
		from = c.Day
	}
	return g.rate * float64(max(0, day-from)), flag | GainAhead
}
