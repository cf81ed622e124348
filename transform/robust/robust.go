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
		lo = max(lo, x)
	}
	return (lo + hi) / 2
}

// Nth is the value that would stand at index k, were the values sorted; those
// below k are at most it, those above at least (selection by parting, Hoare
// 1961). It changes their order. The values must not be NaN.
func Nth(v []float64, k int) float64 {
	for len(v) > 1 {
		pivot := middleOf(v[0], v[len(v)/2], v[len(v)-1])
		n := part(v, func(x float64) bool { return x < pivot })
		if k < n {
			v = v[:n]
			continue
		}
		v, k = v[n:], k-n
		n = part(v, func(x float64) bool { return x == pivot })
		if k < n {
			return pivot
		}
		v, k = v[n:], k-n
	}
	return v[k]
}

// part puts the values that are first before the others and says how many they
// are. It has no branch that depends on a value: of readings nobody can guess
// which way it goes, and a wrong guess costs more than all the rest.
func part(v []float64, first func(float64) bool) int {
	n := 0
	for i, x := range v {
		v[i], v[n] = v[n], x
		one := 0
		if first(x) {
			one = 1
		}
		n += one
	}
	return n
}

func middleOf(a, b, c float64) float64 { return max(min(a, b), min(max(a, b), c)) }

// SD is the standard deviation of normal values with the same median absolute
// deviation about the given middle; NaN of none.
func SD(v []float64, about float64) float64 {
	d := make([]float64, len(v))
	for i, x := range v {
		d[i] = math.Abs(x - about)
	}
	return Normal * Middle(d)
}
