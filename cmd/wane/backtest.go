package main

import (
	"fmt"
	"maps"
	"slices"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/show"
	"wane/ingest/archive"
	"wane/transform/due"
)

func backtestCommand(env) *cobra.Command {
	c := withFormat(&cobra.Command{
		Use:   "backtest",
		Short: "how well the past's forecasts held",
		Long: `backtest goes back through the site's own history. At each origin it forecasts
from what was known then, and compares with what came: the hours at which lamps
crossed their thresholds, and the level 1,000 h later. It prints error, bias,
and how often the intervals held, by method, lamp type and horizon, next to
plain methods on the same rows. What came is itself read off the readings: where
sensors were never recalibrated, it shares their drift.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return runBacktest(c) },
	})
	c.Flags().String("as-of", "", "use nothing dated later than this day")
	c.Flags().Int("every", 91, "days between origins")
	c.Flags().Float64("interval", 0, "probability content of the intervals")
	return c
}

func runBacktest(c *cobra.Command) error {
	format, err := formatOf(c)
	if err != nil {
		return err
	}
	asOf, err := dayFlag(c, "as-of")
	if err != nil {
		return err
	}
	every, err := c.Flags().GetInt("every")
	if err != nil {
		return err
	}
	if every < 7 {
		return usagef("--every %d is less than a week; the forecast moves by weeks", every)
	}
	interval, err := c.Flags().GetFloat64("interval")
	if err != nil {
		return err
	}
	if c.Flags().Changed("interval") && !(interval > 0 && interval < 1) {
		return usagef("--interval %g is not between 0 and 1; write a probability such as 0.8", interval)
	}
	o, err := openSite(c)
	if err != nil {
		return err
	}
	return o.view(func(a *archive.Archive) error {
		b, err := derive.Backtest(c.Context(), a, o.Site, asOf, every, interval)
		if err != nil {
			return err
		}
		w := c.OutOrStdout()
		if err := backtestTable(b).Print(w, format); err != nil {
			return err
		}
		if format == show.Text {
			fmt.Fprintf(w, "\n%s\n", calibrationWords(b))
		}
		return nil
	})
}

func backtestTable(b *due.Backtested) *show.Table {
	t := &show.Table{Columns: []show.Column{
		{Name: "compared"}, {Name: "method"}, {Name: "lamp_type"}, {Name: "ahead"}, {Name: "asked"}, {Name: "lamps"},
		{Name: "answered"},
		{Name: "median_error", Digits: 3}, {Name: "bias", Digits: 3}, {Name: "interval", Digits: 2},
		{Name: "held", Digits: 2}, {Name: "within_20pct", Digits: 2},
	}}
	for _, l := range b.Lines {
		t.Add(l.On, l.Method, l.Class, l.Ahead, l.N, l.Lamps, l.Answered,
			l.MedianError, l.Bias, b.Interval, l.Held, l.Within20)
	}
	return t
}

// calibrationWords says what the record means for today's intervals.
func calibrationWords(b *due.Backtested) string {
	words := siteWords(b)
	types := b.Calibration.NoNarrower().Types
	for _, class := range slices.Sorted(maps.Keys(types)) {
		if t := types[class]; t.Note != "" {
			words += "\n" + t.Note + "; `wane due` applies it to " + class
		}
	}
	return words
}

// siteWords is what it means for those of all lamp types.
func siteWords(b *due.Backtested) string {
	cal := b.Calibration
	switch {
	case cal.Cases == 0:
		return "nothing has come yet that a past forecast spoke of: how far to trust the intervals, this site cannot tell"
	case cal.Widen > 1:
		return cal.Note + "; `wane due` applies it"
	case cal.Widen < 1:
		return fmt.Sprintf("%.0f %% of the %.0f %% intervals held (%d cases of %d lamps): wider than they need be, but "+
			"what came is read off the same sensors, so they are left as they are", 100*cal.Held, 100*b.Interval, cal.Cases, cal.Lamps)
	}
	return fmt.Sprintf("%.0f %% of the %.0f %% intervals held (%d cases of %d lamps): today's are left as they are",
		100*cal.Held, 100*b.Interval, cal.Cases, cal.Lamps)
}
