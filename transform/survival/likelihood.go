package survival

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// ages holds units in the form the Weibull likelihood needs: logarithms of ages
// relative to the greatest, so that powers stay at or under 1.
type ages struct {
	exit, entry []float64 // log(age/longest); entry has -Inf for a new unit
	late        []bool    // whether entry counts
	failed      []float64 // log(age/longest) of the failures
	sumFailed   float64   // sum of failed
	failures    int
	longest     float64
	logLongest  float64
	allNew      bool
	distinct    bool // the failures are not all at one age
}

func newAges(units []Unit) ages {
	a := ages{allNew: true}
	for _, u := range units {
		a.longest = math.Max(a.longest, u.Exit)
	}
	a.logLongest = math.Log(a.longest)
	first := math.NaN()
	for _, u := range units {
		if u.Exit == u.Entry { // no time under watch, nothing told
			continue
		}
		x, e := math.Log(u.Exit)-a.logLongest, math.Inf(-1)
		if u.Entry > 0 {
			e = math.Log(u.Entry) - a.logLongest
			a.allNew = false
		}
		a.exit, a.entry, a.late = append(a.exit, x), append(a.entry, e), append(a.late, u.Entry > 0)
		if u.Failed {
			a.failures++
			a.failed = append(a.failed, x)
			a.sumFailed += x
			if math.IsNaN(first) {
				first = x
			}
			a.distinct = a.distinct || x != first
		}
	}
	return a
}

// tooFew says why no Weibull can be fitted, or nothing.
func (a ages) tooFew() string {
	switch {
	case len(a.exit) == 0:
		return "no units under watch"
	case a.failures == 0:
		return "no failures: a Weibull needs at least 2 at different ages; a lower limit on life can be had with an assumed shape"
	case a.failures == 1:
		return "one failure: a Weibull needs at least 2 at different ages; limits on life can be had with an assumed shape"
	case !a.distinct:
		return "all failures are at one age: a Weibull needs at least 2 at different ages"
	}
	return ""
}

// sums gives S0 = sum(x^b - e^b), S1 and S2, the same with the logarithm of the
// age once and twice as a factor, ages taken relative to exp(at).
func (a ages) sums(beta, at float64) (s0, s1, s2 float64) {
	for i, x := range a.exit {
		u := x - at
		p := math.Exp(beta * u)
		if !a.late[i] {
			s0 += p
			s1 += u * p
			s2 += u * u * p
			continue
		}
		v := a.entry[i] - at
		q := math.Exp(beta * v)
		s0 += q * math.Expm1(beta*(u-v))
		s1 += u*p - v*q
		s2 += u*u*p - v*v*q
	}
	return s0, s1, s2
}

// shapeProfile gives the log-likelihood at the best scale for the shape exp(b), up to
// the constant of the failures' ages, and its first two derivatives in b.
func (a ages) shapeProfile(b float64) (l, d1, d2 float64) {
	beta, r := math.Exp(b), float64(a.failures)
	s0, s1, s2 := a.sums(beta, 0)
	l = r*b + beta*a.sumFailed - r*math.Log(s0/r) - r
	g := r/beta + a.sumFailed - r*s1/s0
	h := -r/(beta*beta) - r*(s2/s0-(s1/s0)*(s1/s0))
	return l, beta * g, beta*beta*h + beta*g
}

// bestLogEta gives the scale that fits best with the shape exp(b).
func (a ages) bestLogEta(b float64) float64 {
	beta := math.Exp(b)
	s0, _, _ := a.sums(beta, 0)
	return a.logLongest + math.Log(s0/float64(a.failures))/beta
}

// logLik is the log-likelihood of the ages given that each unit worked at its
// entry.
func (a ages) logLik(logEta, b float64) float64 {
	beta := math.Exp(b)
	at := logEta - a.logLongest
	s0, _, _ := a.sums(beta, at)
	r := float64(a.failures)
	return r*b + beta*(a.sumFailed-r*at) - a.sumFailed - r*a.logLongest - s0
}

// derivatives gives the gradient of logLik in (log eta, log beta) and the
// observed information, its negative matrix of second derivatives.
func (a ages) derivatives(logEta, b float64) (grad [2]float64, info [2][2]float64) {
	beta, r := math.Exp(b), float64(a.failures)
	at := logEta - a.logLongest
	s0, s1, s2 := a.sums(beta, at)
	zd := beta * (a.sumFailed - r*at) // sum over failures of z = beta·log(t/eta)
	zs1, zs2 := beta*s1, beta*beta*s2
	grad = [2]float64{beta * (s0 - r), r + zd - zs1}
	cross := -beta * (s0 - r + zs1)
	info = [2][2]float64{{beta * beta * s0, cross}, {cross, zs1 + zs2 - zd}}
	return grad, info
}

// quantileZ is the two-sided normal quantile of a level.
func quantileZ(level float64) float64 { return distuv.UnitNormal.Quantile(0.5 + level/2) }
