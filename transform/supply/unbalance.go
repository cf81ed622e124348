package supply

import (
	"fmt"
	"math"
)

// MaxDeviation gives voltage unbalance in per cent as NEMA MG 1 defines it: 100
// times the largest deviation of the three line voltages from their mean, over
// the mean.
func MaxDeviation(ab, bc, ca float64) (float64, error) {
	if err := phases(ab, bc, ca); err != nil {
		return 0, err
	}
	m := (ab + bc + ca) / 3
	d := math.Max(math.Abs(ab-m), math.Max(math.Abs(bc-m), math.Abs(ca-m)))
	return 100 * d / m, nil
}

// NegativeSequence gives voltage unbalance in per cent as IEC defines it: the
// negative-sequence over the positive-sequence voltage, worked out from the three
// line-to-line voltages (from memory: IEC 61000-4-30, with
// b = sum of fourth powers over the square of the sum of squares,
// sqrt((1 - sqrt(3-6b)) / (1 + sqrt(3-6b)))). Line-to-line voltages close a
// triangle; three that cannot are an error.
func NegativeSequence(ab, bc, ca float64) (float64, error) {
	if err := phases(ab, bc, ca); err != nil {
		return 0, err
	}
	if ab > bc+ca || bc > ab+ca || ca > ab+bc {
		return 0, fmt.Errorf("%v, %v and %v V close no triangle: they are not line-to-line voltages of one moment; check which readings were taken together", ab, bc, ca)
	}
	// Scaled by the largest, so that no power overflows or underflows.
	k := math.Max(ab, math.Max(bc, ca))
	a, b, c := ab/k*(ab/k), bc/k*(bc/k), ca/k*(ca/k)
	s := a + b + c
	beta := (a*a + b*b + c*c) / (s * s)
	q := math.Sqrt(math.Max(0, 3-6*beta))
	return 100 * math.Sqrt(math.Max(0, (1-q)/(1+q))), nil
}

func phases(vs ...float64) error {
	for _, v := range vs {
		if !(v > 0) || math.IsInf(v, 0) {
			return fmt.Errorf("%v V is no line voltage; unbalance needs three readings above 0 of one moment", v)
		}
	}
	return nil
}
