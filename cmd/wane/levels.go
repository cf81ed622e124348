package main

import (
	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/show"
	"wane/ingest/archive"
	"wane/queries"
	"wane/transform/calendar"
)

func levelsCommand(env) *cobra.Command {
	c := withFormat(&cobra.Command{
		Use:   "levels",
		Short: "daily levels, with every correction and what they rest on",
		Long: `levels prints a row a lamp life and day: run-hours with their bounds and
witness, output as read and corrected, what each correction added (in per cent),
level, conditions and flags. Without --from it prints the last 7 days.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return runLevels(c) },
	})
	c.Flags().String("fixture", "", "one fixture only")
	c.Flags().String("from", "", "first day")
	c.Flags().String("as-of", "", "last day (default: the last day with a reading)")
	return c
}

var levelColumns = []show.Column{
	{Name: "fixture"}, {Name: "lamp_life"}, {Name: "date"}, {Name: "run_hours", Digits: 1},
	{Name: "run_hours_lo", Digits: 1, Wide: true}, {Name: "run_hours_hi", Digits: 1, Wide: true},
	{Name: "witness", Wide: true},
	{Name: "ppfd_raw", Digits: 1}, {Name: "ppfd", Digits: 1},
	{Name: "gain_ln", Digits: 5, Wide: true}, {Name: "supply_ln", Digits: 5, Wide: true},
	{Name: "ambient_ln", Digits: 5, Wide: true},
	{Name: "level", Digits: 4}, {Name: "level_raw", Digits: 4}, {Name: "usable"},
	{Name: "supply_v", Digits: 1}, {Name: "ambient_c", Digits: 1}, {Name: "dim_pct", Digits: 0},
	{Name: "chain", Wide: true}, {Name: "flags"},
}

func runLevels(c *cobra.Command) error {
	format, err := formatOf(c)
	if err != nil {
		return err
	}
	first, err := dayFlag(c, "from")
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
	return o.ask(c.Context(), func(a *archive.Archive, db *queries.DB) error {
		o.warnStale(c, a)
		last, err := o.lastDay(c, a)
		if err != nil {
			return err
		}
		if first == 0 {
			first = last - 6
		}
		rows, err := queries.DailyLevels(c.Context(), db, calendar.Date(first), calendar.Date(last), id)
		if err != nil {
			return err
		}
		t := &show.Table{Columns: levelColumns}
		for _, r := range rows {
			t.Add(r.Fixture, r.LampLife, show.Date(r.Day), r.RunHours, r.RunHoursLo, r.RunHoursHi, r.Witness,
				orNone(r.OutputRaw), orNone(r.Output),
				orNone(r.GainLn), orNone(r.SupplyLn), orNone(r.AmbientLn), orNone(r.Level), orNone(r.LevelRaw), r.Usable,
				orNone(r.SupplyV), orNone(r.AmbientC), orNone(r.DimPct), r.Chain, r.Flags)
		}
		return t.Print(c.OutOrStdout(), format)
	})
}
