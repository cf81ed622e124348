package main

import (
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/show"
	"wane/ingest/archive"
	"wane/transform/survey"
	"wane/transform/survey/surveys"
)

func surveyRigCommand(env) *cobra.Command {
	return asOfFlag(withFormat(&cobra.Command{
		Use:   "rig",
		Short: "control chart of the reference fixture: whether the rig held",
		Long: `rig prints a row a visit: the reference fixture's average on Shewhart's
individuals chart, and the rig's drift since the first visit. Without a
reference fixture nobody can say whether a fixture faded or the rig moved.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return runSurveyRig(c) },
	}))
}

func runSurveyRig(c *cobra.Command) error {
	format, err := formatOf(c)
	if err != nil {
		return err
	}
	return withBook(c, func(o *opened, _ *archive.Archive, b *surveys.Book) error {
		chart, cerr := b.Chart()
		at := map[time.Time]survey.ChartPoint{}
		for _, p := range chart.Points {
			at[p.At] = p
		}
		t := &show.Table{Columns: []show.Column{
			{Name: "visit"}, {Name: "date"}, {Name: "surveys"}, {Name: "reference", Digits: 1}, {Name: "lower", Digits: 1},
			{Name: "centre", Digits: 1}, {Name: "upper", Digits: 1}, {Name: "outside"},
			{Name: "rig"}, {Name: "drift", Digits: 4}, {Name: "drift_lo", Digits: 4}, {Name: "drift_hi", Digits: 4},
			{Name: "words", Wide: true},
		}}
		for i, v := range b.Visits {
			rig := b.RigAt(i)
			state, words := b.RigState(i)
			n := len(v.Fixtures) + len(v.References)
			p, ok := at[v.From]
			if !ok || len(v.References) == 0 {
				t.Add(i+1, show.Date(v.From.In(o.Config.Location)), n, nil, nil, nil, nil, nil, state, rig.Drift.Centre,
					rig.Drift.Lo, rig.Drift.Hi, words)
				continue
			}
			t.Add(i+1, show.Date(v.From.In(o.Config.Location)), n, p.Value, chart.Lower, chart.Centre, chart.Upper, p.Outside,
				state, rig.Drift.Centre, rig.Drift.Lo, rig.Drift.Hi, words)
		}
		w := c.OutOrStdout()
		if err := t.Print(w, format); err != nil || format != show.Text {
			return err
		}
		fmt.Fprintln(w)
		if cerr != nil {
			fmt.Fprintln(w, wrap("no control chart: "+cerr.Error(), proseWidth))
		} else {
			fmt.Fprintf(w, "reference fixture %s; %s\n", b.Reference, strings.Join(chart.Warnings, "; "))
		}
		s := b.Slope()
		if s.Known() {
			fmt.Fprintf(w, "drift: %+.2f %% a year (%+.2f to %+.2f, %.0f %%)\n", s.Centre, s.Lo, s.Hi, 100*s.Level)
		} else {
			fmt.Fprintf(w, "drift a year: not known; %s\n", strings.Join(s.Warnings, "; "))
		}
		for _, r := range b.Repeats() {
			fmt.Fprintf(w, "repeat measured on %s at visit %d, %d rounds: %s; declared %.3g %% (site.yaml survey: "+
				"uncertainty)\n", r.Fixture, r.Visit+1, r.Rounds, interval(r.Pct, 2, " %"), o.Config.Survey.Uncertainty.RepeatPct)
		}
		_, last := b.RigState(len(b.Visits) - 1)
		fmt.Fprintf(w, "last visit: %s\n", last)
		return nil
	})
}
