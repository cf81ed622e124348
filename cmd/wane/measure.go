package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/measures"
	"wane/cmd/wane/internal/plans"
	"wane/cmd/wane/internal/show"
	"wane/ingest/archive"
	"wane/queries"
	"wane/transform/due"
	"wane/transform/measure"
)

func measureCommand(env) *cobra.Command {
	c := withFormat(&cobra.Command{
		Use:   "measure",
		Short: "which measurement would sharpen which due dates most, for its cost",
		Long: `measure says what to measure next: a recalibration, a reference meter held beside
a sensor, a cleaning of half the fixtures under one, a voltage logger, a canopy
survey of a fixture that was surveyed when its lamp was new, a lamp that comes
down looked at in a laboratory. Each is weighed before it is made:
which due dates it would sharpen and by how much, how many lamps would get a
date, what that is expected to save (lamps replaced too early, light lost too
late), and what it costs. They are chosen together: each is weighed with those
before it made, and with the visits that the plan has anyway.

With --back it looks back instead: what each of the last recalibrations and
readings of a reference meter was worth, by the answers with it and without it.

What a measurement takes in minutes and money stands under plan: measure in
site.yaml. Without prices, gains are days of the due dates' intervals and costs
are minutes.`,
		Example: `  wane measure
  wane measure --count 10 --minutes 240
  wane measure --budget 500 --all --format csv
  wane measure --back`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return runMeasure(c) },
	})
	f := c.Flags()
	f.String("as-of", "", "use nothing dated later than this day (default: the last day with a reading)")
	f.Int("count", 0, "how many to choose (default: up to 5 that pay for themselves, where all is priced)")
	f.Float64("budget", 0, "money to be spent at most")
	f.Float64("minutes", 0, "labour to be spent at most")
	f.Bool("all", false, "list every measurement that could be made, each weighed by itself")
	f.Bool("back", false, fmt.Sprintf("what the last measurements were worth (of %d days; the last %d, or --count)",
		backDays, backCount))
	return c
}

// measureAsked is a measure command line, read.
type measureAsked struct {
	format show.Format
	asOf   int32
	limits measure.Limits
	all    bool
	back   bool
}

func readMeasure(c *cobra.Command) (m measureAsked, err error) {
	if m.format, err = formatOf(c); err != nil {
		return m, err
	}
	if m.asOf, err = dayFlag(c, "as-of"); err != nil {
		return m, err
	}
	f := c.Flags()
	m.limits.Count, _ = f.GetInt("count") // flags of this command: cannot fail
	m.limits.Budget, _ = f.GetFloat64("budget")
	m.limits.Minutes, _ = f.GetFloat64("minutes")
	m.all, _ = f.GetBool("all")
	if !f.Changed("count") {
		m.limits.Count, m.limits.Paying = 5, true
	}
	m.back, _ = f.GetBool("back")
	for _, name := range []string{"all", "budget", "minutes"} {
		if m.back && f.Changed(name) {
			return m, usagef("--back looks at what was measured, --%s at what could be; write one of them", name)
		}
	}
	if m.limits.Count < 1 {
		return m, usagef("--count %d is no number of measurements; write 1 or more", m.limits.Count)
	}
	for name, x := range map[string]float64{"budget": m.limits.Budget, "minutes": m.limits.Minutes} {
		if f.Changed(name) && !(x > 0 && !math.IsInf(x, 0)) {
			return m, usagef("--%s %g leaves nothing to spend; write an amount above 0", name, x)
		}
	}
	return m, nil
}

func runMeasure(c *cobra.Command) error {
	m, err := readMeasure(c)
	if err != nil {
		return err
	}
	if m.back {
		return runMeasureBack(c, m)
	}
	var in *measure.Input
	o, err := askFit(c, m, func(o *opened, res *derive.Asked, db *queries.DB) error {
		facts, err := plans.Gather(c.Context(), db, o.Site, res.Result, o.Config.Plan, plans.Seed)
		if err == nil {
			in = measures.Gather(res.Result, plans.Of(facts), o.Config.Plan)
		}
		return err
	})
	if err != nil {
		return err
	}
	got := measure.Choose(in, m.limits)
	if m.format == show.Text {
		err = measureText(c.OutOrStdout(), o, in, got, m)
	} else {
		err = measures.Table(in, got, m.all).Print(c.OutOrStdout(), m.format)
	}
	if err != nil {
		return err
	}
	return person(o.planFaults())
}

// askFit opens the site and hands over its answers with the fit that they were made by.
func askFit(c *cobra.Command, m measureAsked, with func(*opened, *derive.Asked, *queries.DB) error) (*opened, error) {
	o, err := openSite(c)
	if err != nil {
		return nil, err
	}
	return o, o.ask(c.Context(), func(a *archive.Archive, db *queries.DB) error {
		res, err := derive.Ask(c.Context(), a, o.Site, due.Question{AsOf: m.asOf, Fit: true})
		if err != nil {
			return err
		}
		return errors.Join(with(o, res, db), res.Close())
	})
}

// measureText prints it for people: the set, then each with what it does and how.
func measureText(w io.Writer, o *opened, in *measure.Input, got *measure.Result, m measureAsked) error {
	p := measurePrinter(w, o)
	p.line("What to measure next at %s, by the record up to %s. %d of %d lamps that a logger reads have a date.",
		o.Config.Name, in.AsOf.Format(time.DateOnly), got.Dated, got.Lamps)
	if in.Surveyed > 0 {
		p.line("%d lamps are known by canopy surveys alone and not weighed here: what sharpens their dates is the next "+
			"survey (`wane survey sheet` prints the spots; two surveys give a bound, three a date).", in.Surveyed)
	}
	if got.Lamps == 0 {
		p.line("No lamp that a logger reads has a record to weigh measurements by.")
		return p.err
	}
	if !got.Priced {
		p.line("Not priced (missing: %s): ranked by days of due dates' intervals for each minute of work.",
			strings.Join(got.Missing, ", "))
	}
	if len(got.Chosen) == 0 {
		p.line("")
		p.line("Nothing that could be measured would sharpen any due date.")
	}
	for n := range got.Chosen {
		x := &got.Chosen[n]
		p.line("")
		p.line("%d. %s: %s", n+1, measures.Name(x), measures.Cost(in, x))
		p.line("   %s", x.Why(in.Settings, got.Priced))
		if got.Priced && !x.Pays() {
			p.line("   at these prices it costs more than it is expected to save")
		}
		p.line("   do: %s", x.Do())
		p.line("   caution: %s", x.Caution())
	}
	if len(got.Chosen) > 0 {
		p.line("")
		p.line("%s", measures.Together(in, got))
	}
	if m.all {
		p.head("Everything that could be measured, each by itself")
		p.table(measures.Table(in, &measure.Result{Others: got.Others, Priced: got.Priced}, true), "nothing")
	}
	return endMeasure(p, measures.Notes())
}

func measurePrinter(w io.Writer, o *opened) *printer {
	p := &printer{w: w}
	if o.Config.Invented {
		p.line("INVENTED DATA: %s", o.Config.Name)
	}
	return p
}

func endMeasure(p *printer, notes []string) error {
	p.section("What these figures are", notes)
	if p.err != nil {
		return fmt.Errorf("print: %w", p.err)
	}
	return nil
}
