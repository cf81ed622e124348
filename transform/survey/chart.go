package survey

import (
	"fmt"
	"math"
	"time"
	"wane/transform/estimate"
)

// d2 is the expected range of two standard normal values, as printed (1.128)
// in the NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2.
const d2 = 1.128

// Chart is Shewhart's individuals control chart of the reference fixture's
// average, NIST/SEMATECH e-Handbook 6.3.2.2: centre line the mean, limits three
// times the mean moving range over 1.128 to either side.
type Chart struct {
	Centre, Lower, Upper float64 // umol/m2/s
	MovingRange          float64 // mean moving range
	Baseline             int     // points the limits rest on
	Points               []ChartPoint
	Warnings             []string
}

// ChartPoint is one occasion on the chart.
type ChartPoint struct {
	At      time.Time
	Value   float64
	Outside bool // beyond a limit
}

// Individuals makes the chart of values in order of time; the limits rest on
// the first baseline points (0 = all). It needs two points that differ.
func Individuals(at []time.Time, values []float64, baseline int) (Chart, error) {
	if len(at) != len(values) {
		return Chart{}, fmt.Errorf("%d times for %d values; give one for each", len(at), len(values))
	}
	if baseline == 0 {
		baseline = len(values)
	}
	if baseline < 2 || baseline > len(values) {
		return Chart{}, fmt.Errorf("control limits need at least 2 of the %d points as a baseline; survey the reference fixture on more occasions", len(values))
	}
	c := Chart{Baseline: baseline}
	for i, v := range values {
		if !estimate.Finite(v) {
			return Chart{}, fmt.Errorf("point %d is %v; leave an occasion without a reading out", i+1, v)
		}
		if i >= baseline {
			continue
		}
		c.Centre += v / float64(baseline)
		if i > 0 {
			c.MovingRange += math.Abs(v-values[i-1]) / float64(baseline-1)
		}
	}
	h := 3 * c.MovingRange / d2
	c.Lower, c.Upper = c.Centre-h, c.Centre+h
	for i, v := range values {
		c.Points = append(c.Points, ChartPoint{at[i], v, v < c.Lower || v > c.Upper})
	}
	if baseline < 10 {
		c.Warnings = append(c.Warnings, fmt.Sprintf("the limits rest on %d points; they are rough below 10 (common practice, no source)", baseline))
	}
	if h == 0 {
		c.Warnings = append(c.Warnings, "all baseline points are equal: the limits have no width")
	}
	c.Warnings = append(c.Warnings, "a slow, steady drift hides in moving ranges: read the drift a year beside the chart")
	return c, nil
}

// ReferenceChart charts the reference fixture's average over the occasions on
// which it was surveyed.
func ReferenceChart(occasions []Occasion, baseline int) (Chart, error) {
	var at []time.Time
	var v []float64
	for _, o := range occasions {
		if len(o.References) == 0 {
			continue
		}
		p, err := pool(o.References)
		if err != nil {
			return Chart{}, err
		}
		at, v = append(at, o.From), append(v, plainMean(p))
	}
	return Individuals(at, v, baseline)
}
