package plan

import (
	"fmt"
	"math"
	"time"
)

// action is one piece of work before it has a day.
type action struct {
	room, lampType      string
	lamp                *lampCase // nil: the whole room (cleaning)
	do                  Decision
	why                 string
	cost                float64 // without the visit
	early, prefer, late float64 // days from AsOf
	urgent              bool    // the lamp gives no light or soon none, or the gear is at fault
	lossYear            float64 // money a year that waiting costs, at prefer
	date                time.Time
	overdue             bool    // the day lies after late
	fromToday           float64 // days from AsOf to date
	needsLamp           bool
	needsGear           bool
	fromStock           bool
	forDirt             bool // a cleaning that only lamps under their threshold ask for
	forBudget           bool // moved for want of budget
	noWindow, noMoney   bool
}

// consolidateDays is how much earlier than its due day a lamp may be changed
// to share a visit when no cost says what that is worth.
const consolidateDays = 45.0

// decide gives each lamp of the lot its decision and work.
func (q *lot) decide(in Input, horizon int) []*action {
	s := in.Settings
	risk, limit := s.risk(), s.limit()
	grid := weeks(horizon)
	var acts []*action
	var open []*lampCase // lamps without urgent work
	for _, k := range q.lamps {
		k.how = q.how
		if a := k.fault(); a != nil {
			acts = append(acts, a)
			continue
		}
		k.cleanFirst(in)
		if k.low {
			acts = append(acts, &action{room: k.Room, lampType: k.LampType, lamp: k, do: SpotRelamp, cost: k.spot,
				needsLamp: true, lossYear: k.waiting(0),
				why: fmt.Sprintf("holds the room's lowest level under %.0f %% of its mean", 100*k.t.minUniformity)})
			continue
		}
		open = append(open, k)
	}
	if q.how.known && q.how.group {
		return append(acts, q.groupWork(open, grid, risk, limit, s)...)
	}
	for _, k := range open {
		if a := k.spotWork(q.how, grid, risk, limit, s); a != nil {
			acts = append(acts, a)
		}
	}
	return acts
}

// describe fills the figures of the lamp that need no decision.
func (k *lampCase) describe(p lotPolicy, in Input) {
	k.plan.Efficacy, k.plan.EnergyPerMol = k.efficacy()
	level := 1 - k.f.lost(k.HoursNow)
	switch {
	case k.Status == "dark":
		level = 0
	case k.Level.Known():
		level = k.Level.Centre
	}
	k.plan.LossPerYear = k.v.lossYear(level, k.BurnPerDay)
	k.plan.LightLostMolYear = math.Max(0, k.v.molHour*(1-level)*k.BurnPerDay*daysPerYear)
	if d, ok := k.dueDays(in.Settings.risk()); ok {
		k.plan.DueAtRisk = addDays(day(in.AsOf), d)
	}
	k.plan.Interval = Interval{Why: k.unpriced()}
	if k.plan.Interval.Why == "" {
		visits := math.Max(p.perVisit, 1)
		k.plan.Interval = k.interval(k.model(k.f, k.spot+k.t.visit()/visits, nil).BestAge(), k.f)
		if k.standIn {
			k.plan.Interval.Why = "rests on the lamps of its type, for want of a forecast of its own"
		} else if k.c.bound {
			k.plan.Interval.Why = "rests on the earliest crossing that can be claimed: the interval is at least this long"
		}
	}
}

// spotWork plans one lamp by itself; nil = keep it through the horizon.
func (k *lampCase) spotWork(p lotPolicy, grid []float64, risk float64, limit bool, s Settings) *action {
	last := grid[len(grid)-1]
	a := &action{room: k.Room, lampType: k.LampType, lamp: k, do: SpotRelamp, cost: k.spot, needsLamp: true, early: last,
		prefer: last, late: last}
	due, hasDue := k.dueDays(risk)
	weighed := p.known && k.unpriced() == "" && !(k.standIn)
	planned := k.spot + k.t.visit()/math.Max(p.perVisit, 1)
	if weighed {
		j := k.excess(grid, p.spotRate, planned, false)
		lo, best, hi := least(j, 0.02*p.spotRate*p.spotHours)
		a.early, a.prefer, a.late = grid[lo], grid[best], grid[hi]
		a.why = fmt.Sprintf("keeping it past this day costs more than a new lamp (%s a year over its life)",
			s.money(p.spotRate*k.BurnPerDay*daysPerYear))
	}
	if hasDue && (limit || !weighed) && due < a.late {
		if due <= a.prefer {
			a.prefer = due
			a.why = fmt.Sprintf("falls under its threshold of %.0f %% by then with a chance of %.0f %%", 100*k.Threshold,
				100*risk)
			if k.c.at(0.5) <= k.HoursNow {
				a.why = fmt.Sprintf("is under its threshold of %.0f %%", 100*k.Threshold)
			}
		}
		a.late = math.Max(due, 0)
		if !weighed {
			a.early = due - consolidateDays
		}
		a.early = math.Max(0, math.Min(a.early, a.prefer))
	}
	if a.prefer >= last {
		k.keep(last, hasDue, weighed, p)
		return nil
	}
	a.lossYear = k.waiting(a.prefer)
	return a
}

// keep words why the lamp stays.
func (k *lampCase) keep(last float64, hasDue, weighed bool, p lotPolicy) {
	switch {
	case len(k.c.nodes) == 0:
		k.because("kept: " + k.c.why)
	case k.c.bound:
		k.because(fmt.Sprintf("kept: not expected under its threshold before %s, past what its data can say",
			hoursText(k.c.nodes[0])))
	case weighed:
		k.because("kept: within the horizon a new lamp would cost more than the light this one loses")
	default:
		k.because("kept: not expected under its threshold within the horizon")
	}
	if hasDue {
		k.chance(last)
	}
}

// waiting is what a year's delay past day x costs: money where light has a
// value, else the share of light lost, so that the worst still come first.
func (k *lampCase) waiting(x float64) float64 {
	lost := k.f.lost(k.hoursIn(x))
	if k.v.perHour > 0 {
		return k.v.perHour * lost * k.BurnPerDay * daysPerYear
	}
	return lost
}

// groupWork finds the day of the lot's group relamp and takes out the lamps
// that must go before it and those too young to go with it.
func (q *lot) groupWork(open []*lampCase, grid []float64, risk float64, limit bool, s Settings) []*action {
	last := grid[len(grid)-1]
	p := q.how
	own := make([]int, len(open)) // best day of the lamp by itself, in the grid
	total := make([]float64, len(grid))
	forced := make([]float64, len(open)) // day by which the lamp must go, or past the horizon
	for n, k := range open {
		forced[n] = last + 1
		if len(k.f.slopes) == 0 {
			continue
		}
		planned := k.group + k.t.visit()/float64(len(q.lamps))
		j := k.excess(grid, p.grpRate, planned, true)
		_, own[n], _ = least(j, 0)
		if d, ok := k.dueDays(risk); ok && limit {
			forced[n] = d
		}
		premium := k.spot + k.t.visit()/math.Max(p.perVisit, 1) - planned
		alone := 0.0
		for i, x := range grid {
			if x <= forced[n] {
				alone = j[i] + premium
				total[i] += j[i]
			} else {
				total[i] += alone
			}
		}
	}
	lo, best, hi := least(total, 0.02*p.grpRate*p.grpHours*float64(len(q.lamps)))
	x := grid[best]
	var acts []*action
	for n, k := range open {
		early, late := grid[lo], grid[hi]
		young := k.hoursIn(x) < p.grpHours/2
		switch {
		case forced[n] < x:
			a := k.spotWork(p, grid, risk, limit, s)
			if a != nil {
				a.why += ", before the group's day"
				acts = append(acts, a)
			}
		case x >= last:
			_, ok := k.dueDays(risk)
			k.keep(last, ok, true, p)
		case young:
			k.because(k.unforecast())
			k.because(fmt.Sprintf("left in at the group relamp: younger than half the group's interval of %s",
				hoursText(p.grpHours)))
			k.chance(x)
		default:
			why := fmt.Sprintf("goes with its room: from here its light and failures cost more than a new lamp does in the long run (%s a year and lamp)", s.money(p.grpRate*k.BurnPerDay*daysPerYear))
			if own[n] > best {
				why = fmt.Sprintf("goes with its room, though alone it would stay longer: past half the group's interval of %s, waiting for the next group relamp would cost more than a new lamp", hoursText(p.grpHours))
				k.because(fmt.Sprintf("alone it would stay %.0f days more", grid[own[n]]-x))
			}
			k.because(k.unforecast())
			acts = append(acts, &action{room: k.Room, lampType: k.LampType, lamp: k, do: GroupRelamp, cost: k.group,
				needsLamp: true,
				early:     early, prefer: x, late: math.Min(late, math.Max(forced[n], x)), lossYear: k.waiting(x), why: why})
		}
	}
	return acts
}

// chance notes how likely the lamp is under its threshold so many days from now.
func (k *lampCase) chance(days float64) {
	switch {
	case k.Status == "dark":
		k.plan.ChanceUnder, k.plan.ChanceKnown = 1, true
	case len(k.c.nodes) > 0 && !k.c.bound:
		k.plan.ChanceUnder, k.plan.ChanceKnown = k.c.by(k.hoursIn(days)), true
	}
}
