package future

import (
	"fmt"
	"math"
)

// Sum gives the number that will fail among units that fail each with its own
// chance, independently (the Poisson binomial law).
func Sum(chances []float64) (Counts, error) {
	return Mixture([]float64{1}, func(int) []float64 { return chances })
}

// Mixture gives the number that will fail where the chances themselves are
// uncertain: in scenario i, of weight weights[i], the units fail with the
// chances(i). The slice may be reused between calls. Every scenario must have the
// same units.
func Mixture(weights []float64, chances func(i int) []float64) (Counts, error) {
	c := Counts{Method: "count of units that fail, each with its own chance"}
	total := 0.0
	for i, w := range weights {
		if !(w >= 0) || math.IsInf(w, 0) {
			return Counts{}, fmt.Errorf("weight %d is %v: must be a number, 0 or more", i+1, w)
		}
		total += w
	}
	if !(total > 0) {
		return Counts{}, fmt.Errorf("no scenario has any weight")
	}
	for i, w := range weights {
		p := chances(i)
		if i == 0 {
			c.N = len(p)
			c.P = make([]float64, len(p)+1)
		}
		if len(p) != c.N {
			return Counts{}, fmt.Errorf("scenario %d has %d units, the first has %d", i+1, len(p), c.N)
		}
		for k, x := range p {
			if !(x >= 0 && x <= 1) {
				return Counts{}, fmt.Errorf("scenario %d, unit %d: chance %v: must lie between 0 and 1", i+1, k+1, x)
			}
		}
		if w > 0 {
			addPoissonBinomial(c.P, p, w/total)
		}
	}
	if len(weights) > 1 {
		c.Method += ", over the uncertainty of its parameters"
	}
	c.P = tidy(c.P)
	return c, nil
}

// addPoissonBinomial adds w times the law of the sum of independent 0/1
// variables to into. Exact where either the failures or the survivors are
// expected to be few or the units are few; else the refined normal
// approximation (Hong 2013, Computational Statistics & Data Analysis 59:41).
func addPoissonBinomial(into, chances []float64, w float64) {
	n := len(chances)
	mean, variance, third := 0.0, 0.0, 0.0
	for _, p := range chances {
		v := p * (1 - p)
		mean, variance, third = mean+p, variance+v, third+v*(1-2*p)
	}
	const few, small = 40.0, 300
	switch {
	case n <= small || mean <= few:
		for k, q := range convolve(chances, mean, variance, false) {
			into[k] += w * q
		}
	case float64(n)-mean <= few:
		for k, q := range convolve(chances, float64(n)-mean, variance, true) {
			into[n-k] += w * q
		}
	default:
		sd := math.Sqrt(variance)
		skew := third / (variance * sd)
		last := 0.0
		from := max(0, int(mean-12*sd))
		for k := from; k <= n; k++ {
			x := (float64(k) + 0.5 - mean) / sd
			cdf := 0.5*math.Erfc(-x/math.Sqrt2) + skew*(1-x*x)*math.Exp(-x*x/2)/math.Sqrt(2*math.Pi)/6
			cdf = math.Min(math.Max(cdf, last), 1)
			if k == n || x > 12 {
				cdf = 1
			}
			into[k] += w * (cdf - last)
			if last = cdf; last == 1 {
				break
			}
		}
	}
}

// convolve adds one unit at a time, keeping counts up to ten errors above the mean.
// With rest it counts those that do not fail.
func convolve(chances []float64, mean, variance float64, rest bool) []float64 {
	top := min(len(chances), int(mean+10*math.Sqrt(variance))+20)
	law := make([]float64, top+1)
	law[0] = 1
	used := 0
	for _, p := range chances {
		if rest {
			p = 1 - p
		}
		if p == 0 {
			continue
		}
		used = min(used+1, top)
		for k := used; k > 0; k-- {
			law[k] = law[k]*(1-p) + law[k-1]*p
		}
		law[0] *= 1 - p
	}
	return law
}
