package group

import (
	"cmp"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"wane/cmd/wane/internal/pages/report"
	"wane/transform/estimate"
)

// writePages writes the pages of the group from its tables.
func (out *Outcome) writePages(o Options) error {
	t, err := Read(out.Tables)
	if err != nil {
		return err
	}
	g := report.Group{Name: o.Config.Name, Invented: o.Config.Invented, Interval: interval}
	for _, s := range t.Sites {
		g.Sites = append(g.Sites, report.GroupSite{Site: s.Site, Name: s.Name, AsOf: s.AsOf, Lamps: s.Lamps,
			Gone: s.Under + s.Dark, Soon: s.Soon, Year: s.Year, Unsure: s.Unsure, Work: s.Work, Cost: s.Cost,
			Currency: s.Currency, Link: out.pagesOf(s.Site, o)})
	}
	slices.SortStableFunc(g.Sites, func(a, b report.GroupSite) int {
		return cmp.Or(cmp.Compare(b.Soon, a.Soon), cmp.Compare(b.Year, a.Year), strings.Compare(a.Site, b.Site))
	})
	for _, m := range t.Makes {
		g.Makes = append(g.Makes, report.GroupMake(m))
	}
	for _, p := range t.Spares {
		g.Spares = append(g.Spares, report.GroupSpares{LampType: p.LampType, Sites: p.Sites, Lamps: p.Lamps,
			OnHand: p.OnHand, Alone: p.Alone, Together: p.Together, Level: p.Level,
			Failures: estimate.Estimate{Centre: p.Failures, Lo: p.Lo, Hi: p.Hi, Level: interval, N: p.Lamps}})
	}
	for _, s := range out.Sites {
		g.Invented = g.Invented || s.site != nil && s.site.Config.Invented
		if s.Trouble != "" {
			g.Needs = append(g.Needs, report.Need{Where: s.Name, What: s.Trouble})
		}
	}
	out.Pages = o.Folder.Path("reports", "index.html")
	return report.WriteGroup(o.Folder.Path("reports"), g)
}

// pagesOf is the address of a site's own pages, from the group's; "" where it has none.
func (out *Outcome) pagesOf(name string, o Options) string {
	for _, s := range out.Sites {
		page := filepath.Join(s.Dir, "reports", "index.html")
		if s.Name != name {
			continue
		}
		if _, err := os.Stat(page); err != nil {
			return ""
		}
		from, err1 := filepath.Abs(o.Folder.Path("reports"))
		to, err2 := filepath.Abs(page)
		rel, err3 := filepath.Rel(from, to)
		if err1 == nil && err2 == nil && err3 == nil {
			return filepath.ToSlash(rel)
		}
	}
	return ""
}
