package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/batch"
	"wane/cmd/wane/internal/demo/live"
	"wane/cmd/wane/internal/show"
	"wane/ingest/collect"
)

// longestLive is how long an invented site may be watched.
const longestLive = 10 * time.Minute

// runLive invents a site that is measured now, collects from it for some time, and
// runs a night on what came. enough, if any, ends the watching earlier.
func runLive(c *cobra.Command, e env, dir string, long time.Duration, enough func([]collect.Status) bool) (err error) {
	format, err := formatOf(c)
	if err != nil {
		return err
	}
	if long < time.Second || long > longestLive {
		return usagef("--for %s is not within 1s and %s", long, longestLive)
	}
	loggers, err := live.Start()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, loggers.Close()) }()
	if err := loggers.Write(dir, e.now().AddDate(-1, 0, 0)); err != nil {
		return err
	}
	o, err := loadSite(dir)
	if err != nil {
		return err
	}
	said := c.ErrOrStderr()
	fmt.Fprintf(said, "INVENTED DATA: a broker, a meter and a logger on 127.0.0.1 are collected for %s into %s\n",
		long, dir)
	if err := watch(c.Context(), e, o, loggers, long, said, enough); err != nil {
		return err
	}
	var out *batch.Outcome
	if _, err := recorded(c.Context(), o.folder, e, func() (_ *batch.Outcome, err error) {
		out, err = batch.Run(c.Context(), o.batch(c, e.now()))
		return out, err
	}); err != nil {
		return err
	}
	states, err := sourceStates(o.folder)
	if err != nil {
		return err
	}
	t := &show.Table{Columns: show.Columns("what", "state", "at", "more")}
	for _, s := range states {
		statusSource(t, s)
	}
	if err := t.Print(c.OutOrStdout(), format); err != nil {
		return err
	}
	if format == show.Text {
		fmt.Fprintln(c.OutOrStdout())
		if err := printOutcome(c.OutOrStdout(), out, format); err != nil {
			return err
		}
		fmt.Fprintf(c.OutOrStdout(), "\ninvented site: %s; its instruments are gone, its sources/*.yaml show how "+
			"they were read\n", dir)
	}
	return person(out.Person)
}

// watch collects while the instruments measure, and says every ten seconds what
// came.
func watch(ctx context.Context, e env, o *opened, l *live.Loggers, long time.Duration, said io.Writer,
	enough func([]collect.Status) bool) error {
	ctx, cancel := context.WithTimeout(ctx, long)
	defer cancel()
	measured := make(chan error, 1)
	go func() { measured <- l.Measure(ctx, e.now, long) }()
	sources := startCollecting(ctx, o, e, slog.New(slog.DiscardHandler)) // what fails is in the lines below
	start := e.now()
	look := time.NewTicker(time.Second)
	defer look.Stop()
	for n := 1; ctx.Err() == nil; n++ {
		select {
		case <-ctx.Done():
		case <-look.C:
		}
		if n%10 == 0 { // what is not sealed yet is not counted
			sources.beforeNight(slog.New(slog.DiscardHandler))
		}
		states, err := sourceStates(o.folder)
		if err != nil {
			cancel()
			sources.end()
			return errors.Join(err, <-measured)
		}
		if n%10 == 0 {
			fmt.Fprintf(said, "%4.0f s  %s\n", e.now().Sub(start).Seconds(), came(states))
		}
		if enough != nil && enough(states) {
			cancel()
		}
	}
	sources.end() // what came is sealed
	if err := <-measured; err != nil {
		return err
	}
	if ctx.Err() != nil && errors.Is(context.Cause(ctx), context.Canceled) && enough == nil {
		return context.Canceled // by a person
	}
	return nil
}

// came says in a line what came from each source.
func came(states []collect.Status) string {
	var parts []string
	for _, s := range states {
		p := fmt.Sprintf("%s (%s) %d readings", s.Source, s.Kind, s.Readings)
		if s.Open() != nil {
			p += ", a gap: " + show.OneLine(s.Error)
		}
		parts = append(parts, p)
	}
	return strings.Join(parts, "; ")
}
