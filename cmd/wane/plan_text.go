package main

import (
	"fmt"
	"io"
	"strings"
	"time"

	"wane/cmd/wane/internal/plans"
	"wane/cmd/wane/internal/show"
	"wane/transform/plan"
)

// nearDays is how far ahead the work list names every fixture.
const nearDays = 90

// planText prints the plan for people: what is to be done first, then what it
// rests on, then how to go up safely.
func planText(w io.Writer, o *opened, m *plans.Made) error {
	p := &printer{w: w}
	r := &m.Result
	if o.Config.Invented {
		p.line("INVENTED DATA: %s", o.Config.Name)
	}
	money := "money without a currency (plan: currency in site.yaml names one)"
	if r.Currency != "" {
		money = "money in " + r.Currency
	}
	p.line("Relamp plan of %s, made for %s, looking to %s; %s", o.Config.Name, r.AsOf.Format(time.DateOnly),
		r.Until.Format(time.DateOnly), money)

	p.head("Work list, the next %d days", nearDays)
	until := r.AsOf.AddDate(0, 0, nearDays)
	later := &plans.Made{Facts: m.Facts, Result: *r}
	later.Result.Visits = nil
	near := 0
	for _, v := range r.Visits {
		if v.Date.After(until) {
			later.Result.Visits = append(later.Result.Visits, v)
			continue
		}
		near++
		p.visit(v, r)
	}
	if near == 0 {
		p.line("nothing")
	}
	p.head("Visits after that")
	p.table(later.Visits(), "none")
	p.head("Order list")
	p.table(m.Orders(), "nothing to order")
	p.head("Spares, until a delivery ordered at the next review")
	p.table(m.Spares(), "none")
	p.head("Rooms: what they cost a year by spot and by group relamping, and the run-hours at which the cost is least with the band within 2 %% of it")
	p.table(m.Rooms(), "none")
	for _, x := range r.Rooms {
		for _, why := range append(append([]string(nil), x.Reasons...), x.Clean.Reasons...) {
			p.line("  %s: %s", x.Room, why)
		}
	}
	p.head("Lamps")
	p.table(m.Lamps(), "none")
	if len(r.Spending) > 0 {
		p.head("Spending")
		p.table(m.Spending(), "")
	}
	if m.Beside != nil {
		p.head("What if: %d days, %d draws of the forecasts, seed %d; each number with the interval that holds 80 %% of the draws", m.Beside.Days, m.Beside.Draws, m.Beside.Seed)
		p.table(m.WhatIf(), "")
		p.list(m.Beside.Notes)
	}
	p.section("Not planned", m.LeftOut)
	p.section("What the plan lacks, and what follows", r.Notes)
	p.section("What is wrong with its input", problemLines(r.Problems))
	p.section("What it takes for granted", r.Assumptions)
	p.section("Before anyone goes up to a lamp", r.Cautions)
	return p.err
}

func problemLines(list []plan.Problem) []string {
	out := make([]string, len(list))
	for i, p := range list {
		out[i] = fmt.Sprintf("%s: %s; %s", p.Path, p.What, p.Remedy)
	}
	return out
}

// printer keeps the first error.
type printer struct {
	w   io.Writer
	err error
}

func (p *printer) line(format string, a ...any) {
	if p.err == nil {
		_, p.err = fmt.Fprintf(p.w, format+"\n", a...)
	}
}

func (p *printer) head(format string, a ...any) {
	p.line("")
	p.line(strings.ToUpper(format[:1])+format[1:], a...)
}

func (p *printer) table(t *show.Table, none string) {
	if len(t.Rows) == 0 {
		p.line("%s", none)
		return
	}
	if p.err == nil {
		p.err = t.Print(p.w, show.Text)
	}
}

func (p *printer) list(lines []string) {
	for _, l := range lines {
		p.line("  %s", l)
	}
}

func (p *printer) section(name string, lines []string) {
	if len(lines) > 0 {
		p.head("%s", name)
		p.list(lines)
	}
}

func (p *printer) visit(v plan.Visit, r *plan.Result) {
	p.line("%s  room %s", v.Date.Format(time.DateOnly), plans.Title(v, r.Currency))
	for _, note := range v.Notes {
		p.line("    %s", note)
	}
	for _, g := range plans.Together(v) {
		p.line("    %s: %s", g.Do, g.Why)
		for _, b := range g.Bays {
			if b.Bay == "" {
				continue // the whole room
			}
			p.line("      %s: %s", b.Bay, strings.Join(b.Fixtures, ", "))
		}
	}
}
