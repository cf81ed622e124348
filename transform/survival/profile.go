package survival

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// cut is how far the log-likelihood may fall inside the limits.
func (w Weibull) cut() float64 {
	return distuv.ChiSquared{K: 1}.Quantile(w.Level) / 2
}

// profileShape gives the likelihood-ratio limits of log beta.
func (w Weibull) profileShape() (lo, hi float64) {
	top, _, _ := w.data.shapeProfile(w.LogBeta)
	drop := func(b float64) (float64, float64) {
		l, d1, _ := w.data.shapeProfile(b)
		return top - l, -d1
	}
	step := math.Sqrt(w.Cov[1][1])
	return edge(w.LogBeta, -step, w.cut(), drop), edge(w.LogBeta, step, w.cut(), drop)
}

// profileLife gives the likelihood-ratio limits of the logarithm of the age at which the
// cumulative hazard is c: c = 1 is eta, c = -log(1-p) a B-life.
func (w Weibull) profileLife(c float64) (lo, hi float64) {
	g := -math.Log(c) / math.Exp(w.LogBeta)
	centre := w.LogEta - g
	step := math.Sqrt(w.Cov[0][0] + 2*g*w.Cov[0][1] + g*g*w.Cov[1][1])
	side := func(sign float64) float64 {
		b := w.LogBeta // each side starts from the top and follows the ridge
		drop := func(q float64) (float64, float64) {
			var l, slope float64
			b, l, slope = w.data.lifeProfile(q, c, b)
			return w.LogLik - l, -slope
		}
		return edge(centre, sign*step, w.cut(), drop)
	}
	return side(-1), side(1)
}

// lifeProfile maximises the likelihood over the shape with the age exp(q) of
// cumulative hazard c held fixed, starting near the log shape b. It gives the
// log shape, the log-likelihood and its slope in q.
func (a ages) lifeProfile(q, c, b float64) (best, l, slope float64) {
	r, at := float64(a.failures), q-a.logLongest
	height := func(b float64) float64 {
		beta := math.Exp(b)
		s0, _, _ := a.sums(beta, at)
		return r*(b+math.Log(c)) + beta*(a.sumFailed-r*at) - a.sumFailed - r*a.logLongest - c*s0
	}
	// With late entries and few failures there may be two tops.
	if !a.allNew && a.failures < 50 {
		top := height(b)
		for s := 2 * logShapeLo; s <= logShapeHi; s += 2 * scanStep {
			if h := height(s); h > top {
				top, b = h, s
			}
		}
	}
	fall := func(b float64) (d1, d2 float64) {
		beta := math.Exp(b)
		_, s1, s2 := a.sums(beta, at)
		g := r + beta*(a.sumFailed-r*at) - c*beta*s1
		return g, g - r - c*beta*beta*s2
	}
	lo, up := bracket(b, fall)
	best = newton(math.Min(math.Max(b, lo), up), lo, up, fall)
	beta := math.Exp(best)
	s0, _, _ := a.sums(beta, at)
	return best, height(best), beta * (c*s0 - r)
}

// bracket widens around b until the slope rises at its lower end and falls at
// its upper. A slope that overflows counts as falling: that happens only for
// shapes far too great.
func bracket(b float64, fall func(float64) (float64, float64)) (lo, up float64) {
	const reach = 20
	lo, up = b-0.5, b+0.5
	if d, _ := fall(lo); !(d > 0) {
		for k := 0.5; lo > b-reach; k *= 2 {
			up, lo = lo, lo-k
			if d, _ := fall(lo); d > 0 {
				break
			}
		}
		return lo, up
	}
	for k := 0.5; up < b+reach; k *= 2 {
		if d, _ := fall(up); !(d > 0) {
			break
		}
		lo, up = up, up+k
	}
	return lo, up
}

// edge walks from the top at centre in steps of first until the likelihood has
// fallen by cut, then closes in. drop gives the fall and its slope. Infinite
// where it never falls so far.
func edge(centre, first, cut float64, drop func(float64) (fall, slope float64)) float64 {
	const far = 60 // in logarithms: a factor of 1e26
	inner, outer := centre, centre+2*first
	for i := 0; ; i++ {
		f, _ := drop(outer)
		if f >= cut {
			break
		}
		if math.Abs(outer-centre) > far || i > 60 || math.IsNaN(f) {
			return math.Copysign(math.Inf(1), first)
		}
		inner = outer
		outer += first * math.Pow(1.5, float64(i+1))
	}
	// The root of the fall is nearly straight there, so Newton on it converges
	// in a few steps; the bracket guards it.
	root := math.Sqrt(cut)
	x := outer
	for i := 0; i < 60; i++ {
		f, s := drop(x)
		if f >= cut {
			outer = x
		} else {
			inner = x
		}
		h := math.Sqrt(math.Max(f, 0))
		step := (h - root) * 2 * h / s
		if math.Abs(step) < 1e-10 {
			return x - step
		}
		next := x - step
		if !((next-inner)*(next-outer) < 0) {
			next = (inner + outer) / 2
		}
		x = next
	}
	return x
}
