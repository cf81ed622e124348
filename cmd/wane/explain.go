package main

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/show"
	"wane/ingest"
	"wane/ingest/archive"
	"wane/queries"
	"wane/transform/calendar"
	"wane/transform/due"
	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/lamp"
	"wane/transform/tm21"
)

func explainCommand(env) *cobra.Command {
	c := withFormat(&cobra.Command{
		Use:   "explain FIXTURE",
		Short: "the way back from a due date to the rows",
		Long: `explain prints what a fixture's due date rests on: the answer, the days and
sensors, each correction with its size, what was left out and why, logbook
lines, assumptions, and the files that hold the readings. With --day it prints
the very readings of that day and which of them counted where.`,
		Args: exactly(1),
		RunE: func(c *cobra.Command, args []string) error { return runExplain(c, args[0]) },
	})
	c.Flags().String("as-of", "", "use nothing dated later than this day (default: the last day with a reading)")
	c.Flags().Float64("threshold", 0, "level instead of the site's own")
	c.Flags().Float64("interval", 0, "probability content of the intervals")
	c.Flags().String("day", "", "print the readings of this day")
	return c
}

func runExplain(c *cobra.Command, id string) error {
	format, err := formatOf(c)
	if err != nil {
		return err
	}
	q, err := question(c)
	if err != nil {
		return err
	}
	day, err := dayFlag(c, "day")
	if err != nil {
		return err
	}
	o, err := openSite(c)
	if err != nil {
		return err
	}
	if err := o.fixture(id); err != nil {
		return err
	}
	return o.ask(c.Context(), func(a *archive.Archive, db *queries.DB) (err error) {
		if day != 0 {
			return explainDay(c, o, db, id, day, format)
		}
		res, err := derive.Ask(c.Context(), a, o.Site, q)
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, res.Close()) }()
		for i := range res.Due {
			if res.Due[i].Life.Fixture.ID == id {
				t, err := explainDue(c, o, a, db, res.Result, &res.Due[i])
				if err != nil {
					return err
				}
				return t.Print(c.OutOrStdout(), format)
			}
		}
		return fmt.Errorf("%s has no lamp in service on %s", id, calendar.Date(res.AsOf).Format("2006-01-02"))
	})
}

// facts is a table of what an answer rests on: section, item, value, where it
// comes from.
type facts struct{ show.Table }

func newFacts() *facts {
	return &facts{show.Table{Columns: show.Columns("section", "item", "value", "from")}}
}

func (f *facts) say(section, item, value, from string) { f.Add(section, item, value, from) }

func explainDue(c *cobra.Command, o *opened, a *archive.Archive, db *queries.DB, res *due.Result,
	d *due.Lamp) (*show.Table, error) {
	f := newFacts()
	l, an := d.Life.WithSeries(), d.Answer
	f.say("answer", "status", string(an.Status), an.Reason)
	f.say("answer", "level now", interval(an.Level, 3, ""), an.Level.Method)
	f.say("answer", "due hours", interval(an.DueHours, 0, " h"), an.DueHours.Method)
	f.say("answer", "due date", dates(an.DueDay), an.DueDay.Method)
	f.say("answer", "threshold", fmt.Sprintf("%.3f", d.Threshold), "site.yaml, or --threshold")
	f.say("decline", "lamp", interval(an.Decline.Lamp, 3, ""), an.Decline.Lamp.Method)
	f.say("decline", "dirt", interval(an.Decline.Dirt, 3, ""), an.Decline.Dirt.Method)
	f.say("decline", "sensor", interval(an.Decline.Sensor, 3, ""), an.Decline.Sensor.Method)
	for i, w := range an.Identity.Cannot {
		f.say("cannot be told apart", "", w, an.Identity.Instead[i])
	}
	if an.Identity.Settle != "" {
		f.say("would settle it", "", an.Identity.Settle, "")
	}
	for _, as := range an.Assumed {
		f.say("assumed", as.Name, as.Words(), as.Basis)
	}
	for _, q := range res.Questions {
		if slices.Contains(q.Fixtures, l.Fixture.ID) {
			f.say("question", day(q.Day), q.String(), forecast.Method)
		}
	}
	explainStandard(f, res, d)
	explainHours(f, l)
	explainLevels(f, o, l)
	explainRegister(f, o, res.Register, l)
	if err := explainLeftOut(c, f, db, l); err != nil {
		return nil, err
	}
	if err := explainFiles(f, a, o, l); err != nil {
		return nil, err
	}
	return &f.Table, nil
}

// explainStandard puts the standard's answer for the cohort beside ours.
func explainStandard(f *facts, res *due.Result, d *due.Lamp) {
	for _, s := range lamp.Standards(res.Lives, d.Threshold) {
		if s.Cohort != d.Life.Cohort {
			continue
		}
		value := "no answer: " + s.Refused
		if s.Refused == "" {
			value = fmt.Sprintf("%s = %s, %d units", s.Name, s.Life, s.Units)
		}
		f.say("standard", "ANSI/IES TM-21, cohort "+s.Cohort, value, tm21.Caution)
	}
}

func explainHours(f *facts, l *lamp.Life) {
	if len(l.Totals) == 0 {
		return
	}
	last := l.Totals[len(l.Totals)-1]
	f.say("run-hours", "now", fmt.Sprintf("%.0f h (%.0f to %.0f as the evidence allows)", last.Hours, last.Lo, last.Hi),
		fmt.Sprintf("from %.0f h at the start of the lamp life", l.StartHours))
	days := map[string]int{}
	worst := 0.0
	for _, t := range l.Totals {
		days[string(t.Method)]++
		if !math.IsNaN(t.Disagree) && math.Abs(t.Disagree) > math.Abs(worst) {
			worst = t.Disagree
		}
	}
	for _, m := range sortedKeys(days) {
		f.say("run-hours", m, fmt.Sprintf("%d days", days[m]), "")
	}
	if l.EnergyH.Known() {
		f.say("run-hours", "energy meter", interval(l.EnergyH, 1, " h a day"),
			l.EnergyH.Method+"; "+strings.Join(l.EnergyH.Warnings, "; "))
	}
	if worst != 0 {
		f.say("run-hours", "meter against lamp-on time", fmt.Sprintf("%+.1f %% at worst", 100*worst),
			"over one stretch between two meter readings")
	}
	for _, w := range l.Warnings {
		f.say("run-hours", "warning", w, "")
	}
}

func explainLevels(f *facts, o *opened, l *lamp.Life) {
	b := l.Base.Baseline
	f.say("baseline", "100 %", interval(b, 1, " umol/m2/s"), b.Method)
	for _, w := range b.Warnings {
		f.say("baseline", "warning", w, "")
	}
	if n := len(l.Levels); n > 0 {
		first, last := l.Levels[0], l.Levels[n-1]
		f.say("levels", "days", fmt.Sprintf("%d, from %s to %s", n, day(first.Day), day(last.Day)),
			"table levels; wane levels --fixture "+l.Fixture.ID)
		f.say("levels", "gain", fmt.Sprintf("%+.2f %% on the last day", 100*math.Expm1(last.Gain)),
			"as-found values of the sensor's recalibrations")
		f.say("levels", "supply", fmt.Sprintf("%+.2f %% on the last day", 100*math.Expm1(last.Supply)),
			fmt.Sprintf("%.3g %% of light per %% of voltage, reference %.0f V (site.yaml corrections)",
				l.Corrected.Supply[l.Gear], l.Base.ReferenceV))
		f.say("levels", "supply coefficient", interval(l.Supply, 2, " % per %"),
			"from the site's own swings: "+l.Supply.Method)
		f.say("levels", "ambient", fmt.Sprintf("%+.2f %% on the last day", 100*math.Expm1(last.Ambient)),
			fmt.Sprintf("%.3g per degree, reference %g degC (site.yaml corrections)",
				l.Corrected.Ambient[l.LampType], l.Corrected.ReferenceC))
		f.say("levels", "ambient coefficient", interval(l.Ambient, 4, " per degree"),
			"from the site's own swings: "+l.Ambient.Method)
		f.say("levels", "flags", last.Flags.String(), "of the last day")
		f.say("levels", "chain", fleet.ChainAt(l.Chain, calendar.Start(last.Day, o.Config.Location).Add(12*time.Hour)),
			"epochs of the optical chain on the last day")
	}
}

func explainRegister(f *facts, o *opened, reg *fleet.Register, l *lamp.Life) {
	f.say("register", "fixture", fmt.Sprintf("%s in room %s, bay %s, circuit %s", l.Fixture.ID, l.Place.Room, l.Place.Bay,
		l.Place.Circuit), fmt.Sprintf("register/fixtures.csv line %d", l.Fixture.Line))
	for _, s := range l.Light {
		n := 0
		for _, cal := range reg.Calibrations(s) {
			found := "no as-found value noted"
			if cal.AsFound > 0 {
				found = fmt.Sprintf("as found %.4g", cal.AsFound)
			}
			f.say("sensor", s, "recalibrated "+cal.At.Format("2006-01-02")+", "+found,
				fmt.Sprintf("register/logbook.csv line %d", cal.Line))
			n++
		}
		if n == 0 {
			f.say("sensor", s, "never recalibrated", "register/logbook.csv")
		}
	}
	for _, e := range reg.Events(l.Fixture) {
		f.say("logbook", e.At.In(o.Config.Location).Format("2006-01-02"),
			strings.TrimSpace(fmt.Sprintf("%s %s %s %s", e.What, e.Scope, e.ID, e.Value)),
			fmt.Sprintf("register/logbook.csv line %d", e.Line))
	}
}

func explainLeftOut(c *cobra.Command, f *facts, db *queries.DB, l *lamp.Life) error {
	rows, err := queries.LeftOut(c.Context(), db, calendar.Date(l.FirstDay), calendar.Date(l.LastDay), l.Fixture.ID)
	if err != nil {
		return err
	}
	for _, r := range rows {
		f.say("readings", "of light", fmt.Sprintf("%d on %d days, %d of them used", r.Readings, r.Days, r.Usable),
			"table daily")
		for _, x := range []struct {
			why string
			n   int64
		}{
			{"lamp off", r.Unlit}, {"daylight", r.Daylight}, {"not plausible", r.Implausible}, {"running up", r.RunningUp},
			{"at the edge", r.Edge}, {"sensor stuck", r.Stuck},
			{"odd dim state", r.OddDim}, {"odd supply voltage", r.OddSupply}, {"shadow or spike", r.Shadowed},
			{"conflicting values", r.Conflicting},
		} {
			if x.n > 0 {
				f.say("left out", x.why, fmt.Sprint(x.n), "")
			}
		}
	}
	return nil
}

// explainFiles lists the originals that hold the light readings of the life.
func explainFiles(f *facts, a *archive.Archive, o *opened, l *lamp.Life) error {
	origins, err := ingest.OriginsOf(a)
	if err != nil {
		return err
	}
	from, to := calendar.Start(l.FirstDay, o.Config.Location), calendar.Start(l.LastDay+1, o.Config.Location)
	for _, x := range origins.Behind(o.Register.Watched(l.Fixture, fleet.PPFD), from, to) {
		f.say("file", x.File.Name, fmt.Sprintf("%d readings of %s, %s to %s", x.Readings, x.Series,
			x.First.Format(time.RFC3339), x.Last.Format(time.RFC3339)),
			"archive/originals, SHA-256 "+x.File.SHA256)
	}
	return nil
}

func explainDay(c *cobra.Command, o *opened, db *queries.DB, id string, d int32, format show.Format) error {
	loc := o.Config.Location
	from, to := calendar.Start(d, loc), calendar.Start(d+1, loc)
	f := o.Register.Fixture(id)
	t := &show.Table{Columns: []show.Column{{Name: "quantity"}, {Name: "sensor"}, {Name: "channel"}, {Name: "time"},
		{Name: "value", Digits: 4}, {Name: "in_unit", Digits: 4}, {Name: "conflict"}}}
	for _, q := range fleet.Quantities {
		p := o.Register.Watch(f, q.Name, from.Add(12*time.Hour))
		if p == nil {
			continue
		}
		rows, err := queries.RowsOfDay(c.Context(), db, p.Sensor, p.Channel, from, to)
		if err != nil {
			return err
		}
		for _, r := range rows {
			t.Add(string(q.Name), p.Sensor, p.Channel, r.Time.In(loc).Format(time.RFC3339),
				r.Value, r.Value*p.Factor, r.Conflict)
		}
	}
	return t.Print(c.OutOrStdout(), format)
}

// interval prints an estimate with its interval, never alone.
func interval(e estimate.Estimate, digits int, unit string) string {
	switch {
	case !e.Known() && e.Bounded():
		return fmt.Sprintf("between %.*f and %.*f%s", digits, e.Lo, digits, e.Hi, unit)
	case !e.Known() && estimate.Finite(e.Lo):
		return fmt.Sprintf("not before %.*f%s", digits, e.Lo, unit)
	case !e.Known():
		return "not known"
	case math.IsInf(e.Hi, 1):
		return fmt.Sprintf("%.*f%s (from %.*f, no upper end)", digits, e.Centre, unit, digits, e.Lo)
	}
	return fmt.Sprintf("%.*f%s (%.*f to %.*f, %.0f %%)", digits, e.Centre, unit, digits, e.Lo, digits, e.Hi, 100*e.Level)
}

func dates(e estimate.Estimate) string {
	text := func(v float64) string {
		if d, ok := dateOf(v).(show.Date); ok {
			return time.Time(d).Format("2006-01-02")
		}
		return ""
	}
	c, lo, hi := text(e.Centre), text(e.Lo), text(e.Hi)
	switch {
	case c == "" && lo == "":
		return "not known"
	case c == "" && hi == "":
		return "not before " + lo
	case c == "":
		return "between " + lo + " and " + hi
	case hi == "":
		return fmt.Sprintf("%s (from %s, no upper end)", c, lo)
	}
	return fmt.Sprintf("%s (%s to %s, %.0f %%)", c, lo, hi, 100*e.Level)
}

func day(d int32) string { return calendar.Date(d).Format("2006-01-02") }

func sortedKeys[V any](m map[string]V) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	sort.Strings(out)
	return out
}
