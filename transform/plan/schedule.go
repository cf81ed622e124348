package plan

import (
	"math"
	"sort"
	"time"
)

// schedule gives each action its day: as early as its lamp can be at hand,
// together with others of its room whose spans overlap, on a day when work is
// possible. stock is what planned work may take, by lamp type.
func schedule(in Input, acts []*action, stock map[string]Stock) {
	takeStock(acts, stock)
	for _, a := range acts {
		lead := 0.0
		switch t := a.terms(in.Settings); {
		case a.needsLamp && !a.fromStock:
			lead = t.leadLamp
		case a.needsGear && !a.fromStock:
			lead = t.leadGear
		}
		a.overdue = lead > a.late
		a.early = math.Max(a.early, lead)
		a.prefer = math.Max(a.prefer, a.early)
		a.late = math.Max(a.late, a.prefer)
	}
	for _, group := range byRoom(acts) {
		for len(group) > 0 {
			var visit []*action
			visit, group = stab(group)
			setDay(in, visit)
		}
	}
	for _, group := range byRoom(acts) {
		together(in, group)
	}
}

// together draws a room's visit to the day of the one before it where all its
// work may be done that early: windows may have brought two visits near each
// other whose spans do not overlap.
func together(in Input, group []*action) {
	today := day(in.AsOf)
	at := map[time.Time][]*action{}
	for _, a := range group {
		if !a.date.IsZero() {
			at[a.date] = append(at[a.date], a)
		}
	}
	days := make([]time.Time, 0, len(at))
	for d := range at {
		days = append(days, d)
	}
	sort.Slice(days, func(i, j int) bool { return days[i].Before(days[j]) })
	for i := 1; i < len(days); i++ {
		before, fits := days[i-1], true
		for _, a := range at[days[i]] {
			fits = fits && math.Ceil(a.early) <= before.Sub(today).Hours()/24
		}
		if !fits {
			continue
		}
		for _, a := range at[days[i]] {
			a.date = before
		}
		at[before] = append(at[before], at[days[i]]...)
		days[i] = before
	}
}

// takeStock hands out what lies in the store: to lamps that are dark first,
// then in the order in which they are wanted.
func takeStock(acts []*action, stock map[string]Stock) {
	order := append([]*action(nil), acts...)
	sort.SliceStable(order, func(i, j int) bool {
		a, b := order[i], order[j]
		if a.urgent != b.urgent {
			return a.urgent
		}
		return a.prefer < b.prefer
	})
	left := map[string]Stock{}
	for t, s := range stock {
		left[t] = s
	}
	for _, a := range order {
		s := left[a.lampType]
		switch {
		case a.needsLamp && s.Lamps > 0:
			s.Lamps--
			a.fromStock = true
		case a.needsGear && s.Gear > 0:
			s.Gear--
			a.fromStock = true
		}
		left[a.lampType] = s
	}
}

// byRoom splits the actions, rooms in order of name, cleaning apart from the rest.
func byRoom(acts []*action) [][]*action {
	at := map[string][]*action{}
	for _, a := range acts {
		key := a.room
		if a.do == Clean {
			key += "\x00clean"
		}
		at[key] = append(at[key], a)
	}
	var out [][]*action
	for _, k := range sortedKeys(at) {
		out = append(out, at[k])
	}
	return out
}

// stab takes the action that must be done first and all that can share its
// day: the fewest visits for spans on a line.
func stab(group []*action) (visit, rest []*action) {
	first := group[0]
	for _, a := range group {
		if a.late < first.late {
			first = a
		}
	}
	for _, a := range group {
		if a.early <= first.late {
			visit = append(visit, a)
		} else {
			rest = append(rest, a)
		}
	}
	return visit, rest
}

// setDay puts a visit on an open day near the middle of what its actions
// prefer, inside all their spans where there is one.
func setDay(in Input, visit []*action) {
	early, late := 0.0, math.Inf(1)
	prefer := make([]float64, len(visit))
	for i, a := range visit {
		early, late = math.Max(early, a.early), math.Min(late, a.late)
		prefer[i] = a.prefer
	}
	sort.Float64s(prefer)
	want := math.Min(math.Max(prefer[(len(prefer)-1)/2], early), late)
	today := day(in.AsOf)
	// An early end between two days counts from the day after: lamps are at hand then.
	from := today.AddDate(0, 0, int(math.Ceil(early)))
	date, after, ok := visit[0].terms(in.Settings).cal.snap(from, addDays(today, math.Max(want, math.Ceil(early))))
	for _, a := range visit {
		if !ok {
			a.noWindow = true
			continue
		}
		a.date = date
		if after && date.After(addDays(today, math.Ceil(a.late))) {
			a.overdue = true
		}
	}
}

// terms are those that hold for the action.
func (a *action) terms(s Settings) terms {
	if a.lamp != nil {
		return a.lamp.t
	}
	return s.resolve(a.room, a.lampType)
}

// cash is what the action costs on its day: a lamp from the store is paid for.
func (a *action) cash(s Settings) float64 {
	if !a.fromStock {
		return a.cost
	}
	t := a.terms(s)
	if a.needsGear {
		return a.cost - or(t.gear, 0)
	}
	return a.cost - or(t.lamp, 0)
}

// visitKey names a visit.
type visitKey struct {
	room string
	date time.Time
}
