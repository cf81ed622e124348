package survey

import (
	"fmt"
	"math"

	"wane/transform/estimate"

	"gonum.org/v1/gonum/stat/distuv"
)

// extremes fills the dimmest and brightest spot and their ratios. The dimmest
// reading is dim partly by chance: its upper bound is the lowest of all spots'
// upper bounds at a level shared out over the spots (Bonferroni), its lower
// bound the lowest of their single lower bounds; this covers whatever the
// pattern is. The brightest the other way round.
func (r *readings) extremes(n *Numbers) {
	m := len(r.y)
	alpha := 1 - r.u.level()
	z1 := r.u.z()
	zn := distuv.UnitNormal.Quantile(1 - alpha/(2*float64(m)))
	rep := r.u.rep()
	loMin, hiMin := math.Inf(1), math.Inf(1)
	loMax, hiMax := math.Inf(-1), math.Inf(-1)
	for _, y := range r.y {
		loMin, hiMin = math.Min(loMin, y*(1-z1*rep)), math.Min(hiMin, y*(1+zn*rep))
		loMax, hiMax = math.Max(loMax, y*(1-zn*rep)), math.Max(hiMax, y*(1+z1*rep))
	}
	min, max, avg := r.y[r.argmin], r.y[r.argmax], r.mean
	unit := func(i int) []float64 { g := make([]float64, m); g[i] = 1; return g }
	const method = "extreme of the spots read; bounds allow for its having been picked"
	build := func(v, down, up, common float64, method string) estimate.Estimate {
		c := z1 * common
		return estimate.Estimate{Centre: v, Lo: math.Max(0, v-hypot(down, c)), Hi: v + hypot(up, c), Level: r.u.level(), N: m,
			Method: method}
	}
	n.Min = build(min, min-loMin, hiMin-min, r.commonSD(unit(r.argmin)), method)
	n.Max = build(max, max-loMax, hiMax-max, r.commonSD(unit(r.argmax)), method)

	gAvg := r.even()
	sdAvg := z1 * r.repeatSD(gAvg) / avg // relative half-width
	ratio := func(a, b float64, ia int, gb []float64) []float64 {
		g := make([]float64, m)
		for i := range g {
			g[i] = -a / (b * b) * gb[i]
		}
		g[ia] += 1 / b
		return g
	}
	rel := func(d, v float64) float64 {
		if v == 0 {
			return 0
		}
		return d / v
	}
	q := min / avg
	n.MinAvg = atMost(build(q, q*hypot(rel(min-loMin, min), sdAvg), q*hypot(rel(hiMin-min, min), sdAvg),
		r.commonSD(ratio(min, avg, r.argmin, gAvg)), "min/avg (as in EN 12464-1)"), 1)
	q = max / avg
	n.MaxAvg = atLeast(build(q, q*hypot((max-loMax)/max, sdAvg), q*hypot((hiMax-max)/max, sdAvg),
		r.commonSD(ratio(max, avg, r.argmax, gAvg)), "max/avg"), 1)
	q = min / max
	n.MinMax = atMost(build(q, q*hypot(rel(min-loMin, min), (hiMax-max)/max),
		q*hypot(rel(hiMin-min, min), (max-loMax)/max), r.commonSD(ratio(min, max, r.argmin, unit(r.argmax))), "min/max"), 1)
	if m == 1 {
		why := "one spot was read; uniformity needs at least two"
		n.MinAvg, n.MaxAvg, n.MinMax = estimate.None("min/avg", why), estimate.None("max/avg", why),
			estimate.None("min/max", why)
	}
}

// cv gives the coefficient of variation. Repeat noise adds to it, so the
// interval is of the pattern's own: s2 less the noise, plus and minus its
// standard deviation (moments of a non-central chi-square).
func (r *readings) cv() estimate.Estimate {
	const method = "coefficient of variation, sample standard deviation (n-1) over mean; interval with repeat noise taken out"
	m := float64(len(r.y))
	if m < 2 {
		return estimate.None(method, "one spot was read; a spread needs at least two")
	}
	ss, noise := 0.0, 0.0
	for _, y := range r.y {
		ss += (y - r.mean) * (y - r.mean)
		noise += y * y * r.u.rep() * r.u.rep() / m
	}
	s2 := ss / (m - 1)
	sdS2 := math.Sqrt(4*noise*ss+2*noise*noise*(m-1)) / (m - 1)
	z := r.u.z()
	centre := math.Sqrt(s2) / r.mean
	lo := math.Sqrt(math.Max(0, s2-noise-z*sdS2)) / r.mean
	hi := math.Sqrt(math.Max(0, s2-noise+z*sdS2)) / r.mean
	g := make([]float64, len(r.y))
	for i, y := range r.y {
		if s2 > 0 {
			g[i] = (y-r.mean)/((m-1)*math.Sqrt(s2)*r.mean) - centre/(r.mean*m)
		}
	}
	c := z * r.commonSD(g)
	e := estimate.Estimate{Centre: centre, Lo: math.Min(centre, math.Max(0, centre-hypot(centre-lo, c))),
		Hi: math.Max(centre, centre+hypot(math.Max(0, hi-centre), c)), Level: r.u.level(), N: len(r.y), Method: method}
	if s2 > 0 && noise/s2 > .25 {
		e = e.Warn(fmt.Sprintf("repeat noise alone gives %.1f %% of spread: much of this figure may be noise",
			100*math.Sqrt(noise)/r.mean))
	}
	return e
}
