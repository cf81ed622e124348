package survival

import (
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// Limits is the way in which pointwise limits of a survival curve are made.
type Limits int

const (
	// LogLog limits come from the normal law on log(-log S): they stay inside 0
	// and 1. The usual choice.
	LogLog Limits = iota
	// Plain limits are S ± z·se, cut at 0 and 1.
	Plain
	// Log limits come from the normal law on log S, cut at 1.
	Log
	// BetaProduct limits (Fay, Brittain and Proschan 2013, Biostatistics
	// 14:723, formulas from memory) take each factor of the curve as a beta
	// variable, matched in two moments, and the middle of the two bounds
	// (mid-p). Without censoring they are the mid-p exact binomial limits.
	// They hold with few failures and few at risk.
	BetaProduct
)

func (l Limits) valid() bool { return l >= LogLog && l <= BetaProduct }

func (l Limits) String() string {
	switch l {
	case LogLog:
		return "log-log"
	case Plain:
		return "plain"
	case Log:
		return "log"
	case BetaProduct:
		return "beta product"
	}
	return "unknown"
}

// band walks along the curve and holds what its limits need.
type band struct {
	kind     Limits
	alpha, z float64
	survival float64
	sum      float64 // Greenwood: sum of d/(n(n-d))
	m1, m2   float64 // first two moments of the upper beta product
}

func newBand(kind Limits, level float64) *band {
	return &band{kind: kind, alpha: 1 - level, z: distuv.UnitNormal.Quantile(0.5 + level/2), survival: 1, m1: 1, m2: 1}
}

func (b *band) add(atRisk, failed int) {
	if failed == 0 || b.survival == 0 {
		return
	}
	n, d := float64(atRisk), float64(failed)
	if failed == atRisk {
		b.survival = 0
	} else {
		b.survival *= (n - d) / n
		b.sum += d / (n * (n - d))
	}
	// The factor is Beta(n-d+1, d).
	b.m1 *= (n - d + 1) / (n + 1)
	b.m2 *= (n - d + 1) * (n - d + 2) / ((n + 1) * (n + 2))
}

func (b *band) se() float64 { return b.survival * math.Sqrt(b.sum) }

// limits gives the pointwise limits, left being the units under watch after the
// failures of this age. Where S is 1 or 0 there is no error to build on: the
// beta product is used whatever the kind.
func (b *band) limits(left int) (lo, hi float64) {
	s := b.survival
	if b.kind == BetaProduct || s == 1 || s == 0 {
		return b.betaProduct(left)
	}
	rel := b.z * math.Sqrt(b.sum)
	switch b.kind {
	case Plain:
		return math.Max(0, s-s*rel), math.Min(1, s+s*rel)
	case Log:
		return s * math.Exp(-rel), math.Min(1, s*math.Exp(rel))
	default:
		w := rel / math.Log(s) // negative
		return math.Pow(s, math.Exp(-w)), math.Pow(s, math.Exp(w))
	}
}

// betaProduct gives the mid-p limits: the quantiles of the even mixture of the
// upper product and of the lower one, which has the further factor
// Beta(left, 1) for what may have happened since.
func (b *band) betaProduct(left int) (lo, hi float64) {
	upper := matched(b.m1, b.m2)
	lower := point(0)
	if left > 0 {
		l := float64(left)
		lower = matched(b.m1*l/(l+1), b.m2*l/(l+2))
	}
	mix := func(x float64) float64 { return 0.5*upper(x) + 0.5*lower(x) }
	if b.survival > 0 {
		lo = invert(mix, b.alpha/2)
		hi = 1.0
		if b.survival < 1 {
			hi = invert(mix, 1-b.alpha/2)
		} else {
			// Nothing has failed: there is no upper limit to find, the whole
			// risk goes to the lower one.
			lo = invert(lower, b.alpha)
		}
		return lo, hi
	}
	return 0, invert(upper, 1-b.alpha)
}

// matched is the distribution function of the beta variable with the given
// first two moments; point(1) where it has no spread.
func matched(m1, m2 float64) func(float64) float64 {
	v := m2 - m1*m1
	if v <= 1e-14*m1 {
		return point(m1)
	}
	k := m1*(1-m1)/v - 1
	a, b := m1*k, (1-m1)*k
	return func(x float64) float64 {
		switch {
		case x <= 0:
			return 0
		case x >= 1:
			return 1
		}
		return mathext.RegIncBeta(a, b, x)
	}
}

func point(at float64) func(float64) float64 {
	return func(x float64) float64 {
		if x >= at {
			return 1
		}
		return 0
	}
}

// invert finds the smallest x in [0, 1] with cdf(x) >= p by bisection.
func invert(cdf func(float64) float64, p float64) float64 {
	lo, hi := 0.0, 1.0
	for i := 0; i < 52; i++ {
		mid := (lo + hi) / 2
		if cdf(mid) >= p {
			hi = mid
		} else {
			lo = mid
		}
	}
	return hi
}
