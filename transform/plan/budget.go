package plan

import (
	"math"
	"sort"
	"time"
)

// budgetPeriods keeps the spending of each calendar period under the cap: what gains
// least for its money waits for the first open day of the next period. Work
// that no period can pay, or that waits past the last period, loses its day.
func budgetPeriods(in Input, acts []*action, until time.Time) []PeriodSpend {
	b := in.Settings.Budget
	capped := b != nil && b.Cap >= 0 && !math.IsInf(b.Cap, 0) && oneOf(b.Period, "month", "quarter", "year")
	period := "year"
	if capped {
		period = b.Period
	}
	for _, a := range acts {
		if a.date.After(until) {
			until = a.date
		}
	}
	var out []PeriodSpend
	for from := day(in.AsOf); !from.After(until); {
		to := endOf(from, period)
		out = append(out, spend(in, acts, from, to, until, capped))
		from = to.AddDate(0, 0, 1)
	}
	return out
}

func spend(in Input, acts []*action, from, to, until time.Time, capped bool) PeriodSpend {
	p := PeriodSpend{From: from, To: to}
	if capped {
		p.Cap = in.Settings.Budget.Cap
	}
	var due []*action
	for _, a := range acts {
		if !a.date.IsZero() && !a.date.Before(from) && !a.date.After(to) {
			due = append(due, a)
		}
	}
	sort.SliceStable(due, func(i, j int) bool {
		a, b := due[i], due[j]
		if a.urgent != b.urgent {
			return a.urgent
		}
		return a.lossYear*math.Max(b.cost, 1e-9) > b.lossYear*math.Max(a.cost, 1e-9)
	})
	paid := map[visitKey]bool{}
	for _, a := range due {
		t := a.terms(in.Settings)
		fixed := t.visit()
		if a.do == Clean {
			fixed = 0
		}
		key := visitKey{a.room, a.date}
		cost := a.cash(in.Settings)
		alone := cost + fixed
		if !paid[key] {
			cost = alone
		}
		if capped && p.Planned+cost > p.Cap+1e-9 {
			p.Deferred++
			a.forBudget = true
			next, ok := t.cal.next(to.AddDate(0, 0, 1))
			if alone > p.Cap+1e-9 || !ok || next.After(until) {
				a.noMoney, a.date = true, time.Time{}
			} else {
				a.date = next
			}
			continue
		}
		p.Planned += cost
		if a.do != Clean {
			paid[key] = true
		}
	}
	p.Over = capped && p.Planned > p.Cap+1e-9
	return p
}

// endOf is the last day of the calendar period that holds d.
func endOf(d time.Time, period string) time.Time {
	y, m, _ := d.Date()
	switch period {
	case "month":
		m++
	case "quarter":
		m = (m-1)/3*3 + 4
	default:
		y, m = y+1, time.January
	}
	return time.Date(y, m, 1, 0, 0, 0, 0, time.UTC).AddDate(0, 0, -1)
}
