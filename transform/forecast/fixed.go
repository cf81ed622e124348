package forecast

import (
	"math"
	"math/bits"
)

// Fixed is a sum of doubles in 128 bits, 64 of them behind the point. Adding is
// associative and commutative to the last bit, so that what sites say may be added up
// in any order, on any number of machines.
type Fixed struct {
	Hi int64
	Lo uint64
}

// fixedMost is what a number must stay under; thousands of them then add up without
// running over.
const fixedMost = 1 << 50

// fixedOf truncates a double, always in the same way; ok is false where it does not fit.
func fixedOf(v float64) (f Fixed, ok bool) {
	w := math.Abs(v)
	if !(w < fixedMost) {
		return f, false
	}
	whole := math.Floor(w)
	f = Fixed{int64(whole), uint64((w - whole) * (1 << 63) * 2)}
	if v < 0 {
		lo, borrow := bits.Sub64(0, f.Lo, 0)
		f = Fixed{-f.Hi - int64(borrow), lo}
	}
	return f, true
}

func (f Fixed) plus(g Fixed) Fixed {
	lo, carry := bits.Add64(f.Lo, g.Lo, 0)
	return Fixed{f.Hi + g.Hi + int64(carry), lo}
}

func (f Fixed) float() float64 { return float64(f.Hi) + float64(f.Lo)/(1<<63)/2 }

// Sum is what sites say of their group, cell by cell. An empty one is nothing.
type Sum []Fixed

// Add adds another of the same length, or nothing.
func (s Sum) Add(o Sum) Sum {
	if len(s) == 0 {
		return append(Sum(nil), o...)
	}
	for i, x := range o {
		s[i] = s[i].plus(x)
	}
	return s
}
