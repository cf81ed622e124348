package main

import (
	"errors"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/show"
	"wane/ingest"
)

func ingestCommand(e env) *cobra.Command {
	return withFormat(&cobra.Command{
		Use:   "ingest [FILE…]",
		Short: "take in the inbox, the configured sources, or the files named",
		Long: `ingest takes files into the archive: the inbox and the folders of sources/*.yaml,
or the files named, which stay where they are. Every file is kept byte for byte;
rows = stored + duplicate + quarantined, for each source and for all. Of these,
unknown counts the readings of series that the register does not have: kept like
the others, and used by the next run once it does.`,
		RunE: func(c *cobra.Command, args []string) error { return runIngest(c, e, args) },
	})
}

func runIngest(c *cobra.Command, e env, files []string) (err error) {
	format, err := formatOf(c)
	if err != nil {
		return err
	}
	o, err := openSite(c)
	if err != nil {
		return err
	}
	lock, err := o.acquire(e)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, lock.Release()) }()
	got, err := ingest.Import(c.Context(), lock, ingest.Options{
		Site: o.folder, Register: o.Register, Now: e.now(), Files: files, Progress: progress(c.ErrOrStderr()),
	})
	if err != nil {
		return err
	}
	if err := takenTable(got).Print(c.OutOrStdout(), format); err != nil {
		return err
	}
	return person(got.NeedsPerson())
}

// takenTable is what a round took in, by source; the last row adds up.
func takenTable(s *ingest.Summary) *show.Table {
	t := &show.Table{Columns: show.Columns("source", "files", "rows", "stored", "duplicate", "quarantined", "blank",
		"unknown")}
	for _, b := range s.Sources {
		name := b.Name
		if name == "" {
			name = "plain form"
		}
		t.Add(name, b.Files, b.Rows, b.Stored, b.Duplicate, b.Quarantined, b.Blank, b.Unknown)
	}
	if s.Again > 0 {
		again := s.All
		for _, b := range s.Sources {
			again.Rows -= b.Rows
		}
		t.Add("taken in before", s.Again, again.Rows, 0, again.Rows, 0, 0, 0)
	}
	t.Add("all", s.Files+s.Again, s.All.Rows, s.All.Stored, s.All.Duplicate, s.All.Quarantined, s.All.Blank, s.UnknownRows)
	return t
}
