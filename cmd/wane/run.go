package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"slices"
	"sync"
	"time"

	"github.com/gofrs/flock"
	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/batch"
	"wane/cmd/wane/internal/tell"
	"wane/ingest/site"
	"wane/schedules"
	"wane/transform/calendar"
)

func runCommand(e env) *cobra.Command {
	return &cobra.Command{
		Use:   "run",
		Short: "the daemon: the batch on the schedules of site.yaml, with catch-up",
		Long: `run stays and runs the nightly batch and the yearly slot at the times that
site.yaml gives, in the site's zone; the report with the nightly batch, or at
times of its own. What was missed while it was not running
is caught up: once for the nightly batch, which takes in all there is. Beside
that it collects from the sources in sources/*.yaml that say under collect where
their data comes from, each on its own schedule, and reads the descriptions again
every minute. One
daemon a site folder; it ends gracefully at an interrupt, at once at a second.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return runDaemon(c, e) },
	}
}

func runDaemon(c *cobra.Command, e env) (err error) {
	o, err := openSite(c)
	if err != nil {
		return err
	}
	log := logger(c.ErrOrStderr())
	one := flock.New(o.folder.Path(".wane-run.lock"))
	if got, err := one.TryLock(); err != nil {
		return fmt.Errorf("lock the site for the daemon: %w", err)
	} else if !got {
		return errors.New("another `wane run` serves this site folder; end that one first")
	}
	defer func() { err = errors.Join(err, one.Unlock()) }()
	dir, err := c.Flags().GetString("site")
	if err != nil {
		return err
	}
	sources := startCollecting(c.Context(), o, e, log)
	defer sources.end()
	jobs := []schedules.Job{
		{Name: "nightly", Line: o.Config.Schedules.Nightly, CatchUp: schedules.Latest,
			Run: func(ctx context.Context, slot time.Time) error {
				sources.beforeNight(log)
				return nightlySlot(ctx, dir, slot, e, log)
			}},
		{Name: "yearly", Line: o.Config.Schedules.Yearly, CatchUp: schedules.Each,
			Run: func(ctx context.Context, slot time.Time) error {
				return yearlySlot(ctx, dir, slot, log)
			}},
	}
	if line := o.Config.Schedules.Report; line != "" {
		jobs = slices.Insert(jobs, 1, schedules.Job{Name: "report", Line: line, CatchUp: schedules.Latest,
			Run: func(ctx context.Context, slot time.Time) error {
				return reportSlot(ctx, dir, slot, e, log)
			}})
	}
	s, err := schedules.New(schedules.Options{
		Zone: o.Config.Location, Now: e.now, Log: log,
		State: schedules.FileState{Path: o.folder.Path(".wane-run.json")},
		Jobs:  jobs,
	})
	if err != nil {
		return err
	}
	beside, stop := context.WithCancel(c.Context())
	var ends sync.WaitGroup
	ends.Go(func() { tellLoop(beside, o.folder, e, log) })
	ends.Go(func() { alive(beside, log) })
	defer ends.Wait()
	defer stop()
	log.Info("serving site", "site", o.Config.Name, "nightly", o.Config.Schedules.Nightly, "report",
		o.Config.Schedules.Report, "yearly", o.Config.Schedules.Yearly, "zone", o.Config.Zone)
	if err := s.Run(c.Context()); err != nil && !errors.Is(err, context.Canceled) {
		return err
	}
	return c.Context().Err()
}

// nightlySlot runs the batch for a slot and writes down how it went.
func nightlySlot(ctx context.Context, dir string, slot time.Time, e env, log *slog.Logger) error {
	told, err := recorded(ctx, site.Folder(dir), e, func() (*batch.Outcome, error) {
		return nightlyBatch(ctx, dir, slot, e, log)
	})
	logTold(log, told)
	return err
}

// nightlyBatch reads the site anew each night: people edit its register by day.
func nightlyBatch(ctx context.Context, dir string, slot time.Time, e env, log *slog.Logger) (*batch.Outcome, error) {
	o, err := loadSite(dir)
	if err != nil {
		return nil, err
	}
	apart := o.Config.Schedules.Report != ""
	out, err := batch.Run(ctx, batch.Options{Folder: o.folder, Site: o.Site, Now: e.now(), AsOf: asOfSlot(slot, o),
		NoReport: apart})
	if err != nil {
		return out, err
	}
	if out.Imported != nil {
		log.Info("took in", "files", out.Imported.Files, "rows", out.Imported.All.Rows, "stored", out.Imported.All.Stored,
			"duplicate", out.Imported.All.Duplicate, "quarantined", out.Imported.All.Quarantined)
	}
	warn(log, out)
	return out, nil
}

// reportSlot makes plan and pages for a slot.
func reportSlot(ctx context.Context, dir string, slot time.Time, e env, log *slog.Logger) error {
	o, err := loadSite(dir)
	if err != nil {
		return err
	}
	out, err := batch.Run(ctx, batch.Options{Folder: o.folder, Site: o.Site, Now: e.now(), AsOf: asOfSlot(slot, o),
		Skip: true})
	if err != nil {
		return err
	}
	warn(log, out)
	logTold(log, tellOutcome(ctx, o.folder, e, out, tell.Facts{}))
	return nil
}

func logTold(log *slog.Logger, err error) {
	if err != nil {
		log.Warn("not everybody is told yet; it is tried again", "error", err)
	}
}

func warn(log *slog.Logger, out *batch.Outcome) {
	for _, p := range out.Person {
		log.Warn("needs a person", "what", p)
	}
}

// asOfSlot is the last day that a night's report speaks of: the day before it.
func asOfSlot(slot time.Time, o *opened) int32 { return calendar.DayOf(slot, o.Config.Location) - 1 }

// logger writes text to a terminal and JSON to a file or pipe.
func logger(w io.Writer) *slog.Logger {
	if isTerminal(w) {
		return slog.New(slog.NewTextHandler(w, nil))
	}
	return slog.New(slog.NewJSONHandler(w, nil))
}
