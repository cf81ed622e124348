package main

import (
	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/show"
	"wane/ingest/archive"
	"wane/queries"
	"wane/transform/calendar"
)

func declineCommand(env) *cobra.Command {
	c := withFormat(&cobra.Command{
		Use:   "decline",
		Short: "decline against run-hours, day by day",
		Long: `decline prints a row a lamp life and day that has a level: run-hours, the
level with what is not the lamp's taken out, the level as read, and what the
day rests on. With --step H it prints the median level of each H run-hours.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return runDecline(c) },
	})
	c.Flags().String("fixture", "", "one fixture only")
	c.Flags().String("as-of", "", "last day (default: the last day with a reading)")
	c.Flags().Float64("step", 0, "print medians over steps of so many run-hours")
	return c
}

func runDecline(c *cobra.Command) error {
	format, err := formatOf(c)
	if err != nil {
		return err
	}
	step, err := c.Flags().GetFloat64("step")
	if err != nil {
		return err
	}
	if step < 0 {
		return usagef("--step %g is negative; write run-hours such as 500", step)
	}
	o, err := openSite(c)
	if err != nil {
		return err
	}
	id, err := fixtureFlag(c, o)
	if err != nil {
		return err
	}
	return o.ask(c.Context(), func(a *archive.Archive, db *queries.DB) error {
		o.warnStale(c, a)
		last, err := o.lastDay(c, a)
		if err != nil {
			return err
		}
		var t *show.Table
		if step > 0 {
			t, err = curveTable(c, db, last, id, step)
		} else {
			t, err = declineTable(c, db, last, id)
		}
		if err != nil {
			return err
		}
		return t.Print(c.OutOrStdout(), format)
	})
}

func declineTable(c *cobra.Command, db *queries.DB, last int32, id string) (*show.Table, error) {
	rows, err := queries.Decline(c.Context(), db, calendar.Date(last), id)
	if err != nil {
		return nil, err
	}
	t := &show.Table{Columns: []show.Column{
		{Name: "fixture"}, {Name: "lamp_life"}, {Name: "date"}, {Name: "run_hours", Digits: 1}, {Name: "level", Digits: 4},
		{Name: "level_raw", Digits: 4}, {Name: "flags"},
	}}
	for _, r := range rows {
		t.Add(r.Fixture, r.LampLife, show.Date(r.Day), r.RunHours, r.Level, orNone(r.LevelRaw), r.Flags)
	}
	return t, nil
}

func curveTable(c *cobra.Command, db *queries.DB, last int32, id string, step float64) (*show.Table, error) {
	rows, err := queries.DeclineCurve(c.Context(), db, calendar.Date(last), id, step)
	if err != nil {
		return nil, err
	}
	t := &show.Table{Columns: []show.Column{
		{Name: "fixture"}, {Name: "lamp_life"}, {Name: "run_hours", Digits: 0}, {Name: "level", Digits: 4},
		{Name: "level_q1", Digits: 4}, {Name: "level_q3", Digits: 4}, {Name: "days"},
	}}
	for _, r := range rows {
		t.Add(r.Fixture, r.LampLife, r.RunHours, r.Level, r.LevelQ1, r.LevelQ3, r.Days)
	}
	return t, nil
}

// orNone is a number's cell, empty where the number is absent.
func orNone(n queries.Null) any {
	if !n.Valid {
		return nil
	}
	return n.V
}
