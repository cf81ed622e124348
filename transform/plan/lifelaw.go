package plan

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"wane/transform/estimate"
	"wane/transform/survival"
)

// TypicalShape and the typical lives stand in where a site has seen too few
// failures: the shape of a moderate wear-out, and the run-hours by which half
// of a lamp type have failed. Common practice, no source.
const TypicalShape = 3.0

var typicalLives = map[string]float64{
	"hps-de": 20000, "hps-se": 24000, "cmh": 16000, "mh": 12000, "fluorescent": 24000, "led": 60000,
}

// leastFailures is from how many failures on a shape is fitted to them: the
// limits of a Weibull fitted to fewer do not hold what they say.
const leastFailures = 10

// LifeLaw gives the law of time to failure of one lamp type from the lives the
// site has watched, and says in words what it rests on.
//
// From leastFailures failures on it is the Weibull fitted to them (package
// survival). With fewer, the shape is TypicalShape and the scale is weighed
// between the typical life and the record: with lambda = eta^-beta each life
// adds exit^beta - entry^beta of exposure and each failure one count, and the
// typical life counts as one failure seen beforehand, so that
//
//	lambda ~ Gamma(1 + failures, eta0^beta + sum(exit^beta - entry^beta))
//
// the conjugate law of a scale whose shape is known. Its quantiles give the
// interval, which has content level.
func LifeLaw(lampType string, units []survival.Unit, level float64) (Weibull, string, error) {
	failures := 0
	for _, u := range units {
		if u.Failed {
			failures++
		}
	}
	if failures >= leastFailures {
		w, err := survival.FitWeibull(units, level)
		if err != nil {
			return Weibull{}, "", fmt.Errorf("life law of %s: %w", lampType, err)
		}
		if eta, beta := w.Eta(survival.Profile), w.Beta(survival.Profile); eta.Known() && eta.Bounded() && beta.Known() {
			return Weibull{Eta: eta, Beta: beta.Centre}, fmt.Sprintf("%s: failures follow a Weibull law fitted to %d failures of %d lamp lives here, shape %.1f (%.1f to %.1f), scale %.0f h (%.0f to %.0f; %.0f %% intervals)",
				lampType, failures, len(units), beta.Centre, beta.Lo, beta.Hi, eta.Centre, eta.Lo, eta.Hi, 100*level), nil
		}
	}
	half, ok := typicalLives[lampType]
	if !ok {
		half = 20000
	}
	eta0 := half / math.Pow(math.Ln2, 1/TypicalShape)
	// In units of eta0^beta, so that the exposures stay near 1.
	exposure := 1.0
	for _, u := range units {
		if !(u.Entry >= 0) || !(u.Exit >= u.Entry) || math.IsInf(u.Exit, 0) {
			return Weibull{}, "", fmt.Errorf("life law of %s: a life watched from %g to %g h is none", lampType, u.Entry, u.Exit)
		}
		exposure += math.Pow(u.Exit/eta0, TypicalShape) - math.Pow(u.Entry/eta0, TypicalShape)
	}
	g := distuv.Gamma{Alpha: 1 + float64(failures), Beta: exposure}
	eta := func(p float64) float64 { return eta0 * math.Pow(g.Quantile(p), -1/TypicalShape) }
	e := estimate.Estimate{Centre: eta(0.5), Lo: eta((1 + level) / 2), Hi: eta((1 - level) / 2), Level: level, N: failures,
		Method: "Weibull of assumed shape, typical life weighed with the record"}
	return Weibull{Eta: e, Beta: TypicalShape}, fmt.Sprintf("%s: %d failures of %d lamp lives here are too few to fit a law (%d are needed): a Weibull shape of %g and a typical life of %.0f h are assumed (common practice, no source), the life counting as one failure beside the record; scale %.0f h (%.0f to %.0f, %.0f %% interval)",
		lampType, failures, len(units), leastFailures, TypicalShape, half, e.Centre, e.Lo, e.Hi, 100*level), nil
}
