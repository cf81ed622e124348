package main

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/show"
	"wane/ingest/archive"
	"wane/transform/survey"
	"wane/transform/survey/surveys"
)

func surveyCompareCommand(env) *cobra.Command {
	c := asOfFlag(withFormat(&cobra.Command{
		Use:   "compare FIXTURE | SURVEY SURVEY…",
		Short: "what changed since the first: level (lamp) or shape (reflector, lens, aim)",
		Long: `compare sets each later survey against the first: of a fixture, or of those named.
Surveys of one fixture are parted into a change of level (common to all spots:
lamp, or even dirt) and of shape (what is left: reflector, lens, aim). Surveys
of several fixtures are ranked side by side. Each comparison says whether the
rig held. With --spots it prints the change of each spot.`,
		Example: `  wane survey compare LED1-A01
  wane survey compare s-2023 s-2025`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usagef("compare takes a fixture, or surveys; see `wane survey compare --help`")
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error { return runSurveyCompare(c, args) },
	}))
	c.Flags().Bool("spots", false, "print the change of each spot")
	return c
}

func runSurveyCompare(c *cobra.Command, args []string) error {
	format, err := formatOf(c)
	if err != nil {
		return err
	}
	spots, err := c.Flags().GetBool("spots")
	if err != nil {
		return err
	}
	return withBook(c, func(o *opened, _ *archive.Archive, b *surveys.Book) error {
		es, err := chosen(b, args)
		if err != nil {
			return err
		}
		w := c.OutOrStdout()
		if several(es) {
			r, err := b.Beside(es)
			if err != nil {
				return usageError{err}
			}
			t := rankTable()
			addRanking(t, b, "named", r)
			if err := t.Print(w, format); err != nil || format != show.Text {
				return err
			}
			rankWords(w, r)
			return nil
		}
		if len(es) < 2 {
			return fmt.Errorf("%s was surveyed once; a change needs a second survey under the same geometry", es[0].Fixture)
		}
		var list []surveys.Change
		var why []error
		for _, e := range es[1:] {
			ch, err := b.Compare(es[0], e)
			if err != nil {
				why = append(why, err)
				continue
			}
			list = append(list, ch)
		}
		if len(list) == 0 {
			return usageError{errors.Join(why...)}
		}
		for _, err := range why {
			fmt.Fprintf(c.ErrOrStderr(), "wane: left out: %v\n", err)
		}
		t := changeTable(o, list)
		if spots {
			t = spotChangeTable(list)
		}
		if err := t.Print(w, format); err != nil || format != show.Text {
			return err
		}
		for _, ch := range list {
			changeWords(w, ch)
		}
		return nil
	})
}

// chosen finds the surveys named; a fixture's name stands for all of its own.
func chosen(b *surveys.Book, args []string) ([]*surveys.Entry, error) {
	var out []*surveys.Entry
	seen := map[string]bool{}
	add := func(e *surveys.Entry) {
		if !seen[e.ID] {
			seen[e.ID] = true
			out = append(out, e)
		}
	}
	for _, name := range args {
		if e := b.Survey(name); e != nil {
			add(e)
			continue
		}
		of := b.Of(name)
		if len(of) > 0 && len(args) > 1 {
			of = []*surveys.Entry{b.Latest(name)} // fixtures side by side
		}
		for _, e := range of {
			add(e)
		}
		if len(of) == 0 {
			_, err := surveyNamed(b, name)
			return nil, err
		}
	}
	if !several(out) {
		sortByTime(out)
	}
	return out, nil
}

func sortByTime(es []*surveys.Entry) {
	for i := 1; i < len(es); i++ {
		for j := i; j > 0 && es[j].TakenAt.Before(es[j-1].TakenAt); j-- {
			es[j], es[j-1] = es[j-1], es[j]
		}
	}
}

func several(es []*surveys.Entry) bool {
	for _, e := range es {
		if e.Fixture != es[0].Fixture {
			return true
		}
	}
	return false
}

func changeTable(o *opened, list []surveys.Change) *show.Table {
	t := &show.Table{Columns: []show.Column{
		{Name: "fixture"}, {Name: "first"}, {Name: "later"}, {Name: "taken_at"}, {Name: "years", Digits: 2}, {Name: "spots"},
		{Name: "level", Digits: 4}, {Name: "level_lo", Digits: 4}, {Name: "level_hi", Digits: 4},
		{Name: "average", Digits: 4, Wide: true}, {Name: "average_lo", Digits: 4, Wide: true},
		{Name: "average_hi", Digits: 4, Wide: true},
		{Name: "as_read", Digits: 4}, {Name: "as_read_lo", Digits: 4, Wide: true},
		{Name: "as_read_hi", Digits: 4, Wide: true},
		{Name: "shape_changed"}, {Name: "shape_p", Digits: 3}, {Name: "scatter_pct", Digits: 2, Wide: true},
		{Name: "repeat_pct", Digits: 2, Wide: true},
		{Name: "rig"}, {Name: "rig_drift", Digits: 4}, {Name: "rig_drift_lo", Digits: 4, Wide: true},
		{Name: "rig_drift_hi", Digits: 4, Wide: true}, {Name: "words", Wide: true},
	}}
	for _, c := range list {
		t.Add(c.Later.Fixture, c.First.ID, c.Later.ID, c.Later.TakenAt.In(o.Config.Location).Format(time.RFC3339),
			c.Later.TakenAt.Sub(c.First.TakenAt).Hours()/8766, c.Common,
			c.Level.Centre, c.Level.Lo, c.Level.Hi, c.Average.Centre, c.Average.Lo, c.Average.Hi, c.RawLevel.Centre,
			c.RawLevel.Lo, c.RawLevel.Hi,
			c.Shape.Changed, c.Shape.P, c.Shape.RMSPct, c.Shape.NoisePct, string(c.Rig.State), c.Rig.Drift.Centre,
			c.Rig.Drift.Lo, c.Rig.Drift.Hi,
			strings.Join(append(append([]string{}, c.Words...), c.Warnings...), "; "))
	}
	return t
}

func spotChangeTable(list []surveys.Change) *show.Table {
	t := &show.Table{Columns: []show.Column{
		{Name: "later"}, {Name: "spot"}, {Name: "row"}, {Name: "col"}, {Name: "first", Digits: 1}, {Name: "now", Digits: 1},
		{Name: "ratio", Digits: 4}, {Name: "ratio_lo", Digits: 4}, {Name: "ratio_hi", Digits: 4},
		{Name: "pattern", Digits: 4}, {Name: "pattern_lo", Digits: 4}, {Name: "pattern_hi", Digits: 4}, {Name: "stands_out"},
	}}
	for _, c := range list {
		for _, s := range c.Spots {
			t.Add(c.Later.ID, s.Number, s.Row, s.Col, s.First, s.Later, s.Ratio.Centre, s.Ratio.Lo, s.Ratio.Hi, s.Pattern.Centre,
				s.Pattern.Lo, s.Pattern.Hi, s.StandsOut)
		}
	}
	return t
}

// changeWords draws the change of each spot and says the answer in sentences.
func changeWords(w io.Writer, c surveys.Change) {
	fmt.Fprintf(w, "\n%s since %s, per cent, spot by spot (* stands out from the common change):\n",
		c.Later.ID, c.First.ID)
	rows, cols := c.Later.Size()
	at := map[int]survey.SpotChange{}
	for _, s := range c.Spots {
		at[s.Number] = s
	}
	for r := 1; r <= rows; r++ {
		for k := 1; k <= cols; k++ {
			s, ok := at[survey.Number(r, k, cols)]
			mark := " "
			if s.StandsOut {
				mark = "*"
			}
			if !ok {
				fmt.Fprintf(w, "%8s ", "-")
				continue
			}
			fmt.Fprintf(w, "%8.1f%s", 100*(s.Ratio.Centre-1), mark)
		}
		fmt.Fprintln(w)
	}
	for _, s := range append(append([]string{}, c.Words...), c.Warnings...) {
		fmt.Fprintln(w, strings.ReplaceAll(wrap(s, proseWidth), "\n", "\n  "))
	}
	if w2 := c.Without(); w2 != "" {
		fmt.Fprintln(w, strings.ReplaceAll(wrap(w2, proseWidth), "\n", "\n  "))
	}
}

func surveyRankCommand(env) *cobra.Command {
	c := asOfFlag(withFormat(&cobra.Command{
		Use:   "rank",
		Short: "fixtures side by side, now and at steps of age",
		Long: `rank sets the fixtures of each visit side by side, brightest first, with the
places that each can hold; "` + survey.NoDifference + `" is an answer. The rows
by age compare them at equal run-hours of their lamps, each on the straight line
between its own surveys and never beyond them.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return runSurveyRank(c) },
	}))
	c.Flags().Float64("step", 0, "run-hours between ages (default: that of site.yaml, 1,000)")
	return c
}

func runSurveyRank(c *cobra.Command) error {
	format, err := formatOf(c)
	if err != nil {
		return err
	}
	return withBook(c, func(o *opened, a *archive.Archive, b *surveys.Book) error {
		step := o.Config.Survey.StepHours
		if c.Flags().Changed("step") {
			if step, err = c.Flags().GetFloat64("step"); err != nil {
				return err
			}
		}
		t := rankTable()
		var last survey.Ranking
		var why []error
		for v := range b.Visits {
			r, err := b.SideBySide(v)
			if err != nil {
				why = append(why, fmt.Errorf("visit %d: %w", v+1, err))
				continue
			}
			addRanking(t, b, "visit "+b.Visits[v].From.In(o.Config.Location).Format("2006-01-02"), r)
			last = r
		}
		if len(t.Rows) == 0 {
			return errors.Join(why...)
		}
		hours, done, err := o.hoursOf(c.Context(), a, b)
		if err != nil {
			return err
		}
		steps, left, err := b.ByAge(hours, step)
		if err != nil {
			return errors.Join(usageError{err}, done())
		}
		if err := done(); err != nil {
			return err
		}
		for _, s := range steps {
			addRanking(t, b, fmt.Sprintf("%.0f h", s.RunHours), s.Ranking)
		}
		w := c.OutOrStdout()
		if err := t.Print(w, format); err != nil || format != show.Text {
			return err
		}
		fmt.Fprintln(w, "\nlatest visit:")
		rankWords(w, last)
		if n := len(steps); n > 0 {
			fmt.Fprintf(w, "\nat %.0f run-hours:\n", steps[n-1].RunHours)
			rankWords(w, steps[n-1].Ranking)
		} else {
			fmt.Fprintln(w, "\nby age: at no step of run-hours were two of the fixtures surveyed around it")
		}
		for _, s := range left {
			fmt.Fprintln(w, s)
		}
		return nil
	})
}

func rankTable() *show.Table {
	return &show.Table{Columns: []show.Column{
		{Name: "at"}, {Name: "place"}, {Name: "fixture"}, {Name: "model"}, {Name: "average", Digits: 1},
		{Name: "own_pct", Digits: 2}, {Name: "best"}, {Name: "worst"},
		{Name: "to_next", Digits: 4}, {Name: "to_next_lo", Digits: 4}, {Name: "to_next_hi", Digits: 4}, {Name: "seen"},
		{Name: "rig", Wide: true}, {Name: "method", Wide: true},
	}}
}

func addRanking(t *show.Table, b *surveys.Book, at string, r survey.Ranking) {
	for i, x := range r.Order {
		var ratio, lo, hi, seen any
		if i+1 < len(r.Order) {
			for _, p := range r.Pairs {
				if p.A == x.Fixture && p.B == r.Order[i+1].Fixture {
					ratio, lo, hi, seen = p.Ratio.Centre, p.Ratio.Lo, p.Ratio.Hi, p.Seen
				}
			}
		}
		t.Add(at, i+1, x.Fixture, b.Model(x.Fixture), x.Average, x.OwnPct,
			x.Best, x.Worst, ratio, lo, hi, seen, r.Rig, r.Method)
	}
}

func rankWords(w io.Writer, r survey.Ranking) {
	for _, p := range r.Pairs {
		fmt.Fprintf(w, "  %s\n", p.Words)
	}
	fmt.Fprintf(w, "  %s\n", strings.ReplaceAll(wrap("rig: "+r.Rig, proseWidth-2), "\n", "\n    "))
}
