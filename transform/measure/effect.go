package measure

import (
	"math"
	"sort"

	"wane/transform/forecast"
)

// LampEffect is what a measurement would do to one lamp's answer.
type LampEffect struct {
	Fixture       string
	Before, After float64 // width of the due date's interval, days; NaN where it has no two ends
	Was, Is       forecast.Status
	// Had and Left are the width of the due hours' interval, ln of upper over lower end,
	// before and after; NaN where it has no two ends.
	Had, Left float64
}

// effects keeps the answers with all that was taken as made.
type effects struct {
	in     *Input
	status []forecast.Status
	width  []float64
	ln     []float64
}

func newEffects(in *Input) *effects {
	n := len(in.Answers)
	e := &effects{in: in, status: make([]forecast.Status, n), width: make([]float64, n), ln: make([]float64, n)}
	for i := range in.Answers {
		a := &in.Answers[i]
		e.status[i], e.width[i], e.ln[i] = a.Status, width(a), HoursWidth(a)
	}
	return e
}

// width of the due date's interval, days.
func width(a *forecast.Answer) float64 {
	if w := a.DueDay.Hi - a.DueDay.Lo; !math.IsInf(w, 0) {
		return w
	}
	return math.NaN()
}

// HoursWidth is the width of the due hours' interval, ln of its upper over its lower
// end; NaN where it has no two ends.
func HoursWidth(a *forecast.Answer) float64 {
	if w := math.Log(a.DueHours.Hi / a.DueHours.Lo); !math.IsInf(w, 0) {
		return w
	}
	return math.NaN()
}

// askedAt is from which shrinking of its spread on a lamp's answer is asked again.
const askedAt = .02

// after asks the lamps that a choice touched again, as due asks.
func (e *effects) after(w *weigher, was []standing, c *Choice) {
	var touched []int
	for k := range w.stakes {
		s, t := w.now[k], was[k]
		if s.spread < (1-askedAt)*t.spread || s.dated != t.dated {
			touched = append(touched, w.at[k])
		}
	}
	found := make([]LampEffect, len(touched))
	inParallel(len(touched), func(n int) {
		i := touched[n]
		p := w.known.Posterior(&e.in.Posteriors[i])
		a := p.Answer(e.in.Fit.Defaults(), e.in.Asking)
		found[n] = LampEffect{Fixture: e.in.Lamps[i].Fixture, Before: e.width[i], After: width(&a), Was: e.status[i],
			Is: a.Status, Had: e.ln[i], Left: HoursWidth(&a)}
	})
	c.Moved, c.Dated = 0, 0
	var before, after []float64
	for n, i := range touched {
		f := found[n]
		e.status[i], e.width[i], e.ln[i] = f.Is, f.After, f.Left
		dates := dated(f.Is) && !dated(f.Was)
		if dates {
			c.Dated++
		}
		shrinks := f.After < (1-wideBy)*f.Before
		if !dates && !shrinks {
			continue
		}
		c.Moved++
		c.Lamps = append(c.Lamps, f)
		if dated(f.Was) && !math.IsNaN(f.Before) && !math.IsNaN(f.After) {
			before, after = append(before, f.Before), append(after, f.After)
		}
	}
	c.Before, c.After = median(before), median(after)
	share := func(f LampEffect) float64 {
		if math.IsNaN(f.Before) || math.IsNaN(f.After) {
			return 0
		}
		return f.After / f.Before
	}
	sort.SliceStable(c.Lamps, func(a, b int) bool { return share(c.Lamps[a]) < share(c.Lamps[b]) })
}
