package main

import (
	"context"
	"log/slog"
	"path/filepath"
	"strconv"
	"time"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/batch"
	"wane/cmd/wane/internal/pages/yearly"
	"wane/cmd/wane/internal/show"
	"wane/ingest/archive"
	"wane/queries"
)

func yearlyCommand(env) *cobra.Command {
	c := withFormat(&cobra.Command{
		Use:   "yearly YEAR",
		Short: "the reliability summary",
		Long: `yearly writes the reliability summary of a calendar year into
reports/yearly-YEAR: a page for reading and printing, CSV tables, the summary as
JSON, and for each warranty claim a folder with the rows and files it rests on.
manifest.sha256 holds the SHA-256 of every file. It prints what it wrote.

The report's date is the end of the year, or the last day with a reading where
that is earlier. What happened later is not in it; run-hours and levels are those
of the derived tables, from which a drift found later has been taken out. No
clock is read: the same inputs give the same bytes.`,
		Args: exactly(1),
		RunE: func(c *cobra.Command, args []string) error { return runYearly(c, args[0]) },
	})
	c.Flags().Bool("originals", false, "copy the logger files behind each warranty claim into its folder")
	return c
}

// The years that a record can be of.
const firstYear, lastYear = 1980, 2200

// yearOf is a year of the command line.
func yearOf(arg string) (int, error) {
	year, err := strconv.Atoi(arg)
	if err != nil || year < firstYear || year > lastYear {
		return 0, usagef("%q is not a year; write one such as 2025", arg)
	}
	return year, nil
}

func runYearly(c *cobra.Command, arg string) error {
	year, err := yearOf(arg)
	if err != nil {
		return err
	}
	format, err := formatOf(c)
	if err != nil {
		return err
	}
	originals, err := c.Flags().GetBool("originals")
	if err != nil {
		return err
	}
	o, err := openSite(c)
	if err != nil {
		return err
	}
	made, dir, err := writeYearly(c.Context(), o, year, originals)
	if err != nil {
		return err
	}
	return yearlyTable(made, dir).Print(c.OutOrStdout(), format)
}

// writeYearly makes and writes the summary of a year.
func writeYearly(ctx context.Context, o *opened, year int, originals bool) (made *yearly.Made, dir string, err error) {
	dir = yearly.Folder(o.folder, year)
	err = o.ask(ctx, func(a *archive.Archive, db *queries.DB) error {
		made, err = yearly.Make(ctx, a, db, yearly.Options{Folder: o.folder, Site: o.Site, Year: year, Originals: originals,
			Forecasts: true})
		return err
	})
	if err != nil {
		return nil, dir, err
	}
	return made, dir, yearly.Write(dir, made.Files)
}

func yearlyTable(m *yearly.Made, dir string) *show.Table {
	t := &show.Table{Columns: show.Columns("what", "value")}
	s := m.Summary
	t.Add("page", filepath.Join(dir, "index.html"))
	t.Add("files", len(m.Files))
	t.Add("fixtures_at_end", s.Scope.AtEnd)
	t.Add("lamps_failed", s.Scope.Failed)
	t.Add("warranty_claims", len(s.Claims))
	for _, n := range s.Notes {
		t.Add("note", n)
	}
	return t
}

// yearlySlot writes the reliability summary of the year before the slot. The
// derived tables are brought up to date first.
func yearlySlot(ctx context.Context, dir string, slot time.Time, log *slog.Logger) error {
	o, err := loadSite(dir)
	if err != nil {
		return err
	}
	if err := batch.Derive(ctx, batch.Options{Folder: o.folder, Site: o.Site, Now: slot,
		Progress: func(string) {}}); err != nil {
		return err
	}
	year := slot.In(o.Config.Location).Year() - 1
	made, folder, err := writeYearly(ctx, o, year, false)
	if err != nil {
		return err
	}
	log.Info("wrote the yearly summary", "year", year, "page", filepath.Join(folder, "index.html"), "files",
		len(made.Files))
	return nil
}
