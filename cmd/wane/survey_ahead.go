package main

import (
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/show"
	"wane/ingest/archive"
	"wane/transform/forecast"
)

func surveyAheadCommand(env) *cobra.Command {
	c := asOfFlag(withFormat(&cobra.Command{
		Use:   "ahead [FIXTURE…]",
		Short: "which fixture holds up better: side by side now and over the next three years",
		Long: `ahead sets the fixtures that canopy surveys alone read side by side, all of them or
those named: at the run-hours that all of them have reached, and after one, two and
three years of burning on from there. For each it gives the light kept, with its
interval, the PPFD, the uniformity and, where power and footprint are known, the
efficacy (umol/J). Of each two it says which holds up better, by how much, and how likely that
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
		t := aheadTable(ahead)
		if pairs {
			t = aheadPairs(ahead)
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

func aheadTable(a *derive.Ahead) *show.Table {
	t := &show.Table{Columns: []show.Column{{Name: "fixture"}, {Name: "model"}, {Name: "lamp_type"}, {Name: "surveys"},
		{Name: "ppfd_first", Digits: 1}, {Name: "ppfd_last", Digits: 1}, {Name: "min_to_avg_first", Digits: 3}, {Name: "min_to_avg_last", Digits: 3},
		{Name: "efficacy_first", Digits: 3}, {Name: "efficacy_last", Digits: 3}}}
	for i, y := range a.Years {
		name := fmt.Sprintf("kept_%gy", y)
		between := i > 0 && i+1 < len(a.Years)
		t.Columns = append(t.Columns, show.Column{Name: name, Digits: 3, Wide: between}, show.Column{Name: name + "_lo", Digits: 3, Wide: between},
			show.Column{Name: name + "_hi", Digits: 3, Wide: between},
			show.Column{Name: fmt.Sprintf("run_hours_%gy", y), Digits: 0, Wide: i > 0})
	}
	for _, k := range a.Lamps {
		row := []any{k.Life.Fixture.ID, k.Model, string(k.Life.LampType), k.Levels[0].N, k.First.Average.Centre, k.Last.Average.Centre,
			k.First.MinAvg.Centre, k.Last.MinAvg.Centre, k.First.Efficacy.Centre, k.Last.Efficacy.Centre}
		for i, e := range k.Levels {
			row = append(row, e.Centre, e.Lo, e.Hi, a.Hours[i])
		}
		t.Add(row...)
	}
	return t
}

func aheadPairs(a *derive.Ahead) *show.Table {
	t := &show.Table{Columns: []show.Column{{Name: "better"}, {Name: "than"}, {Name: "years", Digits: 0}, {Name: "run_hours", Digits: 0},
		{Name: "ratio", Digits: 3}, {Name: "ratio_lo", Digits: 3}, {Name: "ratio_hi", Digits: 3}, {Name: "chance", Digits: 2}}}
	for _, p := range a.Pairs {
		for i, h := range p.At {
			t.Add(p.A, p.B, a.Years[i], h.Hours, h.Ratio.Centre, h.Ratio.Lo, h.Ratio.Hi, h.First)
		}
	}
	return t
}

// aheadWords says of each two which holds up better.
func aheadWords(w io.Writer, a *derive.Ahead) {
	fmt.Fprintf(w, "\nat equal run-hours, from %.0f h on:\n", a.Hours[0])
	for _, p := range a.Pairs {
		fmt.Fprintf(w, "  %s\n", pairWords(p, a.Years))
	}
	for _, l := range a.Left {
		fmt.Fprintf(w, "  left out: %s\n", l)
	}
}

func pairWords(p derive.KeptPair, years []float64) string {
	last := p.At[len(p.At)-1]
	if last.First < .9 {
		return fmt.Sprintf("%s and %s: not told apart over %g years (%s keeps more with a chance of %.0f %%)", p.A, p.B, years[len(years)-1], p.A, 100*last.First)
	}
	var ages []string
	for i := len(p.At) - 2; i < len(p.At); i++ {
		ages = append(ages, fmt.Sprintf("%s after %g years", more(p.At[i]), years[i]))
	}
	return fmt.Sprintf("%s holds up better than %s: %s; chance %s", p.A, p.B, strings.Join(ages, ", "), chance(last.First))
}

func more(h forecast.Holding) string {
	pct := func(v float64) float64 { return 100 * (v - 1) }
	return fmt.Sprintf("%+.1f %% (%+.1f to %+.1f)", pct(h.Ratio.Centre), pct(h.Ratio.Lo), pct(h.Ratio.Hi))
}

// chance never claims certainty.
func chance(p float64) string {
	if p > .99 {
		return "over 99 %"
	}
	return fmt.Sprintf("%.0f %%", math.Floor(100*p))
}
