package group

import (
	"context"
	"errors"
	"maps"
	"slices"

	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/pages/report"
	"wane/cmd/wane/internal/pages/yearly"
	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive"
	"wane/ingest/group"
	"wane/ingest/site"
	"wane/queries"
	"wane/transform/survival/exact"
	summary "wane/transform/yearly"
)

// rateLevel is the confidence of failure rates, that of the sites' own summaries.
const rateLevel = .95

// Yearly sums up a calendar year of all sites that can be read, and writes its page into
// the group's reports.
func Yearly(ctx context.Context, f group.Folder, c group.Config, year int) (y report.GroupYear, page string,
	err error) {
	y = report.GroupYear{Year: year}
	sums := map[string]*report.GroupTypeYear{}
	for _, m := range c.Sites {
		s, err := yearOf(ctx, f.Of(m), year)
		if ctx.Err() != nil {
			return y, "", ctx.Err()
		}
		if err != nil {
			y.Left = append(y.Left, report.Need{Where: m.Name, What: err.Error()})
			continue
		}
		y.Sites = append(y.Sites, siteYear(m.Name, s))
		for _, e := range s.Scope.Exposures {
			if e.Unit != "lamp" {
				continue
			}
			t := sums[e.Kind]
			if t == nil {
				t = &report.GroupTypeYear{LampType: e.Kind}
				sums[e.Kind] = t
			}
			t.Sites++
			t.Lamps += e.Units
			t.Hours += float64(e.Hours)
			t.Failures += e.Failures
		}
	}
	for _, name := range slices.Sorted(maps.Keys(sums)) {
		t := sums[name]
		if t.Rate, err = exact.Rate(t.Failures, t.Hours, rateLevel); err != nil {
			return y, "", err
		}
		y.Types = append(y.Types, *t)
	}
	page, err = report.WriteGroupYear(f.Path("reports"), c.Name, c.Invented, y)
	return y, page, err
}

func siteYear(name string, s *summary.Summary) report.GroupSiteYear {
	out := report.GroupSiteYear{Site: name, AsOf: s.AsOf, Days: s.SeenDays, AtStart: s.Scope.AtStart,
		AtEnd: s.Scope.AtEnd, Relamped: s.Scope.Relamped, Failed: s.Scope.Failed, Claims: len(s.Claims)}
	for _, e := range s.Scope.Exposures {
		if e.Unit == "lamp" {
			out.Hours += float64(e.Hours)
		}
	}
	return out
}

// yearOf makes the summary of one site.
func yearOf(ctx context.Context, dir string, year int) (out *summary.Summary, err error) {
	s, err := sitefolder.Open(dir)
	if err != nil {
		return nil, err
	}
	place, err := s.Archive(site.Folder(dir))
	if err != nil {
		return nil, err
	}
	err = place.View(func(a *archive.Archive) error {
		if err := errors.Join(a.Verify(), a.Bring()); err != nil {
			return err
		}
		db, err := queries.Open(ctx, derive.Tables(a), queries.Limits{})
		if err != nil {
			return err
		}
		made, err := yearly.Make(ctx, a, db, yearly.Options{Folder: site.Folder(dir), Site: *s, Year: year})
		if err == nil {
			out = made.Summary
		}
		return errors.Join(err, db.Close())
	})
	return out, err
}
