package future

import (
	"fmt"

	"wane/transform/survival"
)

// Weibull gives the number of first failures among units that now work, have
// the ages and will run for the hours ahead, over the parameters that the fit
// leaves open. A unit that is replaced in that time and fails again is not counted
// again; a warning says so where it would matter. Without a fit the reason is
// in Warnings and there is no distribution.
func Weibull(fit survival.Weibull, ages, hours []float64) (Counts, error) {
	if len(ages) != len(hours) {
		return Counts{}, fmt.Errorf("%d ages but %d hours ahead: one of each a unit", len(ages), len(hours))
	}
	for i := range ages {
		if !(ages[i] >= 0) || !(hours[i] >= 0) || ages[i] > 1e12 || hours[i] > 1e12 {
			return Counts{}, fmt.Errorf("unit %d: age %v, hours ahead %v: must be numbers, 0 or more", i+1, ages[i], hours[i])
		}
	}
	const method = "count of failures from each unit's Weibull chance"
	if fit.Reason != "" {
		return Counts{N: len(ages), Method: method, Warnings: []string{fit.Reason}}, nil
	}
	scenarios := fit.Scenarios()
	weights := make([]float64, len(scenarios))
	for i, s := range scenarios {
		weights[i] = s.Weight
	}
	chances := make([]float64, len(ages))
	c, err := Mixture(weights, func(i int) []float64 {
		for k := range ages {
			chances[k] = survival.Chance(scenarios[i].LogEta, scenarios[i].LogBeta, ages[k], hours[k])
		}
		return chances
	})
	if err != nil {
		return Counts{}, err
	}
	c.Method = method + ", over the uncertainty of the fit"
	c.Warnings = append(c.Warnings, fit.Warnings...)
	// A replacement runs half the time ahead on average.
	again := 0.0
	for k := range ages {
		again += fit.Chance(ages[k], hours[k]) * fit.Chance(0, hours[k]/2)
	}
	if again > 0.05*c.Mean() && again > 0.5 {
		c.Warnings = append(c.Warnings, fmt.Sprintf("about %.0f more failures are to be expected of lamps that are replaced in the time ahead", again))
	}
	return c, nil
}
