package supply

import (
	"fmt"
	"math"
	"slices"
	"wane/transform/estimate"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
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

// Unbalance is the unbalance of a three-phase service over hours, per cent.
type Unbalance struct {
	Hours       int
	Median, P95 estimate.Estimate // of MaxDeviation
	Negative    estimate.Estimate // median of NegativeSequence
	Why         string            // why nothing is known; "" where it is
}

// NeedsPhases says what telling an unbalance would take.
const NeedsPhases = "unbalance cannot be told: it takes the three line-to-line voltages of one service at the same times; " +
	"log them and name their circuits in site.yaml under supply: phases"

// UnbalanceOf takes the hourly means of the three line voltages, V. Hours in
// which a phase was dead are left out: that is an interruption.
func UnbalanceOf(hours [][3]float64) Unbalance {
	var dev, neg []float64
	for _, h := range hours {
		d, err := MaxDeviation(h[0], h[1], h[2])
		if err != nil {
			continue
		}
		dev = append(dev, d)
		if n, err := NegativeSequence(h[0], h[1], h[2]); err == nil {
			neg = append(neg, n)
		}
	}
	u := Unbalance{Hours: len(dev)}
	if u.Hours == 0 {
		u.Why = "no hour in which all three were read above 0 V"
		return u
	}
	u.Median, u.P95 = hourly(dev, .5, "NEMA MG 1: largest deviation from the mean over the mean"),
		hourly(dev, .95, "NEMA MG 1")
	u.Negative = hourly(neg, .5, "IEC: negative over positive sequence")
	return u
}

// hourly gives a quantile with the 95 % interval between order statistics.
func hourly(v []float64, q float64, method string) estimate.Estimate {
	if len(v) == 0 {
		return estimate.None(method, "the three voltages close no triangle at any hour: they are not line to line")
	}
	s := slices.Clone(v)
	slices.Sort(s)
	n := float64(len(s))
	k := n * q
	at := func(p float64) float64 { return stat.Quantile(p, stat.Empirical, s, nil) }
	lo := distuv.Beta{Alpha: k, Beta: n - k + 1}.Quantile((1 - usualLevel) / 2)
	hi := distuv.Beta{Alpha: k + 1, Beta: n - k}.Quantile((1 + usualLevel) / 2)
	return estimate.Estimate{Centre: at(q), Lo: at(lo), Hi: at(hi), Level: usualLevel, N: len(s),
		Method: method + fmt.Sprintf(", %.0f %% point of hourly means", 100*q)}
}
