package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/show"
	"wane/ingest/archive"
	"wane/transform/survey"
	"wane/transform/survey/surveys"
)

func surveyListCommand(env) *cobra.Command {
	return asOfFlag(withFormat(&cobra.Command{
		Use:   "list",
		Short: "the surveys taken in",
		Long:  `list prints a row a survey, in order of time: its grid, its average, its uniformity, and what is off the declared conditions.`,
		Args:  noArgs,
		RunE:  func(c *cobra.Command, _ []string) error { return runSurveyList(c) },
	}))
}

func runSurveyList(c *cobra.Command) error {
	format, err := formatOf(c)
	if err != nil {
		return err
	}
	return withBook(c, func(o *opened, _ *archive.Archive, b *surveys.Book) error {
		t := &show.Table{Columns: []show.Column{
			{Name: "survey"}, {Name: "fixture"}, {Name: "model"}, {Name: "taken_at"}, {Name: "visit"},
			{Name: "height_m", Digits: 2}, {Name: "grid"}, {Name: "read"},
			{Name: "average", Digits: 1}, {Name: "average_lo", Digits: 1}, {Name: "average_hi", Digits: 1},
			{Name: "min_avg", Digits: 3}, {Name: "cv", Digits: 3}, {Name: "notes"},
		}}
		for _, e := range b.Entries {
			n, err := b.Numbers(e)
			if err != nil {
				return err
			}
			var notes []string
			if e.Reference {
				notes = append(notes, "reference")
			}
			for _, f := range e.Flags {
				notes = append(notes, f.Words)
			}
			t.Add(e.ID, e.Fixture, b.Model(e.Fixture), e.TakenAt.In(o.Config.Location).Format(time.RFC3339), e.Visit+1,
				zeroNil(e.HeightM),
				fmt.Sprintf("%dx%d", n.Rows, n.Cols), n.Read, n.Average.Centre, n.Average.Lo, n.Average.Hi, n.MinAvg.Centre,
				n.CV.Centre, strings.Join(notes, "; "))
		}
		return t.Print(c.OutOrStdout(), format)
	})
}

func surveyShowCommand(env) *cobra.Command {
	c := asOfFlag(withFormat(&cobra.Command{
		Use:   "show SURVEY",
		Short: "one survey: heat map, numbers with their intervals, plain words",
		Long: `show draws a survey's heat map (for a terminal with colours in colour, else with
one to five dots beside each value) and prints its numbers. With --spots it
prints the spots instead.`,
		Args: exactly(1),
		RunE: func(c *cobra.Command, args []string) error { return runSurveyShow(c, args[0]) },
	}))
	c.Flags().Bool("spots", false, "print the spots")
	return c
}

func runSurveyShow(c *cobra.Command, id string) error {
	format, err := formatOf(c)
	if err != nil {
		return err
	}
	spots, err := c.Flags().GetBool("spots")
	if err != nil {
		return err
	}
	return withBook(c, func(o *opened, _ *archive.Archive, b *surveys.Book) error {
		e, err := surveyNamed(b, id)
		if err != nil {
			return err
		}
		n, err := b.Numbers(e)
		if err != nil {
			return err
		}
		w := c.OutOrStdout()
		t := numbersTable(n)
		if spots {
			t = spotTable(e, n)
		}
		if format != show.Text {
			return t.Print(w, format)
		}
		showHead(w, o, b, e)
		if err := t.Print(w, format); err != nil {
			return err
		}
		showWords(w, b, e, n)
		return nil
	})
}

func showHead(w io.Writer, o *opened, b *surveys.Book, e *surveys.Entry) {
	if o.Config.Invented {
		fmt.Fprintf(w, "INVENTED DATA: %s\n", o.Config.Name)
	}
	model := b.Model(e.Fixture)
	if model != "" {
		model = " (" + model + ")"
	}
	height := "height not written down"
	if e.HeightM > 0 {
		height = fmt.Sprintf("%.3g m", e.HeightM)
	}
	fmt.Fprintf(w, "survey %s: %s%s, %s, %s\n\n", e.ID, e.Fixture, model,
		e.TakenAt.In(o.Config.Location).Format("2006-01-02 15:04"), height)
	var same []survey.Survey
	for _, x := range b.Of(e.Fixture) { // one scale for all surveys of the fixture
		same = append(same, x.Used)
	}
	fmt.Fprintln(w, survey.Heat(e.Used, survey.ScaleOf(same...), colours(w)))
}

// colours says whether the terminal may be painted (NO_COLOR says not).
func colours(w io.Writer) bool { return isTerminal(w) && os.Getenv("NO_COLOR") == "" }

func showWords(w io.Writer, b *surveys.Book, e *surveys.Entry, n survey.Numbers) {
	fmt.Fprintln(w)
	say := func(format string, a ...any) {
		fmt.Fprintln(w, strings.ReplaceAll(wrap(fmt.Sprintf(format, a...), proseWidth), "\n", "\n  "))
	}
	if len(n.Hot) > 0 {
		say("hot spots, over 1.15 of the average: %s", spotNumbers(n.Hot))
	}
	if len(n.Cold) > 0 {
		say("cold spots, under 0.85 of the average: %s", spotNumbers(n.Cold))
	}
	for _, m := range append(n.Hot, n.Cold...) {
		if !m.Sure {
			say("a ? marks a spot whose interval reaches the limit")
			break
		}
	}
	for _, f := range e.Flags {
		say("off the declared conditions: %s", f.Words)
	}
	for _, k := range e.Corrections {
		say("%s", k.Words)
	}
	for _, k := range n.Warnings {
		say("%s", k)
	}
	_, rig := b.RigState(e.Visit)
	say("rig: %s", rig)
}

// numbersTable is all that one survey says.
func numbersTable(n survey.Numbers) *show.Table {
	t := &show.Table{Columns: []show.Column{
		{Name: "quantity"}, {Name: "value", Digits: 3}, {Name: "lo", Digits: 3}, {Name: "hi", Digits: 3}, {Name: "unit"},
		{Name: "level", Digits: 2, Wide: true}, {Name: "n", Wide: true}, {Name: "method", Wide: true}, {Name: "note"},
	}}
	for _, q := range surveys.Quantities(n) {
		note := q.Note
		if len(q.Warnings) > 0 {
			note = strings.Join(append([]string{note}, q.Warnings...), "; ")
			note = strings.TrimPrefix(note, "; ")
		}
		t.Add(q.Name, q.Centre, q.Lo, q.Hi, q.Unit, zeroNil(q.Level), q.N, q.Method, note)
	}
	return t
}

func spotTable(e *surveys.Entry, n survey.Numbers) *show.Table {
	t := &show.Table{Columns: []show.Column{{Name: "spot"}, {Name: "row"}, {Name: "col"}, {Name: "ppfd", Digits: 1},
		{Name: "of_average", Digits: 3}, {Name: "sensor"}, {Name: "edge"}}}
	at := map[int]survey.Spot{}
	for _, p := range e.Used.Spots {
		at[survey.Number(p.Row, p.Col, n.Cols)] = p
	}
	for k := 1; k <= n.Rows*n.Cols; k++ {
		row, col := (k-1)/n.Cols+1, (k-1)%n.Cols+1
		edge := survey.Edge(row, col, n.Rows, n.Cols)
		p, ok := at[k]
		if !ok {
			t.Add(k, row, col, nil, nil, "", edge)
			continue
		}
		sensor := p.Sensor
		if sensor == "" {
			sensor = e.Conditions.Sensor
		}
		t.Add(k, row, col, p.PPFD, p.PPFD/n.Average.Centre, sensor, edge)
	}
	return t
}
