package plan

import (
	"fmt"
	"math"
	"sort"
	"strings"
)

// Make plans the site. Lamps that Validate objects to are left out; everything
// wrong or missing is in Problems and Notes. Make reads no clock and draws no
// random numbers.
func Make(in Input) Result {
	r, _ := build(in)
	return r
}

// build is Make, and hands back the cases for the simulation.
func build(in Input) (Result, []*lot) {
	today := day(in.AsOf)
	horizon := in.Settings.horizon()
	r := Result{AsOf: today, Until: today.AddDate(0, 0, horizon), Currency: in.Settings.Currency, Problems: in.Validate(),
		Cautions: Cautions()}
	all := cases(in, soundLamps(in))
	pl := pools(all)
	qs := lots(all, pl)

	rooms := map[string][]*lampCase{}
	for _, k := range all {
		rooms[k.Room] = append(rooms[k.Room], k)
	}
	for _, name := range sortedKeys(rooms) {
		_, _, low := uneven(rooms[name])
		for _, k := range low {
			k.low = true
		}
	}
	// How many lamps share a spot visit is known only after the visits are made:
	// one round with a guess, one with its answer.
	acts := decideAll(in, qs, horizon, nil)
	schedule(in, acts, nil)
	shared := perVisit(acts)
	for _, k := range all {
		k.plan.Reasons, k.plan.Decision, k.plan.ChanceUnder, k.plan.ChanceKnown = nil, Keep, 0, false
	}
	acts = decideAll(in, qs, horizon, shared)
	for _, k := range all {
		k.describe(k.how, in)
	}

	cleans := map[string]CleanPlan{}
	dirt := map[string]float64{}
	var cleanActs []*action
	for _, name := range sortedKeys(rooms) {
		c, d, a := cleanRoom(in, name, rooms[name], horizon)
		cleans[name], dirt[name] = c, d
		if a != nil {
			acts = append(acts, a)
			cleanActs = append(cleanActs, a)
		}
	}
	r.Spares, _ = spareLines(in, all)
	free := reserve(in, r.Spares, acts)
	schedule(in, acts, free)
	acts, cleanActs = needless(acts, cleanActs, rooms, cleans)
	r.Spending = budgetPeriods(in, acts, r.Until)
	r.Orders = orderList(in, acts, r.Spares, free)
	settle(in, acts)
	for _, a := range cleanActs {
		c := cleans[a.room]
		c.Date = a.date
		cleans[a.room] = c
		cleanDay(rooms[a.room], a.date)
	}
	r.Visits = visits(in, acts, rooms)
	for _, k := range all {
		r.Lamps = append(r.Lamps, k.plan)
	}
	for _, name := range sortedKeys(rooms) {
		r.Rooms = append(r.Rooms, roomPlan(in, name, rooms[name], qs, acts, cleans[name], dirt[name]))
	}
	r.Notes, r.Assumptions = notes(in, all, acts, r), assumptions(in, all)
	return r, qs
}

func soundLamps(in Input) []Lamp {
	var out []Lamp
	seen := map[string]bool{}
	for _, l := range in.Lamps {
		var p problems
		l.validate(&p, "")
		if len(p) == 0 && !seen[l.Fixture] {
			out = append(out, l)
		}
		seen[l.Fixture] = true
	}
	return out
}

func decideAll(in Input, qs []*lot, horizon int, shared map[string]float64) []*action {
	var acts []*action
	for _, q := range qs {
		n, ok := shared[q.room]
		if !ok {
			n = math.Max(1, float64(len(q.lamps))/4)
		}
		q.how = q.policy(n, in.Settings)
		acts = append(acts, q.decide(in, horizon)...)
	}
	return acts
}

// perVisit is the mean number of lamps changed singly in one visit, by room.
func perVisit(acts []*action) map[string]float64 {
	lamps, visits := map[string]float64{}, map[string]map[visitKey]bool{}
	for _, a := range acts {
		if a.do != SpotRelamp || a.urgent || a.date.IsZero() {
			continue
		}
		if visits[a.room] == nil {
			visits[a.room] = map[visitKey]bool{}
		}
		visits[a.room][visitKey{a.room, a.date}] = true
		lamps[a.room]++
	}
	out := map[string]float64{}
	for room, n := range lamps {
		out[room] = n / float64(len(visits[room]))
	}
	return out
}

// settle writes the days and their reasons into the lamps' plans.
func settle(in Input, acts []*action) {
	today := day(in.AsOf)
	for _, a := range acts {
		k := a.lamp
		if k == nil {
			continue
		}
		k.work, a.fromToday = a, a.date.Sub(today).Hours()/24
		p := &k.plan
		p.Decision, p.Cost, p.Date = a.do, a.cost, a.date
		p.CostMissing = k.missing
		if a.do == GroupRelamp {
			p.CostMissing = k.missingGrp
		}
		p.Preferred, p.Earliest, p.Latest = addDays(today, a.prefer), addDays(today, a.early), addDays(today, a.late)
		k.because(a.why)
		switch {
		case a.noWindow:
			k.because("no open day for this room in the next ten years: give a window in which work is possible")
		case a.noMoney:
			k.because("the budget pays it in no period of the horizon: raise the cap or leave the lamp until it fails")
		case a.forBudget:
			k.because("moved to a later period for want of budget")
		}
		if a.overdue && !a.date.IsZero() {
			k.because(a.lateWhy(in))
		}
		if !a.date.IsZero() {
			k.chance(a.date.Sub(today).Hours() / 24)
		}
	}
}

// visits gathers the work of one room and day, sorted by bay and fixture.
func visits(in Input, acts []*action, rooms map[string][]*lampCase) []Visit {
	at := map[visitKey]*Visit{}
	lift, late := map[visitKey]bool{}, map[visitKey][]string{}
	for _, a := range acts {
		if a.date.IsZero() {
			continue
		}
		key := visitKey{a.room, a.date}
		v := at[key]
		if v == nil {
			v = &Visit{Date: a.date, Room: a.room}
			at[key] = v
		}
		item := WorkItem{Fixture: "all", LampType: a.lampType, Do: a.do, Why: a.why, Cost: a.cost}
		if k := a.lamp; k != nil {
			item.Bay, item.Fixture, item.LampType, item.Life = k.Bay, k.Fixture, k.LampType, k.Life
			if !lift[key] {
				lift[key] = true
				v.Cost += k.t.visit()
			}
		}
		if a.needsLamp {
			v.Disposal++
		}
		if a.overdue {
			late[key] = append(late[key], item.Fixture)
		}
		v.Cost += a.cost
		v.Work = append(v.Work, item)
	}
	var out []Visit
	for key, v := range at {
		if names := late[key]; len(names) > 0 {
			v.Late = len(names)
			sort.Strings(names)
			who := strings.Join(names, ", ")
			if len(names) == len(v.Work) && len(names) > 1 {
				who = "all of it"
			}
			v.Notes = append(v.Notes, "later than wanted: "+who)
		}
		sort.SliceStable(v.Work, func(i, j int) bool {
			if v.Work[i].Bay != v.Work[j].Bay {
				return v.Work[i].Bay < v.Work[j].Bay
			}
			return v.Work[i].Fixture < v.Work[j].Fixture
		})
		out = append(out, *v)
	}
	sort.Slice(out, func(i, j int) bool {
		if !out[i].Date.Equal(out[j].Date) {
			return out[i].Date.Before(out[j].Date)
		}
		return out[i].Room < out[j].Room
	})
	return out
}

func roomPlan(in Input, name string, ks []*lampCase, qs []*lot, acts []*action, c CleanPlan, dirt float64) RoomPlan {
	r := RoomPlan{Room: name, Lamps: len(ks), Decision: Keep, Clean: c, DirtLoss: dirt}
	r.MeanLevel, r.Uniformity, _ = uneven(ks)
	levels := make([]float64, 0, len(ks))
	for _, k := range ks {
		if k.Level.Known() && k.Status != "dark" {
			levels = append(levels, k.Level.Centre)
		}
	}
	if cv := variation(levels); cv > 0 {
		for _, k := range ks {
			r.UniformLoss += k.v.spread(cv) * k.BurnPerDay * daysPerYear
		}
	}
	r.CostsKnown = true
	for _, q := range qs {
		if q.room != name {
			continue
		}
		p := q.how
		r.CostsKnown = r.CostsKnown && p.known
		r.SpotYear += p.spotYear
		r.GroupYear += p.grpYear
		if len(r.Group.Curve) == 0 {
			r.Group, r.Spot, r.ByGroup = p.grp, p.spot, p.known && p.group
			q.responseRange(&r.Group, &r.Spot)
		}
		r.Reasons = append(r.Reasons, q.lampType+": "+p.compare(in.Settings, len(q.lamps)))
		for _, w := range p.words {
			r.Reasons = append(r.Reasons, q.lampType+": "+w)
		}
	}
	if !r.CostsKnown {
		r.SpotYear, r.GroupYear = 0, 0
	}
	// The room does what most of its dated work does, at the first such day.
	count := map[Decision]int{}
	for _, a := range acts {
		if a.room == name && a.lamp != nil && !a.date.IsZero() {
			count[a.do]++
		}
	}
	for _, d := range []Decision{GroupRelamp, SpotRelamp, ReplaceGear} {
		if count[d] > count[r.Decision] {
			r.Decision = d
		}
	}
	if r.Decision == Keep && c.Do {
		r.Decision, r.Date = Clean, c.Date
	}
	for _, a := range acts {
		if a.room == name && a.lamp != nil && a.do == r.Decision && !a.date.IsZero() &&
			(r.Date.IsZero() || a.date.Before(r.Date)) {
			r.Date = a.date
		}
	}
	for _, f := range in.Rooms {
		if f.Name == name && strings.TrimSpace(f.FreeWords) != "" {
			r.Reasons = append(r.Reasons, f.FreeWords)
		}
	}
	if r.Uniformity > 0 {
		r.Reasons = append(r.Reasons, fmt.Sprintf("levels: mean %.0f %%, lowest %.0f %% of the mean", 100*r.MeanLevel,
			100*r.Uniformity))
	}
	return r
}

func variation(x []float64) float64 {
	if len(x) < 2 {
		return 0
	}
	mean, ss := 0.0, 0.0
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for _, v := range x {
		ss += (v - mean) * (v - mean) / float64(len(x)-1)
	}
	if mean <= 0 {
		return 0
	}
	return math.Sqrt(ss) / mean
}
