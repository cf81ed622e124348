package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/plans"
	"wane/cmd/wane/internal/show"
	"wane/ingest/archive"
	"wane/queries"
	"wane/transform/due"
	"wane/transform/plan"
	"wane/transform/plan/export"
)

func planCommand(env) *cobra.Command {
	c := withFormat(&cobra.Command{
		Use:   "plan",
		Short: "what to replace, clean and order, when, and at what cost",
		Long: `plan says for each lamp and room what to do (keep, clean, spot relamp, group
relamp, replace gear), on which day, with reasons and money; what to order and
by when; how many spares to hold; and who goes up where, visit by visit. Costs
and constraints come from the plan section of site.yaml; each may be left out,
and the plan says what follows from that.

--threshold, --price.*, --budget, --risk and --service-level change the plan.
With --what-if they do not: each becomes an alternative, simulated over the
forecasts side by side with today's plan and with two habits, replacing all at
fixed hours and replacing on failure.

--format csv prints one table, that of --table; --format json all of the plan.`,
		Example: `  wane plan
  wane plan --what-if --threshold 0.85 --price.lamp 60
  wane plan --format csv --table orders
  wane plan --calendar visits.ics`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return runPlan(c) },
	})
	f := c.Flags()
	f.String("as-of", "", "use nothing dated later than this day (default: the last day with a reading)")
	f.Float64("threshold", 0, "level for all lamps instead of the site's own, held as a limit, such as 0.85")
	f.Float64("risk", 0, "chance taken that a lamp falls under its threshold before its visit, such as 0.2")
	f.Float64("service-level", 0, "chance that spares last until the next delivery, such as 0.95")
	f.String("budget", "", "cap on spending as amount/period, such as 20000/quarter (month, quarter or year)")
	for _, p := range prices {
		f.Float64("price."+p.flag, 0, p.usage)
	}
	f.Int("horizon", 0, "days ahead (default: the site's own)")
	f.Bool("what-if", false, "set alternatives beside today's plan and two habits")
	f.Uint64("seed", plans.Seed, "of the what-if's simulation")
	f.String("calendar", "", "write visits and order days to this file (iCalendar)")
	f.String("table", "", "with --format csv: lamps, rooms, visits, work, orders, spares, spending or what-if (default lamps; with --what-if: what-if)")
	return c
}

// prices are the money that a flag may change; it holds for every room and
// lamp type.
var prices = []struct {
	flag, usage string
	field       func(*plan.Terms) **float64
}{
	{"lamp", "of a lamp", func(t *plan.Terms) **float64 { return &t.LampPrice }},
	{"gear", "of a ballast or driver", func(t *plan.Terms) **float64 { return &t.GearPrice }},
	{"wage", "of an hour of labour", func(t *plan.Terms) **float64 { return &t.WagePerHour }},
	{"lift", "of a lift, per visit", func(t *plan.Terms) **float64 { return &t.LiftPerVisit }},
	{"energy", "of a kWh", func(t *plan.Terms) **float64 { return &t.EnergyPrice }},
	{"crop", "of the crop, per m2 and year", func(t *plan.Terms) **float64 { return &t.CropValueM2Year }},
}

// planChange is one flag that changes the plan.
type planChange struct {
	name      string // as a person reads it
	settings  func(*plan.Settings)
	threshold float64 // level to ask for instead of the site's own; 0 = the site's
}

// planChanges reads the flags that change the plan.
func planChanges(c *cobra.Command) (out []planChange, err error) {
	f := c.Flags()
	number := func(name string, within func(float64) bool, say string) (float64, error) {
		x, err := f.GetFloat64(name)
		if err != nil || !f.Changed(name) {
			return 0, err
		}
		if !within(x) || math.IsNaN(x) || math.IsInf(x, 0) {
			return 0, usagef("--%s %g %s", name, x, say)
		}
		return x, nil
	}
	share := func(x float64) bool { return x > 0 && x < 1 }
	th, err := number("threshold", share, "is not between 0 and 1; write a level such as 0.9")
	if err != nil {
		return nil, err
	}
	if th > 0 {
		out = append(out, planChange{fmt.Sprintf("threshold %g as a limit", th),
			func(s *plan.Settings) { s.Threshold = "limit" }, th})
	}
	for _, p := range prices {
		x, err := number("price."+p.flag, func(x float64) bool { return x >= 0 }, "is negative; write an amount of money")
		if err != nil {
			return nil, err
		}
		if f.Changed("price." + p.flag) {
			out = append(out, planChange{fmt.Sprintf("price.%s %g", p.flag, x),
				func(s *plan.Settings) { everywhere(s, p.field, x) }, 0})
		}
	}
	if text, _ := f.GetString("budget"); f.Changed("budget") {
		b, err := parseBudget(text)
		if err != nil {
			return nil, err
		}
		out = append(out, planChange{"budget " + text, func(s *plan.Settings) { s.Budget = b }, 0})
	}
	for _, p := range []struct {
		flag, name string
		set        func(*plan.Settings, *float64)
	}{
		{"risk", "risk", func(s *plan.Settings, x *float64) { s.Risk = x }},
		{"service-level", "service level", func(s *plan.Settings, x *float64) { s.ServiceLevel = x }},
	} {
		x, err := number(p.flag, share, "is not between 0 and 1; write a chance such as 0.2")
		if err != nil {
			return nil, err
		}
		if x > 0 {
			out = append(out, planChange{fmt.Sprintf("%s %g", p.name, x), func(s *plan.Settings) { p.set(s, &x) }, 0})
		}
	}
	return out, nil
}

// everywhere sets a price for the site and takes it away from rooms and lamp
// types, whose own would come first.
func everywhere(s *plan.Settings, field func(*plan.Terms) **float64, x float64) {
	without := func(m map[string]plan.Terms) map[string]plan.Terms {
		out := make(map[string]plan.Terms, len(m))
		for k, t := range m {
			*field(&t) = nil
			out[k] = t
		}
		return out
	}
	*field(&s.Site) = &x
	s.Rooms, s.LampTypes = without(s.Rooms), without(s.LampTypes)
}

func parseBudget(text string) (*plan.Budget, error) {
	amount, period, _ := strings.Cut(text, "/")
	x, err := strconv.ParseFloat(amount, 64)
	b := plan.Budget{Cap: x, Period: period}
	if err != nil || len((plan.Settings{Budget: &b}).Validate()) > 0 {
		return nil, usagef("--budget %q is not an amount and a period; write such as 20000/quarter (month, quarter or year)",
			text)
	}
	return &b, nil
}

// planAsked is a plan command line, read.
type planAsked struct {
	format   show.Format
	question due.Question
	changes  []planChange
	whatIf   bool
	horizon  int
	seed     uint64
	calendar string
	table    string
}

func readPlan(c *cobra.Command) (p planAsked, err error) {
	if p.format, err = formatOf(c); err != nil {
		return p, err
	}
	if p.question.AsOf, err = dayFlag(c, "as-of"); err != nil {
		return p, err
	}
	if p.changes, err = planChanges(c); err != nil {
		return p, err
	}
	f := c.Flags()
	p.whatIf, _ = f.GetBool("what-if") // flags of this command: cannot fail
	p.seed, _ = f.GetUint64("seed")
	p.calendar, _ = f.GetString("calendar")
	p.table, _ = f.GetString("table")
	if p.horizon, _ = f.GetInt("horizon"); f.Changed("horizon") && p.horizon <= 0 {
		return p, usagef("--horizon %d is no number of days ahead", p.horizon)
	}
	switch {
	case p.table != "" && p.format != show.CSV:
		return p, usagef("--table %s picks a table for --format csv; --format %s prints them all", p.table, p.format)
	case p.table == "" && p.whatIf:
		p.table = "what-if"
	case p.table == "":
		p.table = "lamps"
	case p.table == "what-if":
		p.whatIf = true
	case planTables[p.table] == nil:
		return p, usagef("--table %q is not known; use lamps, rooms, visits, work, orders, spares, spending or what-if",
			p.table)
	}
	return p, nil
}

// planTables are the tables of --format csv.
var planTables = map[string]func(*plans.Made, io.Writer) error{
	"lamps":    func(m *plans.Made, w io.Writer) error { return printText(w, export.Lamps(m.Result)) },
	"work":     func(m *plans.Made, w io.Writer) error { return printText(w, export.Work(m.Result)) },
	"orders":   func(m *plans.Made, w io.Writer) error { return printText(w, export.Orders(m.Result)) },
	"rooms":    func(m *plans.Made, w io.Writer) error { return m.Rooms().Print(w, show.CSV) },
	"visits":   func(m *plans.Made, w io.Writer) error { return m.Visits().Print(w, show.CSV) },
	"spares":   func(m *plans.Made, w io.Writer) error { return m.Spares().Print(w, show.CSV) },
	"spending": func(m *plans.Made, w io.Writer) error { return m.Spending().Print(w, show.CSV) },
	"what-if":  func(m *plans.Made, w io.Writer) error { return m.WhatIf().Print(w, show.CSV) },
}

func printText(w io.Writer, text string) error {
	_, err := io.WriteString(w, text)
	return err
}

func runPlan(c *cobra.Command) error {
	p, err := readPlan(c)
	if err != nil {
		return err
	}
	o, err := openSite(c)
	if err != nil {
		return err
	}
	var made *plans.Made
	if err := o.ask(c.Context(), func(a *archive.Archive, db *queries.DB) error {
		made, err = o.makePlan(c.Context(), a, db, p)
		return err
	}); err != nil {
		return err
	}
	if p.calendar != "" {
		if dir := filepath.Dir(p.calendar); dir != "." {
			if _, err := os.Stat(dir); err != nil {
				return usagef("--calendar: there is no folder %s; make it first", dir)
			}
		}
		if err := plans.WriteFile(p.calendar, export.Calendar(made.Result, o.Config.Name)); err != nil {
			return fmt.Errorf("write calendar: %w", err)
		}
	}
	w := c.OutOrStdout()
	switch p.format {
	case show.CSV:
		err = planTables[p.table](made, w)
	case show.JSON:
		var doc []byte
		if doc, err = made.JSON(); err == nil {
			err = printText(w, string(doc))
		}
	default:
		err = planText(w, o, made)
	}
	if err != nil {
		return err
	}
	return person(append(o.planFaults(), made.Needs()...))
}

// planFaults is what is wrong with the plan section of site.yaml.
func (o *opened) planFaults() []string {
	out := make([]string, len(o.Config.PlanFaults))
	for i, p := range o.Config.PlanFaults {
		out[i] = p.String()
	}
	return out
}

// makePlan gathers and plans; with what-if each change is an alternative, else
// all of them together are the plan.
func (o *opened) makePlan(ctx context.Context, a *archive.Archive, db *queries.DB, p planAsked) (*plans.Made, error) {
	facts := func(changes []planChange) (*plans.Facts, error) {
		q, s := p.question, o.Config.Plan
		if p.horizon > 0 {
			s.HorizonDays = p.horizon
		}
		for _, ch := range changes {
			ch.settings(&s)
			if ch.threshold > 0 {
				q.Threshold = ch.threshold
			}
		}
		res, err := derive.Ask(ctx, a, o.Site, q)
		if err != nil {
			return nil, err
		}
		made, err := plans.Gather(ctx, db, o.Site, res.Result, s, p.seed)
		return made, errors.Join(err, res.Close())
	}
	if !p.whatIf {
		f, err := facts(p.changes)
		if err != nil {
			return nil, err
		}
		return plans.Of(f), nil
	}
	f, err := facts(nil)
	if err != nil {
		return nil, err
	}
	m := plans.Of(f)
	alts := []plan.Alternative{plans.Limit(f.Input)}
	if len(p.changes) > 0 {
		alts = nil
	}
	add := func(name string, changes []planChange) error {
		f, err := facts(changes)
		if err == nil {
			alts = append(alts, plan.Alternative{Name: name, Input: f.Input})
		}
		return err
	}
	var names []string
	for _, ch := range p.changes {
		names = append(names, ch.name)
		if err := add(ch.name, []planChange{ch}); err != nil {
			return nil, err
		}
	}
	if len(p.changes) > 1 {
		if err := add(strings.Join(names, ", "), p.changes); err != nil {
			return nil, err
		}
	}
	m.Compare(alts)
	return m, nil
}
