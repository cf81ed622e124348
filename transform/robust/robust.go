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

// Middle is the median by selection, for inner loops: it takes time in
// proportion to the number of values, whose order it changes.
func Middle(v []float64) float64 {
	n := len(v)
	if n == 0 {
		return math.NaN()
	}
	hi := Nth(v, n/2)
	if n%2 == 1 {
		return hi
	}
	lo := v[0] // of the lower half, which Nth left below n/2, the largest
	for _, x := range v[1 : n/2] {
		lo = math.Max(lo, x)
	}
	return (lo + hi) / 2
}

// Nth is the value that would stand at index k, were the values sorted; those
// below k are at most it, those above at least (Hoare's selection, 1961). It
// changes their order. The values must not be NaN.
func Nth(v []float64, k int) float64 {
	lo, hi := 0, len(v)-1
	for lo < hi {
		pivot := v[(lo+hi)/2]
		i, j := lo, hi
		for i <= j {
			for v[i] < pivot {
				i++
			}
			for v[j] > pivot {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return v[k]
		}
	}
	return v[k]
}

// SD is the standard deviation of normal values with the same median absolute
// deviation about the given middle; NaN of none.
func SD(v []float64, about float64) float64 {
	d := make([]float64, len(v))
	for i, x := range v {
		d[i] = math.Abs(x - about)
	}
	return Normal * Middle(d)
}
