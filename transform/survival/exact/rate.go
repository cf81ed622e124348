package exact

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"wane/transform/estimate"
)

// Rate gives the failure rate per hour (or whatever unit the exposure has) of a
// number of failures in a total exposure that ended at a set time, with
// chi-square limits (NIST/SEMATECH e-Handbook 8.4.5.1): chi2(a/2; 2r)/2T and
// chi2(1-a/2; 2r+2)/2T. No failures: the upper bound alone, one-sided,
// -ln(1-level)/T. It holds for a rate that does not change with age; for
// wear-out use a survival curve.
func Rate(failures int, exposure, level float64) (estimate.Estimate, error) {
	if err := checkLevel(level); err != nil {
		return estimate.Estimate{}, err
	}
	const method = "failure rate, chi-square limits"
	switch {
	case failures < 0:
		return estimate.Estimate{}, fmt.Errorf("%d failures: a count cannot be negative", failures)
	case math.IsNaN(exposure) || math.IsInf(exposure, 0) || exposure < 0:
		return estimate.Estimate{}, fmt.Errorf("exposure %v: must be a finite number of unit-hours, 0 or more", exposure)
	case exposure == 0 && failures > 0:
		return estimate.Estimate{}, fmt.Errorf("%d failures in no unit-hours: the hours are missing", failures)
	case exposure == 0:
		return estimate.None(method, "no unit-hours under watch"), nil
	}
	e := estimate.Estimate{Centre: float64(failures) / exposure, Level: level, N: failures, Method: method}
	lo, hi := PoissonLimits(failures, level)
	e.Lo, e.Hi = lo/exposure, hi/exposure
	if failures == 0 {
		e = e.Warn("no failures: the upper bound is one-sided")
	}
	return e, nil
}

// PoissonLimits gives the limits of the expected count behind a count seen; of
// nought the upper one is one-sided.
func PoissonLimits(count int, level float64) (lo, hi float64) {
	if count == 0 {
		return 0, -math.Log1p(-level)
	}
	a, r := (1-level)/2, float64(count)
	return distuv.ChiSquared{K: 2 * r}.Quantile(a) / 2, distuv.ChiSquared{K: 2*r + 2}.Quantile(1-a) / 2
}
