package level

import "math"

// Calibration is one recalibration of a sensor on a day: from then on it reads
// true; before, its gain had drifted to AsFound (true = reading / as-found;
// 0 = not noted).
type Calibration struct {
	Day     int32
	AsFound float64
}

// Span is the days from one recalibration to the day before the next, over which
// ln(gain) is PerDay times the days since First.
type Span struct {
	First, Last int32
	PerDay      float64
	Measured    bool // it ends in an as-found gain
	Known       bool // the sensor has an as-found gain at all
}

// Drift spreads the as-found gains of a sensor, in day order, over the time
// before each. first is the sensor's first day, when it was new or true. A span
// that ends in a recalibration without an as-found value, and the one after the
// last, which ends at math.MaxInt32, drift at the sensor's mean rate.
func Drift(first int32, cals []Calibration) []Span {
	sum, days := 0.0, 0.0
	from := first
	for _, c := range cals {
		if c.AsFound > 0 && c.Day > from {
			sum += math.Log(c.AsFound)
			days += float64(c.Day - from)
		}
		from = c.Day
	}
	rate, known := 0.0, days > 0
	if known {
		rate = sum / days
	}
	var out []Span
	from = first
	for _, c := range cals {
		if c.Day > from {
			s := Span{First: from, Last: c.Day - 1, PerDay: rate, Known: known}
			if c.AsFound > 0 {
				s.PerDay, s.Measured = math.Log(c.AsFound)/float64(c.Day-from), true
			}
			out = append(out, s)
		}
		from = c.Day
	}
	return append(out, Span{First: from, Last: math.MaxInt32, PerDay: rate, Known: known})
}
