package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/beside"
	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/show"
	"wane/ingest/archive"
	"wane/transform/due"
)

func surveyAheadCommand(env) *cobra.Command {
	c := asOfFlag(withFormat(&cobra.Command{
		Use:   "ahead [FIXTURE…]",
		Short: "which fixture holds up better: side by side now and over the next three years",
		Long: `ahead sets the fixtures that canopy surveys alone read side by side, all of them or
those named: at the run-hours that all of them have reached, and after one, two and
three years of burning on from there. For each it gives the light kept, with its
interval, the light on the grid, the uniformity and, where power and footprint are
known, the efficacy (umol/J). That which keeps most comes first. Of each two it says which holds up better, by how much, and how likely that
order is. What the rig may have drifted by is shared by all and cancels.`,
		Example: `  wane survey ahead
  wane survey ahead BENCH-1 BENCH-2 --format csv`,
		RunE: func(c *cobra.Command, args []string) error { return runSurveyAhead(c, args) },
	}))
	c.Flags().Bool("pairs", false, "print each two against each other, age by age")
	return c
}

func runSurveyAhead(c *cobra.Command, fixtures []string) error {
	format, err := formatOf(c)
	if err != nil {
		return err
	}
	pairs, err := c.Flags().GetBool("pairs")
	if err != nil {
		return err
	}
	o, err := openSite(c)
	if err != nil {
		return err
	}
	for _, f := range fixtures {
		if err := o.fixture(f); err != nil {
			return err
		}
	}
	return o.view(func(a *archive.Archive) error {
		day, err := o.lastDay(c, a)
		if err != nil {
			return err
		}
		ahead, err := derive.SurveyedAhead(c.Context(), a, o.Site, day, fixtures, o.Config.Interval)
		if err != nil {
			return err
		}
		if len(ahead.Lamps) < 2 {
			return fmt.Errorf("fewer than two fixtures are read by canopy surveys alone at known run-hours: nothing to set side by side%s", because(ahead.Left))
		}
		w := c.OutOrStdout()
		t := beside.Table(ahead)
		if pairs {
			t = beside.Pairs(ahead)
		}
		if err := t.Print(w, format); err != nil || format != show.Text {
			return err
		}
		aheadWords(w, ahead)
		return nil
	})
}

func because(left []string) string {
	if len(left) == 0 {
		return ""
	}
	return ": " + strings.Join(left, "; ")
}

// aheadWords says of each two which holds up better.
func aheadWords(w io.Writer, a *due.Ahead) {
	fmt.Fprintf(w, "\n%s\nat equal run-hours, from %.0f h on:\n", beside.Finding(a), a.Hours[0])
	for _, p := range a.Pairs {
		fmt.Fprintf(w, "  %s\n", beside.Words(p, a.Years))
	}
	for _, l := range a.Left {
		fmt.Fprintf(w, "  left out: %s\n", l)
	}
}
