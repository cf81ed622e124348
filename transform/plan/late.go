package plan

import (
	"fmt"
	"math"
	"time"
)

// lateWhy says why work comes later than wanted: its room's work window, its
// lead time or the budget, whichever holds it up. Where it is the window, it
// says what an exception would save and what it would cost, or that the price
// is not known.
func (a *action) lateWhy(in Input) string {
	const late = "later than wanted: "
	t, today := a.terms(in.Settings), day(in.AsOf)
	soonest := addDays(today, math.Ceil(a.early))
	wait := a.date.Sub(soonest).Hours() / 24
	switch {
	case a.forBudget:
		return late + "the budget pays it in no earlier period"
	case wait < 1 || t.cal.open(soonest):
		return fmt.Sprintf("%swhat it needs is at hand on %s at the earliest, by its lead time", late,
			soonest.Format(time.DateOnly))
	}
	words := fmt.Sprintf("%sit could be done on %s, but the work window of the room opens on %s, %.0f days after", late,
		soonest.Format(time.DateOnly), a.date.Format(time.DateOnly), wait)
	if a.lamp.v.perHour <= 0 {
		return words + "; whether an exception pays cannot be said without the value of the light"
	}
	saved := a.lossYear * wait / daysPerYear
	own := a.lamp.spot - a.cost + t.visit()
	if a.needsGear {
		own = t.visit()
	}
	verdict := "not worth it"
	if saved > own {
		verdict = "worth asking for"
	}
	return fmt.Sprintf("%s; an exception would save light worth %s for %s more of a visit of its own: %s", words,
		in.Settings.money(saved), in.Settings.money(own), verdict)
}
