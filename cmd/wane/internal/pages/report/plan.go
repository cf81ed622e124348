package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"wane/cmd/wane/internal/pages/chart"
	"wane/cmd/wane/internal/plans"
	"wane/transform/calendar"
	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/plan"
)

// planned is the page of the relamp plan.
type planned struct {
	Lead      string
	Tiles     []tile
	First     []string // what waits for a person
	Calendar  *Figure
	Visits    Table
	Measure   *toMeasure // nil where nothing was weighed
	Orders    Table
	Spares    Table
	Spending  Table
	Rooms     Table
	Each      []planRoom
	WhatIf    *Figure
	WhatTable Table
	WhatNotes []string
	Lamps     Table
	LeftOut   []string
	Notes     []string
	Assumed   []string
	Cautions  []string
	Files     []planFile
}

type planFile struct{ Link, Words string }

// planBook builds the page.
type planBook struct {
	*book
	m *plans.Made
	r *plan.Result
}

func planOf(b *book) (any, bool) {
	m := b.in.Plan
	if m == nil || len(m.Result.Lamps) == 0 {
		return nil, false
	}
	pb := planBook{b, m, &m.Result}
	r := pb.r
	p := planned{LeftOut: allSpoken(m.LeftOut), Notes: allSpoken(r.Notes), Assumed: allSpoken(r.Assumptions),
		Cautions: r.Cautions,
		Files: []planFile{{sheetsFile, "work list to print, a sheet a visit"},
			{plans.Calendar, "calendar of visits and order days (iCalendar)"},
			{plans.LampsFile, "the plan, a row a lamp (CSV)"},
			{plans.OrderFile, "order list (CSV)"}, {plans.WorkFile, "work list (CSV)"}}}
	for _, n := range m.Needs() {
		p.First = append(p.First, sentence(spoken(n)))
	}
	p.Lead = fmt.Sprintf("What to clean, replace and order, made for %s and looking to %s; %s. The page is made again "+
		"each night. A date is the day that costs least among the days on which work is possible; it moves as "+
		"readings come in.", planDay(r.AsOf), planDay(r.Until), pb.unit())
	p.Tiles = pb.tiles()
	p.Calendar = pb.calendar()
	p.Visits, p.Orders, p.Spares, p.Spending = pb.visits(), pb.orders(), pb.spares(), pb.spending()
	p.Rooms, p.Measure = pb.rooms(), pb.whatToMeasure()
	for i := range r.Rooms {
		p.Each = append(p.Each, pb.room(&r.Rooms[i], i))
	}
	if m.Beside != nil && len(m.Beside.Rows) > 0 {
		p.WhatIf, p.WhatTable = pb.whatFigure(), pb.whatTable()
		for _, n := range m.Beside.Notes {
			p.WhatNotes = append(p.WhatNotes, sentence(spoken(n)))
		}
	}
	p.Lamps = pb.lamps()
	return p, true
}

// planSoon is how far ahead the tiles look, days.
const planSoon = 90

func (p planBook) tiles() []tile {
	until := p.r.AsOf.AddDate(0, 0, planSoon)
	visits, lamps, cost, orders := 0, 0, 0.0, 0
	for _, v := range p.r.Visits {
		if !v.Date.After(until) {
			visits++
			lamps += v.Disposal
			cost += v.Cost
		}
	}
	for _, o := range p.r.Orders {
		if o.Quantity > 0 && !o.OrderBy.After(p.r.AsOf.AddDate(0, 0, 14)) {
			orders++
		}
	}
	return []tile{
		{count(orders, "order", "orders"), "", "to place within 14 days", "#orders", orders > 0},
		{count(visits, "visit", "visits"), "", fmt.Sprintf("in the next %d days", planSoon), "#visits", false},
		{count(lamps, "lamp", "lamps"), "", "to replace in them", "#visits", false},
		{p.priced(cost), "", "for that work", "#spending", false},
	}
}

func planDay(t time.Time) string {
	if t.IsZero() {
		return "no day"
	}
	return date(calendar.DayOf(t, time.UTC))
}

func (p planBook) money(x float64) string {
	return strings.ReplaceAll(plans.Money(p.r.Currency, x), " ", "\u00a0")
}

// priced writes what something costs; nothing is free, so 0 is a price that
// nobody gave.
func (p planBook) priced(x float64) string {
	if x == 0 {
		return "not priced"
	}
	return p.money(x)
}

func (p planBook) moneyOf(e estimate.Estimate) Value {
	return valueOf(e, "at least", func(x float64) string { return chart.Number(x, 0) })
}

// decided gives a decision its sign, so that colour is not needed.
func decided(d plan.Decision) Cell {
	signs := map[plan.Decision]string{plan.Keep: "·", plan.Clean: "○", plan.SpotRelamp: "◆", plan.GroupRelamp: "■",
		plan.ReplaceGear: "▲"}
	return Cell{Sign: signs[d], Text: string(d)}
}

// visits is the work list: a heading a visit, below it work of one kind in one
// bay, in the order in which the room is walked.
func (p planBook) visits() Table {
	t := Table{Caption: "Work list, visit by visit, by bay", Head: columns("Bay", "Do", "Fixtures", "Why"),
		Empty: "No work falls within the horizon.", Wordy: true}
	for i, v := range p.r.Visits {
		if p.brief && i == mostVisits {
			t.Caption += fmt.Sprintf(": the first %d of %d; all are in the work list's file", mostVisits, len(p.r.Visits))
			break
		}
		words := planDay(v.Date) + ", room " + plans.Title(v, p.r.Currency)
		if len(v.Notes) > 0 {
			words += ". " + sentence(spoken(strings.Join(v.Notes, "; ")))
		}
		t.Rows = append(t.Rows, Row{Heading: words})
		for _, g := range plans.Together(v) {
			for i, b := range g.Bays {
				why := cell(spoken(g.Why))
				if i > 0 {
					why = cell("as above")
				}
				if b.Bay == "" && slices.Equal(b.Fixtures, []string{wholeRoom}) {
					b.Bay, b.Fixtures = "whole room", nil
				}
				t.Rows = append(t.Rows, Row{Cells: []Cell{cell(b.Bay), decided(plan.Decision(g.Do)),
					cell(strings.Join(b.Fixtures, ", ")), why}})
			}
		}
	}
	return t
}

func (p planBook) orders() Table {
	t := Table{Caption: "Order list, by the day on which to order",
		Head:  columns("Order by", "Needed by", "What", "#Quantity", "#Cost", "What for"),
		Empty: "Nothing is to be ordered within the horizon."}
	for _, o := range p.r.Orders {
		what := "lamp"
		if o.Item == "gear" {
			what = "ballast or driver"
		}
		var parts []string
		if o.Planned > 0 {
			parts = append(parts, fmt.Sprintf("%d for planned work", o.Planned))
		}
		if o.Spares > 0 {
			parts = append(parts, plans.Count(o.Spares, "spare"))
		}
		if o.FromStock > 0 {
			parts = append(parts, fmt.Sprintf("%d of them from the store", o.FromStock))
		}
		by := cell(planDay(o.OrderBy))
		switch {
		case o.Quantity == 0:
			by = cell("from the store")
		case o.Late:
			by.Note = "too late for the wanted day"
		case !o.OrderBy.After(p.r.AsOf):
			by.Note = "today"
		}
		t.Rows = append(t.Rows, Row{Cells: []Cell{by, cell(planDay(o.NeededBy)),
			{Text: what, Note: lampType(fleet.LampType(o.LampType))}, cell(chart.Number(float64(o.Quantity), 0)),
			cell(p.priced(o.Cost)), {Text: strings.Join(parts, ", "), Note: spoken(strings.Join(o.Notes, "; "))}}})
	}
	return t
}

func (p planBook) spares() Table {
	t := Table{Caption: "Spares to hold until a delivery ordered at the next review",
		Head: columns("Lamp type", "#Lamps", "#Days", "#Failures to come", "#Spares", "#Chance that they last",
			"#In the store"), Empty: "No lamp is planned."}
	for _, s := range p.r.Spares {
		stock, last := cell("not known"), cell("")
		if s.Failures.Known() {
			stock = cell(chart.Number(float64(s.Stock), 0))
			last = Cell{Text: chart.Number(100*s.Achieved, 1) + "\u00a0%", Note: "asked: " + percentage(s.ServiceLevel)}
		}
		name := cell(lampType(fleet.LampType(s.LampType)))
		name.Note = spoken(strings.Join(s.Notes, "; "))
		t.Rows = append(t.Rows, Row{Cells: []Cell{name, cell(chart.Number(float64(s.Lamps), 0)),
			cell(chart.Number(s.Days, 0)),
			failuresTo(s.Failures), stock, last, cell(chart.Number(float64(s.OnHand), 0))}})
	}
	return t
}

// failuresTo writes an expected number of failures, which has a decimal, with
// the whole numbers of its interval.
func failuresTo(e estimate.Estimate) Cell {
	if !e.Known() || !e.Bounded() {
		return cell("not known")
	}
	return Cell{Text: chart.Number(e.Centre, 1), Interval: chart.Number(e.Lo, 0) + " to " + chart.Number(e.Hi, 0)}
}

func (p planBook) spending() Table {
	t := Table{Caption: "Planned spending by period; periods in which nothing is planned are left out",
		Head: columns("From", "To", "#Planned", "#Cap", "#Moved to later"), Empty: "No spending is planned."}
	for _, s := range p.r.Spending {
		if s.Planned == 0 && s.Deferred == 0 {
			continue
		}
		limit := "none"
		if s.Cap > 0 {
			limit = p.money(s.Cap)
		}
		amount := cell(p.money(s.Planned))
		if s.Over {
			amount.Note = "over the cap"
		}
		moved := ""
		if s.Deferred > 0 {
			moved = plans.Count(s.Deferred, "piece") + " of work"
		}
		t.Rows = append(t.Rows, Row{Cells: []Cell{cell(planDay(s.From)), cell(planDay(s.To)), amount, cell(limit),
			cell(moved)}})
	}
	return t
}

// hoursBand is a cost-optimal interval with the band within 2 %.
func hoursBand(iv plan.Interval) Cell {
	if !iv.Known {
		return Cell{Text: "not known", Note: iv.Why}
	}
	e := estimate.Estimate{Centre: iv.Hours, Lo: iv.Lo, Hi: iv.Hi}
	if iv.HiOpen {
		e.Hi = math.Inf(1)
	}
	return of(Hours(e))
}

func (p planBook) rooms() Table {
	t := Table{Caption: "Decisions by room. The interval is that at which the long-run cost is least; in brackets, the " +
		"hours within 2 % of it",
		Head: columns("Room", "#Lamps", "Decision", "Day", "#Best interval", "#A year, spot", "#A year, group", "#Mean level",
			"#Lowest / mean", "Cleaning"), Empty: "No room is planned."}
	for _, r := range p.r.Rooms {
		spot, group := cell("not known"), cell("not known")
		if r.CostsKnown {
			spot, group = cell(p.money(r.SpotYear)), cell(p.money(r.GroupYear))
		}
		level, even := cell("not known"), cell("not known")
		if r.MeanLevel > 0 {
			level, even = cell(chart.Number(r.MeanLevel, 2)), cell(chart.Number(r.Uniformity, 2))
		}
		clean := cell("none planned")
		if r.Clean.Do {
			clean = cell(planDay(r.Clean.Date))
		}
		day := cell("")
		if !r.Date.IsZero() {
			day = cell(planDay(r.Date))
		}
		t.Rows = append(t.Rows, Row{Cells: []Cell{cell(r.Room), cell(chart.Number(float64(r.Lamps), 0)), decided(r.Decision),
			day, hoursBand(r.Chosen()), spot, group, level, even, clean}})
	}
	return t
}

// planRoom is what is said of one room below the table of all.
type planRoom struct {
	Heading string
	Why     []string
	Curve   *Figure
}

func (p planBook) room(r *plan.RoomPlan, n int) planRoom {
	out := planRoom{Heading: roomWords(r.Room), Curve: p.curve(r, n)}
	for _, why := range r.Reasons {
		out.Why = append(out.Why, sentence(spoken(why)))
	}
	if iv := r.Chosen(); iv.ResponseLo > 0 && iv.ResponseHi-iv.ResponseLo > 10 {
		out.Why = append(out.Why, fmt.Sprintf("Over the published range of the crop's response to light the best interval "+
			"goes from %s to %s\u00a0h.", tens(iv.ResponseLo), tens(iv.ResponseHi)))
	}
	for _, why := range r.Clean.Reasons {
		out.Why = append(out.Why, sentence(spoken(why)))
	}
	return out
}

// tens writes run-hours, to tens.
func tens(h float64) string { return chart.Number(math.Round(h/10)*10, 0) }

func (p planBook) lamps() Table {
	t := Table{Caption: "Decisions by lamp", Head: columns("Fixture", "Do", "Day", "#Under the threshold by then", "#Cost",
		"#Value of the light lost a year", "#Efficacy", "Reasons"), Empty: "No lamp is planned.", Wordy: true}
	room := "\x00"
	for _, l := range p.shown(&t) {
		if l.Room != room {
			room = l.Room
			t.Rows = append(t.Rows, Row{Heading: roomWords(room)})
		}
		day := cell("")
		if !l.Date.IsZero() {
			day = cell(planDay(l.Date))
			if !l.Earliest.IsZero() && !l.Latest.IsZero() && l.Earliest.Before(l.Latest) {
				day.Note = fmt.Sprintf("as good from %s to %s", planDay(l.Earliest), planDay(l.Latest))
			}
		}
		chance := cell("not known")
		if l.ChanceKnown {
			chance = cell(chanceWords(l.ChanceUnder, len(l.Reasons) > 0 && strings.HasPrefix(l.Reasons[0], "dark")))
		}
		cost := cell("")
		if l.Decision != plan.Keep {
			cost = cell(p.priced(l.Cost))
			if len(l.CostMissing) > 0 {
				cost.Note = "without " + strings.Join(l.CostMissing, ", ")
			}
		}
		eff := cell("")
		if l.Efficacy > 0 {
			eff = Cell{Text: chart.Number(l.Efficacy, 2) + "\u00a0µmol/J",
				Note: chart.Number(l.EnergyPerMol, 3) + "\u00a0kWh/mol"}
		}
		t.Rows = append(t.Rows, Row{Cells: []Cell{{Text: l.Fixture, Link: p.links[l.Fixture],
			Note: lampType(fleet.LampType(l.LampType))}, decided(l.Decision), day, chance, cost,
			of(p.moneyOf(l.LossPerYear)), eff, cell(sentence(spoken(strings.Join(l.Reasons, "; "))))}})
	}
	t.Fold = len(t.Rows) > mostOpen
	return t
}

// mostVisits and mostPlanned are how many visits, and decisions about lamps, the
// page of a great site holds.
const mostVisits, mostPlanned = 60, 600

// shown gives the lamps of the table: of a great site those with work to do, the
// soonest first of each room.
func (p planBook) shown(t *Table) []plan.LampPlan {
	if !p.brief {
		return p.r.Lamps
	}
	var out []plan.LampPlan
	for _, l := range p.r.Lamps {
		if l.Decision != plan.Keep && !l.Date.IsZero() {
			out = append(out, l)
		}
	}
	slices.SortStableFunc(out, func(a, b plan.LampPlan) int { return a.Date.Compare(b.Date) })
	out = out[:min(len(out), mostPlanned)]
	slices.SortStableFunc(out, func(a, b plan.LampPlan) int { return cmp.Compare(a.Room, b.Room) })
	t.Caption = fmt.Sprintf("Decisions by lamp: the %d with work that comes soonest of %d; all are in the plan's file",
		len(out), len(p.r.Lamps))
	return out
}

// unit says what money is in.
func (p planBook) unit() string {
	if p.r.Currency == "" {
		return "amounts of money, without a currency since site.yaml names none"
	}
	return "money in " + p.r.Currency
}

// chanceWords writes a chance that is known to a few per cent: a forecast never
// says never.
func chanceWords(p float64, certain bool) string {
	switch {
	case certain:
		return "dark"
	case p < 0.02:
		return "under 2\u00a0%"
	case p > 0.98:
		return "over 98\u00a0%"
	}
	return chart.Number(100*p, 0) + "\u00a0%"
}

func (p planBook) whatTable() Table {
	c := p.m.Beside
	t := Table{Caption: fmt.Sprintf("Ways of keeping the lamps over %s days: means over %s draws of the forecasts, "+
		"with the interval that holds 80 %% of them; %s", chart.Number(float64(c.Days), 0), chart.Number(float64(c.Draws), 0), p.unit()),
		Head: columns("Way", "#Cost", "#of it work", "#and light lost", "#less lamps' gain in value", "#mol lost", "#Visits",
			"#Lamps used")}
	one := func(e estimate.Estimate) Cell {
		return of(valueOf(e, "at least", func(x float64) string { return chart.Number(x, 1) }))
	}
	for _, r := range c.Rows {
		t.Rows = append(t.Rows, Row{Cells: []Cell{cell(r.Name), of(p.moneyOf(r.Cost)), of(p.moneyOf(r.Work)),
			of(p.moneyOf(r.Light)), of(p.moneyOf(r.Left)), of(p.moneyOf(r.LostMol)), one(r.Visits), one(r.Lamps)}})
	}
	return t
}
