package main

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"strconv"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/show"
	"wane/ingest"
	"wane/ingest/collect"
	"wane/ingest/collect/kinds"
	"wane/ingest/problem"
	"wane/ingest/site"
)

func collectCommand(e env) *cobra.Command {
	c := withFormat(&cobra.Command{
		Use:   "collect [SOURCE]",
		Short: "fetch from the configured sources now, once",
		Long: `collect fetches what is new from the sources in sources/*.yaml that say under
collect where their data comes from, or from the one named, all at the same time.
What came is kept in spool/ and taken in by the next ingest or night. Sources that
send by themselves (mqtt, push) are heard until they are quiet for some seconds.

With --try the source is connected to and what it would bring is shown; nothing is
stored, and nothing is taken away from it.

wane run does the same on the sources' schedules; it and collect keep off each
other's sources.`,
		Example: `  wane collect --site mysite
  wane collect greenhouse-api --try --site mysite`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) > 1 {
				return usagef("collect takes one source or none; see `wane collect --help`")
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error { return runCollect(c, e, args) },
	})
	c.Flags().Bool("try", false, "show what the named source would bring, and store nothing")
	return c
}

func runCollect(c *cobra.Command, e env, args []string) error {
	format, err := formatOf(c)
	if err != nil {
		return err
	}
	try, err := c.Flags().GetBool("try")
	if err != nil {
		return err
	}
	o, err := openSite(c)
	if err != nil {
		return err
	}
	all, err := collected(o.folder)
	if err != nil {
		return err
	}
	if len(args) == 1 {
		if all, err = named(all, args[0]); err != nil {
			return err
		}
	} else if try {
		return usagef("--try needs the name of a source; see `wane collect --help`")
	}
	if len(all) == 0 {
		return usagef("no description in sources/ says under collect where its data comes from; ingest/source/REFERENCE.md lists the keys")
	}
	opt := collect.Options{Dir: string(o.folder), Zone: o.Config.Location, Make: kinds.Maker(), Now: e.now}
	if try {
		return tryOne(c, opt, all[0], format)
	}
	return collectAll(c.Context(), c.OutOrStdout(), opt, all, format)
}

// collected gives the descriptions that say where their data comes from.
func collected(folder site.Folder) ([]collect.Described, error) {
	all, err := ingest.Descriptions(folder)
	if err != nil {
		return nil, err
	}
	var out []collect.Described
	for _, d := range all {
		if d.Collect != nil {
			out = append(out, collect.Described{Description: d.Description, Text: d.Text})
		}
	}
	return out, nil
}

func named(all []collect.Described, name string) ([]collect.Described, error) {
	var names []string
	for _, d := range all {
		if d.Name == name {
			return []collect.Described{d}, nil
		}
		names = append(names, d.Name)
	}
	if near := problem.Nearest(name, names); near != "" {
		return nil, usagef("no source %q is collected; did you mean %q?", name, near)
	}
	return nil, usagef("no source %q is collected; sources/*.yaml with collect are: %s", name, problem.Few(names, 12))
}

// collectAll collects all sources at once and tells what became of each.
func collectAll(ctx context.Context, w io.Writer, opt collect.Options, all []collect.Described,
	format show.Format) error {
	results := make([]collect.Status, len(all))
	said := make([]string, len(all))
	var each sync.WaitGroup
	for i, d := range all {
		each.Go(func() { results[i], said[i] = collectOne(ctx, opt, d) })
	}
	each.Wait()
	if err := ctx.Err(); err != nil {
		return err
	}
	t := &show.Table{Columns: show.Columns("source", "kind", "readings", "rejects", "bytes", "error")}
	var failed []string
	for i, s := range results {
		t.Add(all[i].Name, all[i].Collect.Kind(), s.Readings, s.Rejects, s.Bytes, said[i])
		if said[i] != "" {
			failed = append(failed, fmt.Sprintf("source %s: %s", all[i].Name, said[i]))
		}
	}
	if err := t.Print(w, format); err != nil {
		return err
	}
	return person(failed)
}

// collectOne collects a source; the counts are of this time only.
func collectOne(ctx context.Context, opt collect.Options, d collect.Described) (collect.Status, string) {
	r, err := collect.Open(opt, d.Description)
	if err != nil {
		return collect.Status{}, err.Error()
	}
	before := r.Status()
	err = r.Once(ctx)
	s := r.Status()
	if cerr := r.Close(); err == nil {
		err = cerr
	}
	s.Readings, s.Rejects, s.Bytes = s.Readings-before.Readings, s.Rejects-before.Rejects, s.Bytes-before.Bytes
	if err != nil {
		return s, err.Error()
	}
	return s, s.Unreadable
}

// tryOne shows what a source would bring.
func tryOne(c *cobra.Command, opt collect.Options, d collect.Described, format show.Format) error {
	got, err := collect.Try(c.Context(), opt, d.Description)
	if err != nil {
		return fmt.Errorf("source %s: %w", d.Name, err)
	}
	said := c.ErrOrStderr()
	var wrong []string
	for _, b := range got.Bodies {
		fmt.Fprintf(said, "%s: %d bytes, %d readings, %d rejects\n", show.OneLine(b.Name), b.Bytes, b.Readings, b.Rejects)
		if b.Unreadable != nil {
			wrong = append(wrong, fmt.Sprintf("%s does not read as described: %v", b.Name, b.Unreadable))
		}
	}
	if got.Lines > 0 {
		fmt.Fprintf(said, "%d messages or blocks of registers\n", got.Lines)
	}
	for _, r := range got.Rejects {
		fmt.Fprintf(said, "reject: line %d %s: %s (%s)\n", r.Line, r.Column, show.OneLine(r.Reason), show.OneLine(r.Text))
	}
	if got.Counts.Rejects > 0 {
		wrong = append(wrong, fmt.Sprintf("%d of %d rows would go to quarantine", got.Counts.Rejects,
			got.Counts.Rejects+got.Counts.Readings))
	}
	t := &show.Table{Columns: show.Columns("sensor", "channel", "readings", "first", "last", "last value")}
	for _, s := range got.Series {
		t.Add(s.Series.Sensor, s.Series.Channel, s.Readings, s.First.Format(time.RFC3339), s.Last.Format(time.RFC3339),
			strconv.FormatFloat(s.Value.Float(), 'f', int(s.Value.Digits), 64))
	}
	fmt.Fprintln(said, "a trial: nothing of this was stored")
	if err := t.Print(c.OutOrStdout(), format); err != nil {
		return err
	}
	return person(wrong)
}

// collecting keeps the sources of a site going beside the daemon's schedules.
type collecting struct {
	*collect.Supervisor
	end func()
}

// startCollecting collects until end is called, which waits for what is under way
// to be safe.
func startCollecting(ctx context.Context, o *opened, e env, log *slog.Logger) *collecting {
	ctx, cancel := context.WithCancel(ctx)
	s := collect.NewSupervisor(collect.Options{
		Dir: string(o.folder), Zone: o.Config.Location, Make: kinds.Maker(), Now: e.now, Log: log,
	}, func() ([]collect.Described, error) { return collected(o.folder) })
	done := make(chan struct{})
	go func() {
		defer close(done)
		s.Run(ctx)
	}()
	return &collecting{s, func() { cancel(); <-done }}
}

// beforeNight makes whole files of what came so far, so that the night takes it in.
func (k *collecting) beforeNight(log *slog.Logger) {
	if err := k.Seal(); err != nil {
		log.Warn("what came last waits for the next night", "error", err)
	}
}
