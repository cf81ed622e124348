package main

import (
	"errors"
	"fmt"
	"sort"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/show"
	"wane/ingest"
	"wane/ingest/archive"
)

func quarantineCommand(e env) *cobra.Command {
	c := withFormat(&cobra.Command{
		Use:   "quarantine",
		Short: "rows that did not pass, by reason",
		Long: `quarantine counts the rows that did not pass, by file and reason. With --rows it
prints each with its line and text. The files themselves are kept whole under
archive/originals.

After a description in sources/ was mended, --retry reads the files that have rows
in quarantine again from their originals by the description as it is now. What is
good then is taken up as if the file had just come, and no file need be sent again.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if retry, err := c.Flags().GetBool("retry"); err != nil || retry {
				return errors.Join(err, runRetry(c, e))
			}
			return runQuarantine(c)
		},
	})
	c.Flags().Bool("retry", false, "read the files again by the descriptions as they are now")
	c.Flags().Bool("rows", false, "print every row")
	c.Flags().String("code", "", "one class of reason only, such as bad-time")
	return c
}

func runQuarantine(c *cobra.Command) error {
	format, err := formatOf(c)
	if err != nil {
		return err
	}
	rows, err := c.Flags().GetBool("rows")
	if err != nil {
		return err
	}
	code, err := c.Flags().GetString("code")
	if err != nil {
		return err
	}
	o, err := openSite(c)
	if err != nil {
		return err
	}
	return o.view(func(a *archive.Archive) error {
		all, err := a.Quarantined()
		if err != nil {
			return err
		}
		var kept []archive.Quarantined
		for _, q := range all {
			if code == "" || q.Code == code {
				kept = append(kept, q)
			}
		}
		t := quarantineCounts(kept)
		if rows {
			t = quarantineRows(kept)
		}
		return t.Print(c.OutOrStdout(), format)
	})
}

func runRetry(c *cobra.Command, e env) (err error) {
	format, err := formatOf(c)
	if err != nil {
		return err
	}
	o, err := openSite(c)
	if err != nil {
		return err
	}
	all, err := ingest.Descriptions(o.folder)
	if err != nil {
		return err
	}
	lock, err := o.acquire(e)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, lock.Release()) }()
	tried, err := ingest.Retry(c.Context(), lock, all)
	if err != nil {
		return err
	}
	if len(tried) == 0 {
		fmt.Fprintln(c.ErrOrStderr(), "nothing to try again: no file in quarantine has a description that has changed "+
			"since it was read")
		return nil
	}
	if err := retriedTable(tried).Print(c.OutOrStdout(), format); err != nil {
		return err
	}
	left := int64(0)
	for _, f := range tried {
		left += f.After.Quarantined
	}
	if left == 0 {
		return nil
	}
	return person([]string{fmt.Sprintf("%d rows of the files tried again are still in quarantine; `wane quarantine` "+
		"shows them by reason", left)})
}

func retriedTable(tried []ingest.Retried) *show.Table {
	t := &show.Table{Columns: show.Columns("file", "source", "rows", "stored", "duplicate", "quarantined", "blank",
		"quarantined_before")}
	for _, f := range tried {
		t.Add(f.Name, f.Source, f.After.Rows, f.After.Stored, f.After.Duplicate,
			f.After.Quarantined, f.After.Blank, f.Before.Quarantined)
	}
	return t
}

func quarantineRows(all []archive.Quarantined) *show.Table {
	t := &show.Table{Columns: show.Columns("file", "line", "column", "code", "reason", "text", "rows")}
	for _, q := range all {
		t.Add(q.Name, q.Line, q.Column, q.Code, q.Reason, q.Text, q.Rows)
	}
	return t
}

func quarantineCounts(all []archive.Quarantined) *show.Table {
	type group struct{ code, file string }
	rows, first := map[group]int64{}, map[group]archive.Quarantined{}
	for _, q := range all {
		g := group{q.Code, q.Name}
		if _, ok := first[g]; !ok {
			first[g] = q
		}
		rows[g] += q.Rows
	}
	groups := make([]group, 0, len(rows))
	for g := range rows {
		groups = append(groups, g)
	}
	sort.Slice(groups, func(i, j int) bool {
		if groups[i].code != groups[j].code {
			return groups[i].code < groups[j].code
		}
		return groups[i].file < groups[j].file
	})
	t := &show.Table{Columns: show.Columns("code", "file", "rows", "first_line", "reason_of_first")}
	for _, g := range groups {
		t.Add(g.code, g.file, rows[g], first[g].Line, first[g].Reason)
	}
	return t
}
