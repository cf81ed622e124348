package survival

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"wane/transform/estimate"
)

// FitScale gives limits on the age by which the share p has failed, for a
// Weibull whose shape is assumed and not fitted: for records with no or one
// failure. With the shape true, eta^beta·failures/sum(exit^beta - entry^beta)
// is to a Poisson count as an exponential mean is, so the chi-square bounds of
// a mean life serve (Abernethy, The New Weibull Handbook, "Weibayes"; from
// memory). Without failures there is no centre, only a one-sided lower limit at
// the level.
func FitScale(units []Unit, shape, p, level float64) (estimate.Estimate, error) {
	if err := check(units); err != nil {
		return estimate.Estimate{}, err
	}
	if err := checkLevel(level); err != nil {
		return estimate.Estimate{}, err
	}
	if !(shape > 0) || math.IsInf(shape, 0) || !(p > 0 && p < 1) {
		return estimate.Estimate{}, fmt.Errorf("shape %v, share %v: the shape must be above 0, the share between 0 and 1",
			shape, p)
	}
	method := fmt.Sprintf("Weibull B%g with shape %g assumed, chi-square limits", 100*p, shape)
	a := newAges(units)
	if len(a.exit) == 0 {
		return estimate.None(method, "no units under watch"), nil
	}
	sum, _, _ := a.sums(shape, 0)
	r := float64(a.failures)
	age := func(failures float64) float64 {
		return math.Exp(a.logLongest + math.Log(sum/failures*-math.Log1p(-p))/shape)
	}
	e := estimate.Estimate{Level: level, N: len(units), Method: method,
		Warnings: []string{fmt.Sprintf("the shape %g is assumed, not found in these data", shape)}}
	if a.failures == 0 {
		e.Centre, e.Lo, e.Hi = math.NaN(), age(-math.Log1p(-level)), math.Inf(1)
		return e.Warn("no failures: only a lower limit, one-sided, can be claimed"), nil
	}
	risk := (1 - level) / 2
	e.Centre = age(r)
	e.Lo = age(distuv.ChiSquared{K: 2*r + 2}.Quantile(1-risk) / 2)
	e.Hi = age(distuv.ChiSquared{K: 2 * r}.Quantile(risk) / 2)
	return e, nil
}
