package survival

import (
	"fmt"
	"math"
	"sort"
)

// Step is the Kaplan-Meier curve from the age Time to the next step's.
type Step struct {
	Time     float64
	AtRisk   int // under watch just before Time, the failed included
	Failed   int
	Expected float64 // failures; other than Failed where ages are known within a gap only
	Censored int     // last seen working at Time
	Survival float64
	SE       float64 // Greenwood's; 0 before the first failure and where the curve is 0, see the package text
	Lo, Hi   float64 // pointwise limits of Survival
}

// Curve is a Kaplan-Meier curve, or Turnbull's. Before the first step it is 1.
type Curve struct {
	Steps    []Step // at each distinct Exit, in order of age
	Units    int
	Failures int
	Limits   Limits
	Level    float64
	From     float64 // the curve is that of units that reached this age
	Warnings []string

	kind  string  // "" = Kaplan-Meier
	first int     // at risk at the earliest step, for the limits before it
	flat  float64 // lower limit before the first step
}

// KaplanMeier estimates the share still working at each age by the
// product-limit (Kaplan and Meier 1958) with Greenwood's error, from units with
// left-truncated and right-censored ages. A failure and a censoring at one age are
// taken in that order.
func KaplanMeier(units []Unit, limits Limits, level float64) (Curve, error) {
	return KaplanMeierFrom(units, 0, limits, level)
}

// KaplanMeierFrom is KaplanMeier for units that reached the age from. Use it where
// too few units are under watch at young ages: one early failure among two
// at risk would halve the whole curve.
func KaplanMeierFrom(units []Unit, from float64, limits Limits, level float64) (Curve, error) {
	if err := check(units); err != nil {
		return Curve{}, err
	}
	if err := checkLevel(level); err != nil {
		return Curve{}, err
	}
	if !limits.valid() {
		return Curve{}, fmt.Errorf("limits %d: use Plain, Log, LogLog or BetaProduct", limits)
	}
	if !(from >= 0) || math.IsInf(from, 0) {
		return Curve{}, fmt.Errorf("from %v: must be an age, 0 or more", from)
	}
	if from > 0 {
		units = reached(units, from)
	}
	c := Curve{Units: len(units), Limits: limits, Level: level, From: from}
	watch := newClock(len(units), func(i int) (float64, float64) { return units[i].Entry, units[i].Exit })
	sorted := append([]Unit(nil), units...)
	sort.Slice(sorted, func(i, j int) bool { return sorted[i].Exit < sorted[j].Exit })

	b := newBand(limits, level)
	for i := 0; i < len(sorted); {
		s := Step{Time: sorted[i].Exit}
		for ; i < len(sorted) && sorted[i].Exit == s.Time; i++ {
			if sorted[i].Failed {
				s.Failed++
			} else {
				s.Censored++
			}
		}
		s.AtRisk = watch.atRisk(s.Time)
		if s.AtRisk <= 0 { // only units without any time under watch
			continue
		}
		if len(c.Steps) == 0 {
			c.first = s.AtRisk
		}
		s.Expected = float64(s.Failed)
		b.add(s.AtRisk, s.Failed)
		s.Survival, s.SE = b.survival, b.se()
		s.Lo, s.Hi = b.limits(s.AtRisk - s.Failed)
		c.Failures += s.Failed
		c.Steps = append(c.Steps, s)
	}
	c.flat, _ = newBand(limits, level).limits(c.first)
	c.warn()
	return c, nil
}

// Enough gives the ages between which at least n units are under watch: the
// first and the last such age; 0 and 0 where there is none.
func Enough(units []Unit, n int) (from, to float64) {
	watch := newClock(len(units), func(i int) (float64, float64) { return units[i].Entry, units[i].Exit })
	from = math.Inf(1)
	for _, u := range units {
		if u.Entry < from && watch.atRisk(math.Nextafter(u.Entry, math.Inf(1))) >= n {
			from = u.Entry
		}
		if u.Exit > to && watch.atRisk(u.Exit) >= n {
			to = u.Exit
		}
	}
	if math.IsInf(from, 1) {
		return 0, 0
	}
	return from, to
}

// reached keeps the part of each unit's watch that lies past the age from.
func reached(units []Unit, from float64) []Unit {
	var kept []Unit
	for _, u := range units {
		if u.Exit > from {
			u.Entry = math.Max(u.Entry, from)
			kept = append(kept, u)
		}
	}
	return kept
}

// Kind names the estimator.
func (c *Curve) Kind() string {
	if c.kind == "" {
		return "Kaplan-Meier"
	}
	return c.kind
}

func (c *Curve) warn() {
	switch {
	case c.Units == 0:
		c.Warnings = append(c.Warnings, "no units under watch")
	case c.Failures == 0:
		c.Warnings = append(c.Warnings, "no failures: only a lower limit can be claimed")
	}
	for i, s := range c.Steps {
		if s.Survival == 0 && i < len(c.Steps)-1 {
			c.Warnings = append(c.Warnings, fmt.Sprintf(
				"at age %g all %d under watch had failed, while units came under watch at greater ages: the curve after it is lost; ask for the curve from a later age",
				s.Time, s.AtRisk))
			break
		}
	}
	for _, s := range c.Steps {
		if s.Failed > 0 && s.AtRisk < 5 && s.Survival > 0.5 {
			c.Warnings = append(c.Warnings, fmt.Sprintf(
				"only %d under watch at the failure at age %g: the curve from there rests on few units", s.AtRisk, s.Time))
			break
		}
	}
}
