// Package robust holds the few sums that one wild value does not move.
package robust

import (
	"math"
	"sort"
)

// Normal turns a median absolute deviation into the standard deviation of
// normal values: 1/Phi^-1(3/4) (Hampel 1974, J. Am. Stat. Assoc. 69:383-393).
const Normal = 1.482602218505602

// Median is the middle of the values, the mean of the middle two where their
// number is even; NaN of none. The values keep their order.
func Median(v []float64) float64 { return Sort(append([]float64(nil), v...)) }

// Sort sorts the values in place and gives their median: for inner loops.
func Sort(v []float64) float64 {
	n := len(v)
	if n == 0 {
		return math.NaN()
	}
	sort.Float64s(v)
	if n%2 == 1 {
		return v[n/2]
	}
	return (v[n/2-1] + v[n/2]) / 2
}

// SD is the standard deviation of normal values with the same median absolute
// deviation about the given middle; NaN of none.
func SD(v []float64, about float64) float64 {
	d := make([]float64, len(v))
	for i, x := range v {
		d[i] = math.Abs(x - about)
	}
	return Normal * Sort(d)
}
