package group

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"wane/cmd/wane/internal/batch"
	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive"
	"wane/ingest/group"
	"wane/ingest/site"
	"wane/transform/due"
	"wane/transform/forecast"
)

// Options is one night of a group.
type Options struct {
	Folder   group.Folder
	Config   group.Config
	Now      time.Time
	Progress func(string)
	// Night runs a site's own night; nil where the sites have theirs elsewhere.
	Night func(ctx context.Context, dir string) (*batch.Outcome, error)
	// Fitted is the fit where an engine has made it; nil where there is none.
	Fitted *Fitted
}

// Outcome is what a night of a group did.
type Outcome struct {
	Sites  []*Site
	Tables *archive.Archive // the group's own; nil where no site could be fitted
	Pages  string           // the first page; "" where none was written
	Kept   bool             // nothing had changed since the night before
	Person []string         // what needs a person

	Elsewhere bool // the fit is Options.Fitted
}

// Site is a site of the group on this night.
type Site struct {
	group.Member
	Dir     string
	Trouble string // why its night failed, why its settings are old, or why it is left out
	Waits   int    // things that wait for a person there
	In      bool   // it is in the fit

	site  *sitefolder.Site
	tab   *archive.Archive
	alone map[lampLife]due.Line // what the site says alone
	cal   *forecast.Calibration
}

type lampLife struct {
	fixture string
	life    int
}

// Run does the night.
func Run(ctx context.Context, o Options) (out *Outcome, err error) {
	if o.Progress == nil {
		o.Progress = func(string) {}
	}
	lock, err := archive.Acquire(o.Folder.Path("archive"), batch.Holder(o.Now))
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, lock.Release()) }()
	out = &Outcome{}
	for _, m := range o.Config.Sites {
		s := &Site{Member: m, Dir: o.Folder.Of(m)}
		out.Sites = append(out.Sites, s)
		if err := s.night(ctx, o); err != nil {
			return out, err
		}
	}
	err = out.fit(ctx, lock, o)
	for _, s := range out.Sites {
		if s.Trouble != "" {
			out.Person = append(out.Person, fmt.Sprintf("site %s: %s", s.Name, s.Trouble))
		}
		if s.Waits > 0 {
			out.Person = append(out.Person, fmt.Sprintf("site %s: %s; `wane status --site %s` lists them", s.Name,
				plural(s.Waits, "thing waits", "things wait"), s.Dir))
		}
	}
	return out, err
}

// night fetches a site's settings where they are in a bucket, runs its own night, and opens what it left.
func (s *Site) night(ctx context.Context, o Options) error {
	late := Fetch(o.Folder, o.Config, s.Member)
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if late != nil && !s.settled() {
		s.Trouble = "left out: " + late.Error()
		return nil
	}
	if err := s.run(ctx, o); err != nil {
		return err
	}
	if late != nil {
		s.Trouble = strings.TrimSuffix("its settings are those of last time: "+late.Error()+"; "+s.Trouble, "; ")
	}
	return nil
}

// run runs the night with the settings that are here.
func (s *Site) run(ctx context.Context, o Options) error {
	if o.Night != nil {
		o.Progress("site " + s.Name)
		made, err := o.Night(ctx, s.Dir)
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case err != nil:
			s.Trouble = "its night failed: " + err.Error()
		case made.Result != nil:
			s.cal = &made.Result.Calibration
		}
		if made != nil {
			s.Waits = len(made.Person)
		}
	}
	why := s.open()
	switch {
	case why == "":
		if s.Trouble != "" {
			s.Trouble += "; it counts as its last good night left it"
		}
	case s.Trouble == "":
		s.Trouble = "left out: " + why
	case strings.HasSuffix(s.Trouble, why):
		s.Trouble += "; it is left out"
	default:
		s.Trouble += "; it is left out: " + why
	}
	return nil
}

// open reads what a site's last night left; it gives why the site is left out.
func (s *Site) open() string {
	var err error
	if s.site, err = sitefolder.Open(s.Dir); err != nil {
		return err.Error()
	}
	place, err := s.site.Archive(site.Folder(s.Dir))
	if err != nil {
		return err.Error()
	}
	if s.tab, err = place.Open(); err != nil {
		return err.Error()
	}
	if err = s.tab.Bring(); err != nil { // the query engine reads past the archive
		return err.Error()
	}
	if _, any := derive.LastDay(s.tab, *s.site); !any {
		return "it has no reading yet"
	}
	if stale := derive.Stale(s.tab, *s.site); stale != "" {
		return stale
	}
	lines, err := derive.DueLines(s.tab, derive.TableDue)
	if err != nil {
		return err.Error()
	}
	s.alone = map[lampLife]due.Line{}
	for _, l := range lines {
		s.alone[lampLife{l.Fixture, l.LampLife}] = l
	}
	s.In = true
	return ""
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
