package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"runtime"
	"time"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/batch"
	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive"
	"wane/ingest/problem"
	"wane/ingest/site"
	"wane/queries"
	"wane/transform/calendar"
)

// opened is a site folder whose site.yaml and register have passed the check.
type opened struct {
	folder site.Folder
	sitefolder.Site
}

// openSite reads the folder named by --site. All that is wrong with site.yaml
// and the register is listed at once.
func openSite(c *cobra.Command) (*opened, error) {
	dir, err := c.Flags().GetString("site")
	if err != nil {
		return nil, err
	}
	return loadSite(dir)
}

func loadSite(dir string) (*opened, error) {
	s, err := sitefolder.Open(dir)
	if s == nil {
		return nil, err
	}
	return &opened{folder: site.Folder(dir), Site: *s}, err
}

func isProblems(err error) bool {
	var l problem.List
	return errors.As(err, &l)
}

// acquire takes the lock of the site's archive.
func (o *opened) acquire(e env) (*archive.Lock, error) {
	place, err := o.Archive(o.folder)
	if err != nil {
		return nil, err
	}
	return place.Acquire(batch.Holder(e.now()))
}

// view hands a view of the archive to fn, again where it moved on meanwhile.
func (o *opened) view(fn func(*archive.Archive) error) error {
	place, err := o.Archive(o.folder)
	if err != nil {
		return err
	}
	return place.View(fn)
}

// ask opens the query engine over a view of the archive and hands it to fn.
func (o *opened) ask(ctx context.Context, fn func(*archive.Archive, *queries.DB) error) error {
	return o.view(func(a *archive.Archive) error {
		if err := errors.Join(a.Verify(), a.Bring()); err != nil { // the query engine reads past the archive
			return err
		}
		db, err := queries.Open(ctx, derive.Tables(a), queries.Limits{Threads: runtime.NumCPU(), MemoryMB: 700,
			Temp: os.TempDir()})
		if err != nil {
			return movedOn(a, err)
		}
		return errors.Join(movedOn(a, fn(a, db)), db.Close())
	})
}

// movedOn makes an error of the query engine archive.ErrGone where a part of the
// view is no longer there: the engine's own words do not tell.
func movedOn(a *archive.Archive, err error) error {
	if err == nil || errors.Is(err, context.Canceled) {
		return err
	}
	for _, p := range a.Manifest().Parts {
		if _, gone := os.Stat(a.Path(p)); errors.Is(gone, fs.ErrNotExist) {
			return fmt.Errorf("%w: %v", archive.ErrGone, err)
		}
	}
	return err
}

// warnStale says on stderr what the tables that the night left do not know yet.
func (o *opened) warnStale(c *cobra.Command, a *archive.Archive) {
	if what := derive.Stale(a, o.Site); what != "" {
		fmt.Fprintln(c.ErrOrStderr(), "wane:", what)
	}
}

// dayFlag reads a flag that holds a date as a day number; 0 where it is not
// given.
func dayFlag(c *cobra.Command, name string) (int32, error) {
	s, err := c.Flags().GetString(name)
	if err != nil || s == "" {
		return 0, err
	}
	t, err := time.Parse("2006-01-02", s)
	if err != nil {
		return 0, usagef("--%s %q is not a date; write year-month-day such as 2025-03-31", name, s)
	}
	return calendar.DayOf(t, time.UTC), nil
}

// fixtureFlag reads --fixture and checks that the register has it.
func (o *opened) fixture(id string) error {
	if id == "" || o.Register.Fixture(id) != nil {
		return nil
	}
	var names []string
	for _, f := range o.Register.Fixtures {
		names = append(names, f.ID)
	}
	if near := problem.Nearest(id, names); near != "" {
		return usagef("the register has no fixture %q; did you mean %q?", id, near)
	}
	return usagef("the register has no fixture %q; register/fixtures.csv lists them", id)
}

func fixtureFlag(c *cobra.Command, o *opened) (string, error) {
	id, err := c.Flags().GetString("fixture")
	if err != nil {
		return "", err
	}
	return id, o.fixture(id)
}

// lastDay is the day given by --as-of, or the last day with a reading.
func (o *opened) lastDay(c *cobra.Command, a *archive.Archive) (int32, error) {
	day, err := dayFlag(c, "as-of")
	if err != nil || day != 0 {
		return day, err
	}
	last, any := derive.LastDay(a, o.Site)
	if !any {
		return 0, fmt.Errorf("the archive holds no reading; put logger files into inbox/ and run `wane nightly`")
	}
	return last, nil
}
