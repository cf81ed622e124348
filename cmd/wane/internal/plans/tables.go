package plans

import (
	"strings"
	"time"

	"wane/cmd/wane/internal/show"
	"wane/transform/estimate"
	"wane/transform/plan"
	"wane/transform/plan/export"
)

// Rooms is the rooms' plan as a table: money a year, run-hours, shares.
func (m *Made) Rooms() *show.Table {
	t := &show.Table{Columns: []show.Column{
		{Name: "room"}, {Name: "lamps"}, {Name: "decision"}, {Name: "date"}, {Name: "spot_year"}, {Name: "group_year"},
		{Name: "currency", Wide: true},
		{Name: "interval_hours"}, {Name: "interval_lo"}, {Name: "interval_hi"}, {Name: "response_hours_lo", Wide: true},
		{Name: "response_hours_hi", Wide: true},
		{Name: "mean_level", Digits: 3}, {Name: "uniformity", Digits: 3}, {Name: "dirt_loss", Digits: 3},
		{Name: "clean_date"}, {Name: "clean_days", Wide: true}, {Name: "reason", Wide: true},
	}}
	for _, r := range m.Result.Rooms {
		iv := r.Chosen()
		var hours, lo, hi any
		if iv.Known {
			hours, lo = iv.Hours, iv.Lo
			if !iv.HiOpen {
				hi = iv.Hi
			}
		}
		t.Add(r.Room, r.Lamps, string(r.Decision), date(r.Date), above(r.SpotYear), above(r.GroupYear), m.Result.Currency,
			hours, lo, hi,
			above(iv.ResponseLo), above(iv.ResponseHi), above(r.MeanLevel), above(r.Uniformity), above(r.DirtLoss),
			date(r.Clean.Date), above(r.Clean.IntervalDays),
			strings.Join(append(append([]string(nil), r.Reasons...), r.Clean.Reasons...), "; "))
	}
	return t
}

// Visits is a row a visit.
func (m *Made) Visits() *show.Table {
	t := &show.Table{Columns: []show.Column{{Name: "date"}, {Name: "room"}, {Name: "work"}, {Name: "old_lamps"},
		{Name: "cost"}, {Name: "currency", Wide: true}, {Name: "note"}}}
	for _, v := range m.Result.Visits {
		t.Add(date(v.Date), v.Room, Work(v), v.Disposal, v.Cost, m.Result.Currency, strings.Join(v.Notes, "; "))
	}
	return t
}

// Work says a visit's work in a few words: "spot relamp 3, clean the room".
func Work(v plan.Visit) string { return export.VisitWork(v, "clean the room") }

// Orders is the order list.
func (m *Made) Orders() *show.Table {
	t := &show.Table{Columns: []show.Column{{Name: "order_by"}, {Name: "needed_by"}, {Name: "item"}, {Name: "lamp_type"},
		{Name: "quantity"}, {Name: "planned"}, {Name: "spares"},
		{Name: "from_stock"}, {Name: "cost"}, {Name: "late"}, {Name: "note"}}}
	for _, o := range m.Result.Orders {
		t.Add(date(o.OrderBy), date(o.NeededBy), o.Item, o.LampType, o.Quantity, o.Planned, o.Spares, o.FromStock, o.Cost,
			o.Late, strings.Join(o.Notes, "; "))
	}
	return t
}

// Spares is the stock that keeps the service level, by lamp type.
func (m *Made) Spares() *show.Table {
	t := &show.Table{Columns: []show.Column{{Name: "lamp_type"}, {Name: "lamps"}, {Name: "days"},
		{Name: "failures", Digits: 1}, {Name: "failures_lo"}, {Name: "failures_hi"}, {Name: "interval", Digits: 2},
		{Name: "spares"}, {Name: "service_level", Digits: 3}, {Name: "achieved", Digits: 3}, {Name: "on_hand"},
		{Name: "note"}}}
	for _, s := range m.Result.Spares {
		t.Add(s.LampType, s.Lamps, s.Days, s.Failures.Centre, s.Failures.Lo, s.Failures.Hi, s.Failures.Level, s.Stock,
			s.ServiceLevel, s.Achieved, s.OnHand, strings.Join(s.Notes, "; "))
	}
	return t
}

// Spending is what each budget period pays.
func (m *Made) Spending() *show.Table {
	t := &show.Table{Columns: []show.Column{{Name: "from"}, {Name: "to"}, {Name: "planned"}, {Name: "cap"},
		{Name: "currency", Wide: true}, {Name: "over"}, {Name: "deferred"}}}
	for _, p := range m.Result.Spending {
		t.Add(date(p.From), date(p.To), p.Planned, above(p.Cap), m.Result.Currency, p.Over, p.Deferred)
	}
	return t
}

// WhatIf is a row a way of keeping the lamps, over the horizon.
func (m *Made) WhatIf() *show.Table {
	t := &show.Table{Columns: []show.Column{{Name: "way"}, {Name: "cost"}, {Name: "cost_lo"}, {Name: "cost_hi"},
		{Name: "work"}, {Name: "work_lo"}, {Name: "work_hi"}, {Name: "light"}, {Name: "light_lo"}, {Name: "light_hi"},
		{Name: "lamps_left", Wide: true}, {Name: "lamps_left_lo", Wide: true}, {Name: "lamps_left_hi", Wide: true},
		{Name: "lost_mol"}, {Name: "lost_mol_lo", Wide: true}, {Name: "lost_mol_hi", Wide: true}, {Name: "visits", Digits: 1},
		{Name: "visits_lo", Wide: true}, {Name: "visits_hi", Wide: true},
		{Name: "lamps", Digits: 1}, {Name: "lamps_lo", Wide: true}, {Name: "lamps_hi", Wide: true},
		{Name: "currency", Wide: true}, {Name: "days", Wide: true}, {Name: "draws", Wide: true},
		{Name: "interval", Digits: 2, Wide: true}}}
	if m.Beside == nil {
		return t
	}
	for _, r := range m.Beside.Rows {
		row := []any{r.Name}
		for _, e := range []estimate.Estimate{r.Cost, r.Work, r.Light, r.Left, r.LostMol, r.Visits, r.Lamps} {
			row = append(row, e.Centre, e.Lo, e.Hi)
		}
		t.Add(append(row, m.Result.Currency, m.Beside.Days, m.Beside.Draws, r.Cost.Level)...)
	}
	return t
}

// Lamps is a row a lamp, as people read it; export.Lamps has all columns.
func (m *Made) Lamps() *show.Table {
	t := &show.Table{Columns: []show.Column{{Name: "fixture"}, {Name: "room"}, {Name: "decision"}, {Name: "date"},
		{Name: "due_at_risk"}, {Name: "chance_under", Digits: 2}, {Name: "cost"},
		{Name: "loss_year"}, {Name: "loss_year_lo"}, {Name: "loss_year_hi"}, {Name: "umol_j", Digits: 2},
		{Name: "kwh_mol", Digits: 3}, {Name: "reason"}}}
	for _, l := range m.Result.Lamps {
		var chance any
		if l.ChanceKnown {
			chance = l.ChanceUnder
		}
		t.Add(l.Fixture, l.Room, string(l.Decision), date(l.Date), date(l.DueAtRisk), chance, l.Cost, l.LossPerYear.Centre,
			l.LossPerYear.Lo, l.LossPerYear.Hi,
			above(l.Efficacy), above(l.EnergyPerMol), strings.Join(l.Reasons, "; "))
	}
	return t
}

// date is an empty cell for no day.
func date(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return show.Date(t)
}

// above is an empty cell for 0, where 0 stands for not known.
func above(x float64) any {
	if x == 0 {
		return nil
	}
	return x
}
