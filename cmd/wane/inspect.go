package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/show"
	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest"
	"wane/ingest/decode/stamp"
	"wane/ingest/inspect"
	"wane/ingest/site"
	"wane/ingest/source"
	"wane/ingest/surveysheet"
)

func inspectCommand(env) *cobra.Command {
	c := withFormat(&cobra.Command{
		Use:   "inspect FILE",
		Short: "read an unknown logger file, show what it is, propose a sources/*.yaml",
		Long: `inspect reads a file (of a very long one the beginning), says what it sees and how sure it is of
each thing, shows the first rows as it understands them, and proposes a source
description.

The description goes to standard output and what was seen to standard error; with
--write the description becomes sources/NAME.yaml of the site, with --out a file
of any name, and what was seen goes to standard output. A file that is there is
never written over.

What the file cannot tell is asked, not guessed: the zone of the logger's clock,
whether 03/04 is in March or April where no date of the file tells, whether a value
is stored at the beginning or the end of its interval. Until that is answered (--zone,
--order, --decimal, --interval, or by hand in the lines marked "decide") the description does
not load; --write then names it NAME.yaml.open, which ingest does not read.

The description is tried on the whole file, and what was read is checked: rows whose
times go back and forth, contradict each other or lie in the future are a misreading,
which is said with rows that show it. Exit 0 means that something was read, that no
check failed and nothing is open.`,
		Example: `  wane inspect inbox/bay07_20260113.csv
  wane inspect inbox/bay07_20260113.csv --zone Europe/Amsterdam --write
  wane inspect card.csv --zone +01:00 --order dmy --out sources/card.yaml`,
		Args: exactly(1),
		RunE: func(c *cobra.Command, args []string) error { return runInspect(c, args[0]) },
	})
	c.Flags().String("zone", "", "where the logger's clock is set: an IANA name, or an offset such as +01:00")
	c.Flags().String("order", "", "dmy, mdy or ymd: how dates in digits are written")
	c.Flags().String("decimal", "", "the decimal sign of numbers such as 12,001: , or .")
	c.Flags().String("interval", "", "begin or end: where the value of an interval is stored")
	c.Flags().Bool("write", false, "write the description into sources/ of the site")
	c.Flags().String("out", "", "write the description to this file")
	return c
}

func runInspect(c *cobra.Command, path string) error {
	format, err := formatOf(c)
	if err != nil {
		return err
	}
	answers, err := inspectAnswers(c)
	if err != nil {
		return err
	}
	write, err := c.Flags().GetBool("write")
	if err != nil {
		return err
	}
	out, err := c.Flags().GetString("out")
	if err != nil {
		return err
	}
	if write && out != "" {
		return usagef("--write and --out both say where the description goes; use one")
	}
	dir, err := c.Flags().GetString("site")
	if err != nil {
		return err
	}
	folder := site.Folder(dir)
	if _, err := os.Stat(folder.Path("sources")); write && err != nil {
		return usagef("--write: %s holds no sources/, so it is no site folder; name the site with --site, or the file with --out",
			dir)
	}
	answers.Now = time.Now()
	rep, err := inspectFile(path, answers)
	if err != nil || !rep.Believable() {
		err = errors.Join(err, surveyHint(path))
	}
	if err != nil {
		return err
	}
	if write && rep.Proposal != "" {
		out = folder.Path("sources", rep.Source+".yaml")
		if rep.Open() {
			out += ".open"
		}
	}
	if out != "" && rep.Proposal != "" {
		if err := writeNew(out, rep.Proposal); err != nil {
			return err
		}
	}
	if err := printInspection(c, rep, format, out); err != nil {
		return err
	}
	return person(inspectNeeds(rep, folder, path, out))
}

func inspectAnswers(c *cobra.Command) (a inspect.Answers, err error) {
	if a.Zone, err = c.Flags().GetString("zone"); err != nil {
		return a, err
	}
	if a.Zone != "" {
		if _, err := stamp.ZoneOf(a.Zone); err != nil {
			return a, usagef("--zone %q: %v", a.Zone, err)
		}
	}
	if a.Order, err = c.Flags().GetString("order"); err != nil {
		return a, err
	}
	if a.Order != "" && a.Order != "dmy" && a.Order != "mdy" && a.Order != "ymd" {
		return a, usagef("--order %q is not known; use dmy (day first), mdy (month first) or ymd (year first)", a.Order)
	}
	if a.Decimal, err = c.Flags().GetString("decimal"); err != nil {
		return a, err
	}
	if a.Decimal != "" && a.Decimal != "," && a.Decimal != "." {
		return a, usagef("--decimal %q is not known; use a comma or a point", a.Decimal)
	}
	if a.Interval, err = c.Flags().GetString("interval"); err != nil {
		return a, err
	}
	if a.Interval != "" && a.Interval != "begin" && a.Interval != "end" {
		return a, usagef("--interval %q is not known; use begin or end", a.Interval)
	}
	return a, nil
}

func inspectFile(path string, a inspect.Answers) (rep *inspect.Report, err error) {
	st, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if !st.Mode().IsRegular() {
		return nil, usagef("%s is not a regular file; name a file that a logger wrote", path)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	return inspect.FileWith(filepath.Base(path), f, a)
}

// surveyHint tells where a file that is no logger's goes if it holds a canopy survey; nil
// where it holds none.
func surveyHint(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return nil // said already
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxSheet))
	if err != nil || len(data) == maxSheet {
		return nil
	}
	var sheets []*surveysheet.Sheet
	if surveysheet.IsWorkbook(data) {
		sheets, err = surveysheet.Sheets(data)
	} else if s, bad := surveysheet.TextSheet(data); bad == nil {
		sheets = append(sheets, s)
	}
	if err != nil {
		return nil
	}
	for _, s := range sheets {
		grids, err := surveysheet.Find(s)
		if err != nil || len(grids) == 0 {
			continue
		}
		rows, cols := 0, 0
		for _, spot := range grids[0].Survey.Spots {
			rows, cols = max(rows, spot.Row), max(cols, spot.Col)
		}
		if rows > 1 && cols > 1 && rows <= mostLines && cols <= mostLines {
			return fmt.Errorf("%s holds a grid of %d x %d readings, as a canopy survey does; if it is one, `wane survey add %s` takes it in", filepath.Base(path), rows, cols, path)
		}
	}
	return nil
}

// Bounds of a survey sheet: people write them, spot by spot.
const (
	maxSheet  = 4 << 20
	mostLines = 30
)

// writeNew writes a file that must not be there yet.
func writeNew(path, text string) error {
	if _, err := os.Lstat(path); err == nil {
		return usagef("%s is there already; take it away, or give another name with --out", path)
	}
	return site.WriteFile(path, []byte(text))
}

// inspectNeeds is what a person must still do before ingest reads the file.
func inspectNeeds(rep *inspect.Report, folder site.Folder, path, out string) []string {
	var list []string
	for _, k := range rep.Checks {
		text := k.What + ": " + k.Why
		for _, r := range k.Rows {
			text += fmt.Sprintf("\n  line %d: %s %s %s %s", r.Line, r.Time, r.Sensor, r.Channel, r.Value)
		}
		list = append(list, text)
	}
	for _, q := range rep.Questions {
		text := q.Key + ": " + q.Text
		switch q.Key {
		case "zone":
			text += "; answer with --zone"
			if cfg, err := folder.Load(sitefolder.CronLine); err == nil {
				text += fmt.Sprintf(" (the site is in %s)", cfg.Zone)
			}
		case "time.format":
			text += "; answer with --order dmy, --order mdy or --order ymd"
		case "decimalChar":
			text += "; answer with --decimal , or --decimal ."
		case "interval":
			text += "; answer with --interval begin or --interval end"
		default:
			if len(q.Choices) > 0 {
				text += "; write one of: " + strings.Join(q.Choices, " | ")
			}
		}
		list = append(list, text)
	}
	if rep.Open() && out != "" {
		list = append(list, fmt.Sprintf("%s: decide the lines marked \"decide\", then give it the ending .yaml in sources/",
			out))
	}
	if other := alsoFits(rep, folder, path, out); other != "" {
		list = append(list, fmt.Sprintf("%s fits the name of this file too; make its `files` pattern or the proposed one narrower, or take one of them away", other))
	}
	return list
}

// alsoFits names a description of the site that would claim the file as well.
func alsoFits(rep *inspect.Report, folder site.Folder, path, out string) string {
	if rep.Proposal == "" {
		return ""
	}
	all, err := ingest.Descriptions(folder)
	if err != nil {
		return "" // not a site, or one with mistakes that check lists
	}
	for _, d := range all {
		if d.Match(filepath.Base(path)) && filepath.Base(d.File()) != filepath.Base(out) {
			return d.File()
		}
	}
	return ""
}

func printInspection(c *cobra.Command, rep *inspect.Report, format show.Format, out string) error {
	if format == show.JSON {
		b, err := json.MarshalIndent(rep, "", "  ")
		if err != nil {
			return err
		}
		_, err = fmt.Fprintf(c.OutOrStdout(), "%s\n", b)
		return err
	}
	seen := c.ErrOrStderr()
	if out != "" || rep.Proposal == "" {
		seen = c.OutOrStdout()
	}
	if err := printSeen(seen, rep, format); err != nil {
		return err
	}
	if rep.Proposal == "" {
		return nil
	}
	if out != "" {
		loads := ""
		if _, err := source.Load([]byte(rep.Proposal), out); err != nil {
			loads = " (it does not load yet)"
		}
		_, err := fmt.Fprintf(seen, "\nwrote %s%s\n", out, loads)
		return err
	}
	fmt.Fprintln(seen)
	_, err := io.WriteString(c.OutOrStdout(), rep.Proposal)
	return err
}

// printSeen prints the findings, the columns and the first rows, a table each.
func printSeen(w io.Writer, rep *inspect.Report, format show.Format) error {
	findings := &show.Table{Columns: show.Columns("what", "seen", "sure", "because")}
	for _, f := range rep.Findings {
		findings.Add(f.What, f.Value, string(f.Sure), f.Evidence)
	}
	columns := &show.Table{Columns: show.Columns("column", "name", "role", "quantity", "unit", "channel", "sure",
		"because")}
	for _, k := range rep.Columns {
		columns.Add(k.Position, k.Name, k.Role, k.Quantity, k.Unit, k.Channel, string(k.Sure), k.Evidence)
	}
	rows := &show.Table{Columns: show.Columns("line", "time", "sensor", "channel", "value")}
	for _, r := range rep.Rows {
		rows.Add(r.Line, r.Time, r.Sensor, r.Channel, r.Value)
	}
	rejects := &show.Table{Columns: show.Columns("line", "column", "code", "reason", "text")}
	for _, r := range rep.Rejects {
		rejects.Add(r.Line, r.Column, r.Code, r.Reason, r.Text)
	}
	for i, t := range []*show.Table{findings, columns, rows, rejects} {
		if len(t.Rows) == 0 {
			continue
		}
		if i > 0 {
			fmt.Fprintf(w, "\n%s\n", [...]string{1: "columns",
				2: "first rows as understood, times in UTC unless the zone is open", 3: "rows that would go to quarantine"}[i])
		}
		if err := t.Print(w, format); err != nil {
			return err
		}
	}
	return nil
}
