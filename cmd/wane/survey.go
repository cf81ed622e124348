package main

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/derive"
	"wane/ingest"
	"wane/ingest/archive"
	"wane/ingest/problem"
	"wane/transform/calendar"
	"wane/transform/lamp"
	"wane/transform/survey"
	"wane/transform/survey/surveys"
)

func surveyCommand(e env) *cobra.Command {
	c := &cobra.Command{
		Use:   "survey",
		Short: "canopy surveys: average, uniformity, map, change since the first",
		Long: `survey takes canopy surveys in and says what they say. A canopy survey is a fixed
grid of PPFD readings (often 5 x 5) at a fixed height and full power, repeated
over the years under the same geometry. The rig is declared in site.yaml under
survey: above all the reference fixture, which is surveyed on each visit and
tells the drift of the rig from that of the fixtures.`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) > 0 {
				return usagef("%q is not a command of wane survey; see `wane survey --help`", args[0])
			}
			return nil
		},
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	for _, s := range []*cobra.Command{
		surveyAddCommand(e), surveySheetCommand(e), surveyListCommand(e), surveyShowCommand(e), surveyCompareCommand(e),
		surveyRankCommand(e), surveyAheadCommand(e), surveyRigCommand(e),
	} {
		s.Long += "\n\n" + statuses
		c.AddCommand(s)
	}
	return c
}

// book gathers the surveys up to --as-of, or all.
func (o *opened) book(c *cobra.Command, a *archive.Archive) (*surveys.Book, error) {
	until := time.Time{}
	if c.Flags().Lookup("as-of") != nil {
		day, err := dayFlag(c, "as-of")
		if err != nil {
			return nil, err
		}
		if day != 0 {
			until = calendar.Start(day+1, o.Config.Location).Add(-time.Microsecond)
		}
	}
	all, err := ingest.Surveys(a)
	if err != nil {
		return nil, err
	}
	b := surveys.Of(all, o.Config.Rig(), o.Register, o.Beside, until)
	for _, n := range b.Notes {
		fmt.Fprintf(c.ErrOrStderr(), "wane: %s\n", n)
	}
	return b, nil
}

// withBook opens the site and hands its surveys to fn.
func withBook(c *cobra.Command, fn func(o *opened, a *archive.Archive, b *surveys.Book) error) error {
	o, err := openSite(c)
	if err != nil {
		return err
	}
	return o.view(func(a *archive.Archive) error {
		b, err := o.book(c, a)
		if err != nil {
			return err
		}
		if len(b.Entries) == 0 {
			return fmt.Errorf("no canopy survey was taken in yet; `wane survey sheet` prints a sheet to carry, `wane survey add FILE` takes it in")
		}
		return fn(o, a, b)
	})
}

func asOfFlag(c *cobra.Command) *cobra.Command {
	c.Flags().String("as-of", "", "use no survey taken after this day")
	return c
}

// survey finds a survey by name.
func surveyNamed(b *surveys.Book, id string) (*surveys.Entry, error) {
	if e := b.Survey(id); e != nil {
		return e, nil
	}
	var names []string
	for _, e := range b.Entries {
		names = append(names, e.ID)
	}
	if near := problem.Nearest(id, names); near != "" {
		return nil, usagef("no survey %q was taken in; did you mean %q?", id, near)
	}
	return nil, usagef("no survey %q was taken in; `wane survey list` lists them", id)
}

// hoursOf looks a lamp's run-hours up.
func (o *opened) hoursOf(ctx context.Context, a *archive.Archive,
	b *surveys.Book) (of surveys.HoursOf, done func() error, err error) {
	day := calendar.DayOf(b.Entries[len(b.Entries)-1].TakenAt, o.Config.Location)
	if last, any := derive.LastDay(a, o.Site); any {
		day = max(day, last)
	}
	r, err := derive.Know(ctx, a, o.Site, day)
	if err != nil {
		return nil, nil, err
	}
	return lamp.HoursOf(r.Lives, o.Config.Location), r.Close, nil
}

func spotNumbers(ms []survey.Marked) string {
	parts := make([]string, len(ms))
	for i, m := range ms {
		parts[i] = fmt.Sprintf("%d (%.0f)", m.Number, m.PPFD)
		if !m.Sure {
			parts[i] += "?"
		}
	}
	return strings.Join(parts, ", ")
}
