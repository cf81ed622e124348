// Package spares says how many lamps will fail over a span of run-hours, with
// a prediction interval, and how many spares keep a service level.
//
// Each lamp fails or not with its own probability, given that it has lived to
// its present age; a lamp put in for a failed one may fail again. The number
// of failures of all lamps is the sum of these (a Poisson-binomial law with
// repeats), convolved exactly rather than approximated by a normal. The
// uncertainty of the life law is shared by all lamps, so it is mixed over
// after the convolution, not before: lamps of one cohort err together.
//
// Promises: deterministic, no random numbers; probabilities sum to 1 within
// 1e-9; the spares given are the fewest that reach the level.
package spares

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"wane/transform/estimate"
)

// Exposure is one lamp and what it will burn through.
type Exposure struct {
	Age   float64 // run-hours now, >= 0
	Hours float64 // run-hours to come, >= 0
	Count int     // equal lamps; 0 = 1
}

// Law is a Weibull life law. LnSd is the standard deviation of ln(Eta) as
// estimated; 0 takes Eta for exact.
type Law struct {
	Eta, Beta, LnSd float64
}

// Forecast is the number of failures to come.
type Forecast struct {
	PMF []float64 // P(exactly i failures)
}

// lawNodes is the number of equal-probability nodes over ln(Eta).
const lawNodes = 15

// maxRepeats bounds the failures counted for one lamp and span; the
// probability of more is put on the last.
const maxRepeats = 3

// repeatSteps is the number of steps in which the first failure is placed when repeats are counted.
const repeatSteps = 24

// New convolves the failures of all lamps. Errors name the exposure.
func New(lamps []Exposure, law Law) (Forecast, error) {
	if !(law.Eta > 0) || !(law.Beta > 0) || !(law.LnSd >= 0) || math.IsInf(law.Eta+law.Beta+law.LnSd, 0) {
		return Forecast{}, fmt.Errorf("life law eta %g h, beta %g, ln sd %g: all must be finite, eta and beta positive",
			law.Eta, law.Beta, law.LnSd)
	}
	for i, e := range lamps {
		if !(e.Age >= 0) || !(e.Hours >= 0) || math.IsInf(e.Age+e.Hours, 0) || e.Count < 0 {
			return Forecast{}, fmt.Errorf("exposure %d: age %g h, %g h to come, count %d: none may be negative or infinite", i,
				e.Age, e.Hours, e.Count)
		}
	}
	n := lawNodes
	if law.LnSd == 0 {
		n = 1
	}
	var mix []float64
	for k := 0; k < n; k++ {
		z := distuv.UnitNormal.Quantile((float64(k) + 0.5) / float64(n))
		pmf := convolve(lamps, law.Eta*math.Exp(z*law.LnSd), law.Beta)
		for len(mix) < len(pmf) {
			mix = append(mix, 0)
		}
		for i, p := range pmf {
			mix[i] += p / float64(n)
		}
	}
	return Forecast{PMF: mix}, nil
}

// convolve gives the law of the sum for one eta.
func convolve(lamps []Exposure, eta, beta float64) []float64 {
	pmf := []float64{1}
	for _, e := range lamps {
		one := single(e, eta, beta)
		count := e.Count
		if count == 0 {
			count = 1
		}
		for ; count > 0; count-- {
			pmf = add(pmf, one)
		}
	}
	return pmf
}

// add convolves the law of the sum with one more lamp and drops the far tail,
// which would cost time and hold nothing.
func add(pmf, one []float64) []float64 {
	out := make([]float64, len(pmf)+len(one)-1)
	for i, p := range pmf {
		for j, q := range one {
			out[i+j] += p * q
		}
	}
	end := len(out)
	for end > 1 && out[end-1] < 1e-15 {
		end--
	}
	return out[:end]
}

// single is the law of the number of failures of one lamp and its successors.
func single(e Exposure, eta, beta float64) []float64 {
	cum := func(h float64) float64 { return math.Pow(h/eta, beta) }
	survive := func(from, h float64) float64 { return math.Exp(cum(from) - cum(from+h)) }
	// atLeast[k] = P(k or more failures in x hours), for a new lamp, on a grid of x.
	d := e.Hours / repeatSteps
	first := make([]float64, repeatSteps+1)  // P(first failure of the lamp now by i*d)
	renew := make([]float64, repeatSteps+1)  // P(a new lamp fails by (i+1/2)*d)
	follow := make([]float64, repeatSteps+1) // P(k or more) by i*d, updated for each k
	for i := range first {
		h := float64(i) * d
		first[i] = 1 - survive(e.Age, h)
		renew[i] = 1 - math.Exp(-cum(h+d/2))
	}
	copy(follow, first)
	ge := []float64{1, first[repeatSteps]}
	for k := 2; k <= maxRepeats && ge[k-1] > 1e-12; k++ {
		next := make([]float64, repeatSteps+1)
		for i := 1; i <= repeatSteps; i++ {
			for j := 1; j <= i; j++ {
				next[i] += (follow[j] - follow[j-1]) * renew[i-j]
			}
		}
		follow = next
		ge = append(ge, follow[repeatSteps])
	}
	out := make([]float64, len(ge))
	for k := range ge {
		out[k] = ge[k]
		if k+1 < len(ge) {
			out[k] -= ge[k+1]
		}
	}
	return out
}

// AtMost is P(failures <= n).
func (f Forecast) AtMost(n int) float64 {
	sum := 0.0
	for i := 0; i <= n && i < len(f.PMF); i++ {
		sum += f.PMF[i]
	}
	return math.Min(sum, 1)
}

// Quantile is the fewest failures n with P(failures <= n) >= p.
func (f Forecast) Quantile(p float64) int {
	sum := 0.0
	for i, q := range f.PMF {
		sum += q
		if sum >= p-1e-12 {
			return i
		}
	}
	return len(f.PMF) - 1
}

// Mean is the expected number of failures.
func (f Forecast) Mean() float64 {
	m := 0.0
	for i, p := range f.PMF {
		m += float64(i) * p
	}
	return m
}

// Spares is the fewest spares that last with chance level or more, and the
// chance that they do. 0 < level < 1.
func (f Forecast) Spares(level float64) (n int, achieved float64) {
	n = f.Quantile(level)
	return n, f.AtMost(n)
}

// Estimate is the expected number of failures with its equal-tailed prediction
// interval; the unit is lamps.
func (f Forecast) Estimate(level float64, lamps int) estimate.Estimate {
	return estimate.Estimate{
		Centre: f.Mean(),
		Lo:     float64(f.Quantile((1 - level) / 2)),
		Hi:     float64(f.Quantile((1 + level) / 2)),
		Level:  level, N: lamps,
		Method: "exact sum of single lamps' failures, mixed over the life law",
	}
}

// Plus is the law of the sum of two independent forecasts.
func (f Forecast) Plus(g Forecast) Forecast { return Forecast{PMF: add(f.PMF, g.PMF)} }
