package main

import (
	"math"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/show"
	"wane/ingest/archive"
	"wane/transform/calendar"
	"wane/transform/due"
	"wane/transform/estimate"
)

func dueCommand(env) *cobra.Command {
	c := withFormat(&cobra.Command{
		Use:   "due",
		Short: "when each lamp falls under its threshold",
		Long: `due prints one row a lamp in service: its level now, and the run-hours and the
date at which it falls under its threshold, each with its interval.

Statuses: forecast; under (already under the threshold); beyond (past the
extrapolation limit, only a lower bound is claimed); too-early; inseparable
(sensor drift and ageing cannot be told apart); dark; no-data. The reason says
what is missing and what would settle it.

On a terminal it is as wide as that, else 80 columns, the soonest first; --wide
shows every column, wane explain FIXTURE the whole reason.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return runDue(c) },
	})
	c.Flags().String("as-of", "", "use nothing dated later than this day (default: the last day with a reading)")
	c.Flags().String("fixture", "", "one fixture only")
	c.Flags().String("room", "", "lamps of one room only")
	c.Flags().String("status", "", "lamps of one status only")
	c.Flags().String("sort", "", "due, fixture, level or room (default: due on a terminal, fixture in csv and json)")
	c.Flags().Bool("wide", false, "every column, however wide")
	c.Flags().Float64("threshold", 0, "level for all lamps instead of the site's own, such as 0.9")
	c.Flags().Float64("interval", 0, "probability content of the intervals (default: the site's own)")
	return c
}

func runDue(c *cobra.Command) error {
	format, err := formatOf(c)
	if err != nil {
		return err
	}
	q, err := question(c)
	if err != nil {
		return err
	}
	o, err := openSite(c)
	if err != nil {
		return err
	}
	id, err := fixtureFlag(c, o)
	if err != nil {
		return err
	}
	chosen, err := dueChosen(c, o, id, format)
	if err != nil {
		return err
	}
	wide, err := c.Flags().GetBool("wide")
	if err != nil {
		return err
	}
	return o.view(func(a *archive.Archive) error {
		lines, ok, err := derive.Stored(a, o.Site, q)
		if err != nil {
			return err
		}
		if !ok {
			o.warnStale(c, a)
			q.Bare = true
			res, err := derive.Ask(c.Context(), a, o.Site, q)
			if err != nil {
				return err
			}
			lines = res.Lines()
			if err := res.Close(); err != nil {
				return err
			}
		}
		lines = chosen.of(lines)
		if format == show.Text && !wide {
			return dueText(c.OutOrStdout(), lines, widthOf(c.OutOrStdout()))
		}
		return dueTable(lines).Print(c.OutOrStdout(), format)
	})
}

// question reads --as-of, --threshold and --interval.
func question(c *cobra.Command) (q due.Question, err error) {
	if q.AsOf, err = dayFlag(c, "as-of"); err != nil {
		return q, err
	}
	if q.Threshold, err = c.Flags().GetFloat64("threshold"); err != nil {
		return q, err
	}
	if c.Flags().Changed("threshold") && !(q.Threshold > 0 && q.Threshold < 1) {
		return q, usagef("--threshold %g is not between 0 and 1; write a level such as 0.9", q.Threshold)
	}
	if q.Interval, err = c.Flags().GetFloat64("interval"); err != nil {
		return q, err
	}
	if c.Flags().Changed("interval") && !(q.Interval > 0 && q.Interval < 1) {
		return q, usagef("--interval %g is not between 0 and 1; write a probability such as 0.8", q.Interval)
	}
	return q, nil
}

// dueColumns are fixed: other programs read them.
var dueColumns = []show.Column{
	{Name: "fixture"}, {Name: "lamp_life"}, {Name: "lamp_type"}, {Name: "cohort", Wide: true}, {Name: "as_of", Wide: true},
	{Name: "threshold", Digits: 3},
	{Name: "run_hours", Digits: 0}, {Name: "level", Digits: 3}, {Name: "level_lo", Digits: 3},
	{Name: "level_hi", Digits: 3},
	{Name: "due_hours", Digits: 0}, {Name: "due_hours_lo", Digits: 0, Wide: true},
	{Name: "due_hours_hi", Digits: 0, Wide: true},
	{Name: "due_date"}, {Name: "due_date_lo"}, {Name: "due_date_hi"},
	{Name: "interval", Digits: 2, Wide: true}, {Name: "status"}, {Name: "method", Wide: true}, {Name: "reason"},
}

// dueTable lays lines out.
func dueTable(lines []due.Line) *show.Table {
	t := &show.Table{Columns: dueColumns}
	for i := range lines {
		t.Add(dueCells(&lines[i])...)
	}
	return t
}

func dueCells(l *due.Line) []any {
	return []any{
		l.Fixture, l.LampLife, l.LampType, l.Cohort, show.Date(calendar.Date(l.AsOf)), l.Threshold,
		l.RunHours, l.Level, l.LevelLo, l.LevelHi, l.DueHours, l.DueHoursLo, l.DueHoursHi,
		dateOf(l.DueDate), dateOf(l.DueDateLo), dateOf(l.DueDateHi),
		l.Interval, string(l.Status), l.Method, l.Reason,
	}
}

// dateOf turns a day number into a date; nothing where there is none.
func dateOf(day float64) any {
	if !estimate.Finite(day) {
		return nil
	}
	return show.Date(calendar.Date(int32(math.Round(day))))
}
