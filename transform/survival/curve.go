package survival

import (
	"fmt"
	"math"
	"sort"

	"wane/transform/estimate"
)

// At gives the share still working at age t. Past the last age seen it gives
// the curve's last value as an upper statement only: Lo is 0.
func (c Curve) At(t float64) estimate.Estimate {
	method := c.Kind() + ", " + c.Limits.String() + " limits"
	if c.Units == 0 {
		return estimate.None(method, "no units under watch")
	}
	e := estimate.Estimate{Centre: 1, Lo: c.flat, Hi: 1, Level: c.Level, N: c.Units, Method: method}
	i := sort.Search(len(c.Steps), func(i int) bool { return c.Steps[i].Time > t }) - 1
	if i >= 0 {
		s := c.Steps[i]
		e.Centre, e.Lo, e.Hi = s.Survival, s.Lo, s.Hi
	}
	e.Warnings = append([]string(nil), c.Warnings...)
	if i == len(c.Steps)-1 && i >= 0 && t > c.Steps[i].Time {
		e.Lo = 0
		e = e.Warn(fmt.Sprintf("age %g lies past the greatest age seen, %g", t, c.Steps[i].Time))
	}
	return e
}

// Quantile gives the age by which the share p has failed: p = 0.1 is B10, p =
// 0.5 the median life. Its limits are read off the curve's limits (Brookmeyer
// and Crowley 1982). Where the curve runs level at exactly 1-p the middle of
// that stretch is given, as R's quantile.survfit does. Where the curve or its
// limit never comes down to 1-p the age is open: Hi is +Inf, or there is no
// centre.
func (c Curve) Quantile(p float64) estimate.Estimate {
	method := fmt.Sprintf("B%g by %s, %s limits", 100*p, c.Kind(), c.Limits)
	switch {
	case !(p > 0 && p < 1):
		return estimate.None(method, fmt.Sprintf("share %v: must lie between 0 and 1", p))
	case c.Units == 0:
		return estimate.None(method, "no units under watch")
	}
	q := c.crossing(p, func(s Step) float64 { return s.Survival })
	// Before the first failure the lower limit hangs on how many are under
	// watch, and with late entries it may rise again: the greatest counts.
	before := c.flat
	for _, s := range c.Steps {
		if s.Survival == 1 {
			before = math.Max(before, s.Lo)
		}
	}
	lo := c.From
	if 1-before < p {
		lo = c.crossing(p, func(s Step) float64 {
			if s.Survival == 1 {
				return 1
			}
			return s.Lo
		})
	}
	hi := c.crossing(p, func(s Step) float64 { return s.Hi })
	if math.IsInf(q, 1) {
		e := estimate.None(method, c.short(p))
		e.N = c.Units
		if !math.IsInf(lo, 1) {
			e.Lo, e.Hi, e.Level = lo, math.Inf(1), c.Level
		}
		return e
	}
	return estimate.Estimate{Centre: q, Lo: lo, Hi: hi, Level: c.Level, N: c.Units, Method: method,
		Warnings: append([]string(nil), c.Warnings...)}
}

// short says why the curve gives no quantile.
func (c Curve) short(p float64) string {
	if len(c.Steps) == 0 {
		return "no units under watch"
	}
	last := c.Steps[len(c.Steps)-1]
	return fmt.Sprintf("at the greatest age seen, %g, %.1f %% had failed: fewer than the %g %% asked for; watch longer or use a fitted form",
		last.Time, 100*(1-last.Survival), 100*p)
}

// crossing finds the age at which a falling series of the steps reaches 1-p.
func (c Curve) crossing(p float64, of func(Step) float64) float64 {
	const tol = 1.5e-8 // as R: a curve that equals 1-p up to rounding is level there
	for i, s := range c.Steps {
		v := of(s)
		if v > 1-p+tol {
			continue
		}
		if v < 1-p-tol {
			return s.Time
		}
		next := c.Steps[len(c.Steps)-1].Time
		for _, l := range c.Steps[i+1:] {
			if of(l) < v-tol {
				next = l.Time
				break
			}
		}
		return (s.Time + next) / 2
	}
	return math.Inf(1)
}
