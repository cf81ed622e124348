package exact

import (
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"

	"wane/transform/estimate"
)

// Quantile gives the p-quantile of the population from which the values are
// drawn: p = 0.1, 0.5, 0.9 for a P10, P50, P90 band. The centre is the
// median-unbiased quantile of the sample (Hyndman and Fan 1996, type 8). The
// limits are two of the values themselves, the l-th and u-th smallest, chosen
// so that each misses with a chance of at most (1-level)/2 whatever the
// distribution; the share of cases in which they hold, at least the level,
// stands in Method. Where the sample is too small for one of them it is
// infinite and a warning says how many values it needs.
func Quantile(values []float64, p, level float64) (estimate.Estimate, error) {
	if err := checkLevel(level); err != nil {
		return estimate.Estimate{}, err
	}
	if !(p > 0 && p < 1) {
		return estimate.Estimate{}, fmt.Errorf("quantile %v: must lie between 0 and 1", p)
	}
	x := append([]float64(nil), values...)
	sort.Float64s(x)
	for _, v := range x {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return estimate.Estimate{}, fmt.Errorf("value %v among %d: leave out what was not measured", v, len(x))
		}
	}
	name := fmt.Sprintf("P%g", 100*p)
	n := len(x)
	if n == 0 {
		return estimate.None(name+", order-statistic limits", "no values"), nil
	}
	e := estimate.Estimate{Centre: typeEight(x, p), Lo: math.Inf(-1), Hi: math.Inf(1), Level: level, N: n}
	l, u, held := orders(n, p, (1-level)/2)
	e.Method = fmt.Sprintf("%s, order-statistic limits, hold in %.1f %%", name, 100*held)
	if l > 0 {
		e.Lo = x[l-1]
	} else {
		e = e.Warn(fmt.Sprintf("no lower limit of %s from %d values: %d are needed", name, n, needed(1-p, (1-level)/2)))
	}
	if u <= n {
		e.Hi = x[u-1]
	} else {
		e = e.Warn(fmt.Sprintf("no upper limit of %s from %d values: %d are needed", name, n, needed(p, (1-level)/2)))
	}
	// With few values the interpolated centre may lie outside its limits' neighbours;
	// a limit never contradicts it.
	e.Lo, e.Hi = math.Min(e.Lo, e.Centre), math.Max(e.Hi, e.Centre)
	return e, nil
}

// orders gives l, the greatest with P(B < l) <= risk, and u, the smallest with
// P(B >= u) <= risk, B binomial(n, p), and the chance that the quantile lies between. l
// may be 0 and u may be n+1: no limit.
func orders(n int, p, risk float64) (l, u int, held float64) {
	b := distuv.Binomial{N: float64(n), P: p}
	l = sort.Search(n+1, func(k int) bool { return b.CDF(float64(k)) > risk })
	u = 1 + sort.Search(n+1, func(k int) bool { return 1-b.CDF(float64(k)) <= risk })
	below, above := 0.0, 0.0
	if l > 0 {
		below = b.CDF(float64(l - 1))
	}
	if u <= n {
		above = 1 - b.CDF(float64(u-1))
	}
	return l, u, 1 - below - above
}

// needed gives the sample size at which q^n <= risk: q is the chance of one
// value to lie on the wrong side of the quantile.
func needed(q, risk float64) int { return int(math.Ceil(math.Log(risk) / math.Log(q))) }

func typeEight(sorted []float64, p float64) float64 {
	n := len(sorted)
	h := (float64(n)+1.0/3)*p + 1.0/3
	switch {
	case h <= 1:
		return sorted[0]
	case h >= float64(n):
		return sorted[n-1]
	}
	k := int(h)
	return sorted[k-1] + (h-float64(k))*(sorted[k]-sorted[k-1])
}
