package survival

import (
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Group is the units of one make, type or batch in a comparison.
type Group struct {
	Name  string
	Units []Unit
}

// Compared is a group's part in a log-rank test.
type Compared struct {
	Name     string
	Units    int
	Observed int     // failures
	Expected float64 // failures it would have had if all groups were alike
}

// Comparison is the outcome of a log-rank test.
type Comparison struct {
	Groups []Compared
	Chi2   float64
	DF     int
	P      float64 // chance of a difference at least so great between groups that are alike
	// Detectable is the hazard ratio that a fleet of this size would show, at 5 %
	// significance, in 8 cases of 10; 0 where it has no value. For two groups
	// only.
	Detectable float64
	Enough     bool   // whether the numbers allow a statement at all
	Say        string // the outcome in a sentence
}

// LogRank asks whether groups fail alike: the log-rank test (Mantel 1966, Peto
// and Peto 1972) with hypergeometric variance for ties and any number of
// groups, late entries allowed. The error is for bad rows only.
//
// The chi-square law of the statistic needs about 5 expected failures in each
// group (common practice, no source); with fewer the outcome is given but not
// leant on, Enough is false.
func LogRank(groups []Group) (Comparison, error) {
	var c Comparison
	var kept []Group
	for _, g := range groups {
		if err := check(g.Units); err != nil {
			return Comparison{}, fmt.Errorf("group %s: %w", g.Name, err)
		}
		c.Groups = append(c.Groups, Compared{Name: g.Name, Units: len(g.Units)})
		if len(g.Units) > 0 {
			kept = append(kept, g)
		}
	}
	c.P = 1
	if len(kept) < 2 {
		c.Say = "nothing to compare: fewer than two groups have units"
		return c, nil
	}
	observed, expected, v := score(kept)
	k := 0
	for i := range c.Groups {
		if c.Groups[i].Units > 0 {
			c.Groups[i].Observed, c.Groups[i].Expected = int(observed[k]), expected[k]
			k++
		}
	}
	c.Chi2, c.DF = quadratic(observed, expected, v)
	if c.DF > 0 {
		c.P = distuv.ChiSquared{K: float64(c.DF)}.Survival(c.Chi2)
	}
	c.Detectable = detectable(kept, observed)
	c.say()
	return c, nil
}

// score sums, over the ages at which anything failed, what each group had and
// could have expected.
func score(groups []Group) (observed, expected []float64, v *mat.SymDense) {
	k := len(groups)
	observed, expected, v = make([]float64, k), make([]float64, k), mat.NewSymDense(k, nil)
	clocks := make([]clock, k)
	died := make([]map[float64]int, k)
	var times []float64
	for g, group := range groups {
		u := group.Units
		clocks[g] = newClock(len(u), func(i int) (float64, float64) { return u[i].Entry, u[i].Exit })
		died[g] = map[float64]int{}
		for _, x := range u {
			if x.Failed {
				died[g][x.Exit]++
				times = append(times, x.Exit)
			}
		}
	}
	sort.Float64s(times)
	at := make([]float64, k)
	for i, t := range times {
		if i > 0 && t == times[i-1] {
			continue
		}
		n, d := 0.0, 0.0
		for g := range groups {
			at[g] = float64(clocks[g].atRisk(t))
			n += at[g]
			d += float64(died[g][t])
			observed[g] += float64(died[g][t])
		}
		for g := range groups {
			expected[g] += d * at[g] / n
			if n < 2 {
				continue
			}
			for h := g; h < k; h++ {
				same := 0.0
				if h == g {
					same = 1
				}
				v.SetSym(g, h, v.At(g, h)+d*(n-d)/(n-1)*at[g]/n*(same-at[h]/n))
			}
		}
	}
	return observed, expected, v
}

// quadratic gives (O-E)' V^- (O-E). V is singular: at least one direction, the
// sum of all groups, has no variance, and more if groups were never at risk
// together. Directions without variance are left out and take a degree of freedom each.
func quadratic(observed, expected []float64, v *mat.SymDense) (chi2 float64, df int) {
	var e mat.EigenSym
	if !e.Factorize(v, true) {
		return 0, 0
	}
	values := e.Values(nil)
	var q mat.Dense
	e.VectorsTo(&q)
	top := 0.0
	for _, l := range values {
		top = math.Max(top, l)
	}
	for j, l := range values {
		if l <= 1e-9*top || l <= 0 {
			continue
		}
		s := 0.0
		for i := range observed {
			s += q.At(i, j) * (observed[i] - expected[i])
		}
		chi2 += s * s / l
		df++
	}
	return chi2, df
}

// detectable solves Schoenfeld's formula (1981, Biometrika 68:316, from memory) for the hazard ratio:
// failures = (z(0.975)+z(0.8))^2 / (share1·share2·log(ratio)^2).
func detectable(groups []Group, observed []float64) float64 {
	if len(groups) != 2 {
		return 0
	}
	d := observed[0] + observed[1]
	a, b := float64(len(groups[0].Units)), float64(len(groups[1].Units))
	if d == 0 {
		return 0
	}
	share := a / (a + b) * b / (a + b)
	z := distuv.UnitNormal.Quantile(0.975) + distuv.UnitNormal.Quantile(0.8)
	return math.Exp(z / math.Sqrt(d*share))
}

func (c *Comparison) say() {
	total, least, name := 0, math.Inf(1), ""
	for _, g := range c.Groups {
		total += g.Observed
		if g.Units > 0 && g.Expected < least {
			least, name = g.Expected, g.Name
		}
	}
	seen := ""
	if c.Detectable > 0 {
		seen = fmt.Sprintf("; with %d failures in all only a failure rate %.1f times the other's would show in 8 cases of 10",
			total, c.Detectable)
	}
	switch {
	case total == 0:
		c.Say = "no failures: nothing can be said about a difference"
	case c.DF == 0:
		c.Say = "the groups were never under watch at one age: they cannot be compared"
	case least < 5:
		c.Say = fmt.Sprintf("numbers too small to tell: %.1f failures were to be expected in %s, 5 in each group are "+
			"needed (P = %.3f is not to be leant on)%s", least, name, c.P, seen)
	case c.P < 0.05:
		c.Enough = true
		c.Say = fmt.Sprintf("the groups differ more than chance explains (log-rank chi2 %.2f, %d df, P = %.2g)",
			c.Chi2, c.DF, c.P)
	default:
		c.Enough = true
		c.Say = fmt.Sprintf("no difference shown, which does not prove them alike (log-rank chi2 %.2f, %d df, P = %.2f)%s",
			c.Chi2, c.DF, c.P, seen)
	}
}
