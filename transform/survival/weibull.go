package survival

import (
	"fmt"
	"math"

	"wane/transform/estimate"
)

// Weibull is a two-parameter Weibull fitted by maximum likelihood: the share
// failed by age t is 1 - exp(-(t/eta)^beta). Where the data do not give a fit,
// Reason says why and what is needed, and every estimate of it has no centre.
type Weibull struct {
	LogEta, LogBeta float64 // where the likelihood is greatest
	LogLik          float64
	// Cov is the inverse of the observed information in (log eta, log beta).
	Cov      [2][2]float64
	Units    int
	Failures int
	Level    float64
	Reason   string
	Warnings []string

	data ages
}

// Interval is the way in which limits of a fitted Weibull are made.
type Interval int

const (
	// Profile limits hold all values that the likelihood-ratio test at this
	// level does not reject (Meeker and Escobar 1998, chapter 8). The default: with
	// few failures they hold what they say when Wald limits do not.
	Profile Interval = iota
	// Wald limits are normal on the logarithm, with the error from the observed
	// information.
	Wald
)

func (i Interval) String() string {
	if i == Wald {
		return "Wald limits on the logarithm"
	}
	return "likelihood-ratio limits"
}

// few is the number of failures under which the limits hold less than they
// say; from the simulation named in the package text.
const few = 10

// FitWeibull fits a Weibull to left-truncated and right-censored ages, with limits at
// the given level. The error is for bad rows only; too few data give a result
// with a Reason.
//
// For a given shape the best scale is known, eta^beta = sum(exit^beta -
// entry^beta) / failures, so the search is along log beta alone: a coarse scan
// (with truncation there may be two tops), then Newton steps inside a bracket.
func FitWeibull(units []Unit, level float64) (Weibull, error) {
	if err := check(units); err != nil {
		return Weibull{}, err
	}
	if err := checkLevel(level); err != nil {
		return Weibull{}, err
	}
	for i, u := range units {
		if u.Failed && u.Exit == 0 {
			return Weibull{}, fmt.Errorf("unit %d: failed at age 0, which a Weibull cannot hold; count units dead on arrival apart and leave them out", i+1)
		}
	}
	w := Weibull{Units: len(units), Level: level, data: newAges(units)}
	w.Failures = w.data.failures
	if w.Reason = w.data.tooFew(); w.Reason != "" {
		return w, nil
	}
	b, reason := w.data.bestShape()
	if reason != "" {
		w.Reason = reason
		return w, nil
	}
	w.LogBeta = b
	w.LogEta = w.data.bestLogEta(b)
	w.LogLik = w.data.logLik(w.LogEta, b)
	_, info := w.data.derivatives(w.LogEta, b)
	det := info[0][0]*info[1][1] - info[0][1]*info[1][0]
	if !(det > 0) || !(info[0][0] > 0) {
		w.Reason = "the likelihood has no clear top: scale and shape cannot be told apart; more failures over a wider range of ages are needed"
		return w, nil
	}
	w.Cov = [2][2]float64{{info[1][1] / det, -info[0][1] / det}, {-info[1][0] / det, info[0][0] / det}}
	if w.Failures < few {
		w.Warnings = append(w.Warnings, fmt.Sprintf("%d failures: with fewer than %d the limits are rough", w.Failures, few))
	}
	if w.Failures == w.Units && w.data.allNew {
		return w, nil
	}
	if float64(w.Failures) < 0.05*float64(w.Units) {
		w.Warnings = append(w.Warnings, fmt.Sprintf("%.1f %% have failed: later lives lie far outside what was seen",
			100*float64(w.Failures)/float64(w.Units)))
	}
	return w, nil
}

// Eta gives the scale (characteristic life: the age by which 63.2 % have
// failed), in the unit of the ages.
func (w Weibull) Eta(kind Interval) estimate.Estimate {
	return w.onLog("eta", kind, w.LogEta, w.Cov[0][0], func() (float64, float64) { return w.profileLife(1) })
}

// Beta gives the shape: above 1 failures come faster with age, below 1 slower.
func (w Weibull) Beta(kind Interval) estimate.Estimate {
	return w.onLog("beta", kind, w.LogBeta, w.Cov[1][1], w.profileShape)
}

// Life gives the B-life: the age by which the share p has failed, p = 0.1 for
// B10.
func (w Weibull) Life(p float64, kind Interval) estimate.Estimate {
	name := fmt.Sprintf("B%g", 100*p)
	if !(p > 0 && p < 1) {
		return estimate.None(w.method(name, kind), fmt.Sprintf("share %v: must lie between 0 and 1", p))
	}
	c := -math.Log1p(-p)
	beta := math.Exp(w.LogBeta)
	// d log t_p = d log eta - log(c)/beta d log beta
	g := -math.Log(c) / beta
	v := w.Cov[0][0] + 2*g*w.Cov[0][1] + g*g*w.Cov[1][1]
	e := w.onLog(name, kind, w.LogEta+math.Log(c)/beta, v, func() (float64, float64) { return w.profileLife(c) })
	if e.Known() && e.Centre > w.data.longest {
		e = e.Warn(fmt.Sprintf("past the greatest age seen, %.6g: it rests on the form of the Weibull", w.data.longest))
	}
	return e
}

// Mean gives the mean life eta·Gamma(1+1/beta), with Wald limits on the
// logarithm.
func (w Weibull) Mean() estimate.Estimate {
	k := math.Exp(-w.LogBeta)
	lg, _ := math.Lgamma(1 + k)
	slope := numericSlope(func(b float64) float64 { v, _ := math.Lgamma(1 + math.Exp(-b)); return v }, w.LogBeta)
	v := w.Cov[0][0] + 2*slope*w.Cov[0][1] + slope*slope*w.Cov[1][1]
	return w.onLog("mean", Wald, w.LogEta+lg, v, nil)
}

// SD gives the standard deviation of life, with Wald limits on the logarithm.
func (w Weibull) SD() estimate.Estimate {
	spread := func(b float64) float64 {
		k := math.Exp(-b)
		one, _ := math.Lgamma(1 + k)
		two, _ := math.Lgamma(1 + 2*k)
		return one + 0.5*math.Log(math.Expm1(two-2*one))
	}
	slope := numericSlope(spread, w.LogBeta)
	v := w.Cov[0][0] + 2*slope*w.Cov[0][1] + slope*slope*w.Cov[1][1]
	return w.onLog("sd", Wald, w.LogEta+spread(w.LogBeta), v, nil)
}

// FailedAt gives the share failed by age t, with Wald limits on log(-log(1-F)),
// the scale of the Weibull plot.
func (w Weibull) FailedAt(t float64) estimate.Estimate {
	method := "Weibull share failed, " + Wald.String()
	if w.Reason != "" {
		return w.none(method)
	}
	if !(t > 0) || math.IsInf(t, 0) {
		return estimate.None(method, fmt.Sprintf("age %v: must be a finite number above 0", t))
	}
	beta := math.Exp(w.LogBeta)
	y := beta * (math.Log(t) - w.LogEta)
	// dy = -beta d log eta + y d log beta
	se := math.Sqrt(beta*beta*w.Cov[0][0] - 2*beta*y*w.Cov[0][1] + y*y*w.Cov[1][1])
	z := quantileZ(w.Level)
	share := func(y float64) float64 { return -math.Expm1(-math.Exp(y)) }
	return estimate.Estimate{Centre: share(y), Lo: share(y - z*se), Hi: share(y + z*se), Level: w.Level,
		N: w.Units, Method: method, Warnings: w.Warnings}
}

// Chance gives the chance that a unit of the given age fails within the coming
// hours, with the fitted parameters taken as true.
func (w Weibull) Chance(age, hours float64) float64 {
	return Chance(w.LogEta, w.LogBeta, age, hours)
}

// Chance is the conditional failure probability of a Weibull: of a unit that works at age, to
// fail within the coming hours.
func Chance(logEta, logBeta, age, hours float64) float64 {
	if !(hours > 0) {
		return 0
	}
	beta := math.Exp(logBeta)
	hazard := func(t float64) float64 {
		if t <= 0 {
			return 0
		}
		return math.Exp(beta * (math.Log(t) - logEta))
	}
	return -math.Expm1(hazard(age) - hazard(age+hours))
}

func (w Weibull) method(name string, kind Interval) string {
	return fmt.Sprintf("Weibull %s by maximum likelihood, %s", name, kind)
}

func (w Weibull) none(method string) estimate.Estimate {
	e := estimate.None(method, w.Reason)
	e.N = w.Units
	return e
}

// onLog builds the estimate of exp(centre), whose logarithm has variance v.
func (w Weibull) onLog(name string, kind Interval, centre, v float64,
	profile func() (float64, float64)) estimate.Estimate {
	method := w.method(name, kind)
	if w.Reason != "" {
		return w.none(method)
	}
	e := estimate.Estimate{Centre: math.Exp(centre), Level: w.Level, N: w.Units, Method: method,
		Warnings: append([]string(nil), w.Warnings...)}
	lo, hi := centre-quantileZ(w.Level)*math.Sqrt(v), centre+quantileZ(w.Level)*math.Sqrt(v)
	if kind == Profile && profile != nil {
		lo, hi = profile()
	}
	e.Lo, e.Hi = math.Exp(lo), math.Exp(hi)
	if math.IsInf(e.Hi, 1) {
		e = e.Warn("no upper limit: the data do not rule out any greater value")
	}
	if e.Lo == 0 {
		e = e.Warn("no lower limit: the data do not rule out any smaller value")
	}
	return e
}

func numericSlope(f func(float64) float64, x float64) float64 {
	const h = 1e-5
	return (f(x+h) - f(x-h)) / (2 * h)
}
