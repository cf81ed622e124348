package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"wane/ingest"
	"wane/ingest/archive"
	"wane/ingest/problem"
	"wane/ingest/site"
)

func checkCommand(env) *cobra.Command {
	return &cobra.Command{
		Use:   "check",
		Short: "verify site.yaml, the register, the source descriptions and the archive",
		Long: `check reads site.yaml, register/ and sources/ and lists every mistake with file,
line, column and remedy. Then it verifies the archive: every checksum, count
and footer, and that no row is unaccounted for.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return runCheck(c) },
	}
}

func runCheck(c *cobra.Command) error {
	o, err := openSite(c)
	var found, more problem.List
	if err != nil && !errors.As(err, &found) {
		return err
	}
	if o == nil {
		dir, _ := c.Flags().GetString("site") // a flag of the root: cannot fail
		_, err = ingest.Descriptions(site.Folder(dir))
	} else {
		_, err = ingest.Descriptions(o.folder)
	}
	if err != nil && !errors.As(err, &more) {
		return err
	}
	if found = append(found, more...); len(found) > 0 {
		return found
	}
	w := c.OutOrStdout()
	fmt.Fprintf(w, "site.yaml and register: %d fixtures, %d series, %d logbook lines\n", len(o.Register.Fixtures), len(o.Register.Sensors), len(o.Register.Logbook))
	return o.view(func(a *archive.Archive) error {
		files, err := a.Files()
		if err != nil {
			return err
		}
		var all archive.Counts
		for _, f := range files {
			if !f.Lawful() {
				return fmt.Errorf("file %s: %d rows, but %d stored, %d duplicate and %d quarantined", f.Name, f.Rows, f.Stored, f.Duplicate, f.Quarantined)
			}
			all.Add(f.Counts)
		}
		fmt.Fprintf(w, "archive: %d files, %d rows = %d stored + %d duplicate + %d quarantined\n", len(files), all.Rows, all.Stored, all.Duplicate, all.Quarantined)
		return nil
	})
}
