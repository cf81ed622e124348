package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"wane/cmd/wane/internal/batch"
	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/show"
	"wane/cmd/wane/internal/tell"
	"wane/ingest/site"
	"wane/transform/calendar"
)

func nightlyCommand(e env) *cobra.Command {
	c := withFormat(&cobra.Command{
		Use:   "nightly",
		Short: "the batch, once: take in, roll up, fit, forecast, report, tell",
		Long: `nightly takes in the inbox and the configured sources, brings daily roll-up and
levels up to date, forecasts every lamp, and writes the report pages. A second
run with nothing new changes no byte of the archive.

With --no-report plan and pages stay as they are; wane report makes them when
they are wanted.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return runNightly(c, e) },
	})
	c.Flags().String("date", "", "the run's date: report on the days before it (default: all that was read)")
	c.Flags().Bool("no-report", false, "leave plan and pages as they are")
	c.Flags().String("rolled", "", "a list of parts that an engine has rolled up (schedules/cluster)")
	return c
}

func reportCommand(e env) *cobra.Command {
	c := withFormat(&cobra.Command{
		Use:   "report",
		Short: "plan and pages from what was taken in",
		Long: `report makes the plan and the pages from what was taken in:
the second half of nightly, for sites that have it at times of its own.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			out, err := runBatch(c, e, func(o *batch.Options) { o.Skip = true })
			if out == nil {
				return err
			}
			dir, ferr := c.Flags().GetString("site")
			return withTold(err, errors.Join(ferr, tellOutcome(c.Context(), site.Folder(dir), e, out, tell.Facts{})))
		},
	})
	c.Flags().String("date", "", "the run's date: report on the days before it (default: all that was read)")
	return c
}

func runNightly(c *cobra.Command, e env) error {
	without, err := c.Flags().GetBool("no-report")
	if err != nil {
		return err
	}
	dir, err := c.Flags().GetString("site")
	if err != nil {
		return err
	}
	rolled, err := rolledFlag(c)
	if err != nil {
		return err
	}
	told, err := recorded(c.Context(), site.Folder(dir), e, func() (*batch.Outcome, error) {
		return runBatch(c, e, func(o *batch.Options) { o.NoReport, o.Rolled = without, rolled })
	})
	return withTold(err, told)
}

// rolledFlag reads the list that an engine has written.
func rolledFlag(c *cobra.Command) (parts []derive.Part, err error) {
	path, err := c.Flags().GetString("rolled")
	if err != nil || path == "" {
		return nil, err
	}
	b, err := os.ReadFile(path)
	if err == nil {
		err = json.Unmarshal(b, &parts)
	}
	if err != nil {
		return nil, usagef("--rolled %s is not a list of parts: %v", path, err)
	}
	return parts, nil
}

// withTold is a batch's end where not everybody has been told: that needs a person.
func withTold(err, told error) error {
	var more needsPerson
	if told != nil && (err == nil || errors.As(err, &more)) {
		return person(append(more.what, told.Error()))
	}
	return errors.Join(err, told)
}

func runBatch(c *cobra.Command, e env, set func(*batch.Options)) (*batch.Outcome, error) {
	format, err := formatOf(c)
	if err != nil {
		return nil, err
	}
	date, err := dayFlag(c, "date")
	if err != nil {
		return nil, err
	}
	o, err := openSite(c)
	if err != nil {
		return nil, err
	}
	opt := o.batch(c, e.now())
	set(&opt)
	if date != 0 {
		opt.AsOf = date - 1
		opt.Now = calendar.Start(date, o.Config.Location).Add(2 * time.Hour)
	}
	out, err := batch.Run(c.Context(), opt)
	if err != nil {
		return out, err
	}
	if err := printOutcome(c.OutOrStdout(), out, format); err != nil {
		return out, err
	}
	return out, person(out.Person)
}

// batch is the options of a batch on this site.
func (o *opened) batch(c *cobra.Command, now time.Time) batch.Options {
	return batch.Options{Folder: o.folder, Site: o.Site, Now: now, Progress: progress(c.ErrOrStderr())}
}

// progress shows what goes on, on a terminal only.
func progress(w io.Writer) func(string) {
	if !isTerminal(w) {
		return nil
	}
	return func(s string) { fmt.Fprintf(w, "\r\x1b[K%s … ", s) }
}

func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// printOutcome prints what the batch took in and where its pages are.
func printOutcome(w io.Writer, out *batch.Outcome, format show.Format) error {
	if out.Imported != nil {
		if err := takenTable(out.Imported).Print(w, format); err != nil {
			return err
		}
	}
	if format != show.Text {
		return nil
	}
	if out.Result == nil {
		fmt.Fprintln(w, "\nno readings yet: put logger files into inbox/ and describe them in sources/ (wane inspect FILE "+
			"proposes a description)")
		return nil
	}
	where := "report: " + out.Pages
	if out.Pages == "" {
		where = "`wane due` lists them, `wane report` makes the pages"
	}
	_, err := fmt.Fprintf(w, "\n%d lamps in service as of %s; %s\n", len(out.Result.Due), day(out.Result.AsOf), where)
	return err
}
