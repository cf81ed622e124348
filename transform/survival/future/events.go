package future

import (
	"fmt"
	"math"
)

// Events gives the number of failures in the exposure ahead from a number seen
// in a past exposure, for a rate that does not change: a Poisson count whose
// rate has the gamma law of shape failures + 1/2 (Jeffreys' prior), so a
// negative binomial one. It holds without failures too.
func Events(failures int, exposure, ahead float64) (Counts, error) {
	switch {
	case failures < 0:
		return Counts{}, fmt.Errorf("%d failures: a count cannot be negative", failures)
	case !(exposure > 0) || math.IsInf(exposure, 0):
		return Counts{}, fmt.Errorf("exposure %v: a past of some unit-hours is needed", exposure)
	case !(ahead >= 0) || math.IsInf(ahead, 0):
		return Counts{}, fmt.Errorf("exposure ahead %v: must be a finite number, 0 or more", ahead)
	case ahead*(float64(failures)+1)/exposure > 1e6:
		return Counts{}, fmt.Errorf("exposure ahead %v is too far from the past one, %v: over a million failures are expected", ahead, exposure)
	}
	c := Counts{N: failures, Method: "count at the rate seen, over the uncertainty of the rate"}
	shape, q := float64(failures)+0.5, ahead/(exposure+ahead)
	mean := shape * ahead / exposure
	sd := math.Sqrt(mean * (1 + ahead/exposure))
	top := int(mean+12*sd*(1+1/math.Sqrt(shape))) + 40
	g, _ := math.Lgamma(shape)
	for k := 0; k <= top; k++ {
		a, _ := math.Lgamma(shape + float64(k))
		b, _ := math.Lgamma(float64(k) + 1)
		logP := a - g - b + shape*math.Log1p(-q)
		if k > 0 {
			logP += float64(k) * math.Log(q)
		}
		c.P = append(c.P, math.Exp(logP))
	}
	c.P = tidy(c.P)
	if failures == 0 {
		c.Warnings = append(c.Warnings, "no failures so far: the expected number rests on half a failure, as Jeffreys' prior has it")
	}
	return c, nil
}
