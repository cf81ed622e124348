package main

import (
	"cmp"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/group"
	"wane/cmd/wane/internal/show"
	"wane/transform/calendar"
)

func groupDueCommand() *cobra.Command {
	c := groupTable("due", "when each lamp of the group falls under its threshold",
		`due prints one row a lamp in service at any site, as the last group night left it: by
the fit of all sites together. Its columns are those of "wane due" with the site
before them; the reason says what was leant on at other sites, and what the lamp's
own site says alone.`,
		func(c *cobra.Command, t group.Tables) (*show.Table, error) {
			in, err := c.Flags().GetString("of")
			if err != nil {
				return nil, err
			}
			if in != "" && !slices.ContainsFunc(t.Sites, func(s group.Standing) bool { return s.Site == in }) {
				return nil, usagef("the group has no site %q; `wane group sites` lists them", in)
			}
			wide, err := c.Flags().GetBool("wide")
			if err != nil {
				return nil, err
			}
			return groupDue(t, in, wide), nil
		})
	c.Flags().String("of", "", "lamps of one site only")
	c.Flags().Bool("wide", false, "every column, however wide")
	return c
}

// groupWide are the columns that a terminal has no room for beside the site.
var groupWide = []string{"reason", "threshold", "level_lo", "level_hi", "lamp_life"}

// groupDue lays the lines out: by site and fixture.
func groupDue(t group.Tables, in string, wide bool) *show.Table {
	out := &show.Table{Columns: append([]show.Column{{Name: "site"}}, dueColumns...)}
	for i := range out.Columns {
		x := &out.Columns[i]
		x.Wide = !wide && (x.Wide || slices.Contains(groupWide, x.Name))
	}
	for _, l := range t.Lines {
		if in == "" || l.Site == in {
			out.Add(append([]any{l.Site}, dueCells(&l.Line)...)...)
		}
	}
	return out
}

func groupMakesCommand() *cobra.Command {
	return groupTable("makes", "how lamp types and makes fade, by all sites",
		`makes prints the level of a lamp that nobody has read yet, without dirt, of each lamp
type and of each make that hangs at several sites, at run-hours up to the most that
any lamp of the type has burned. The interval holds what makes, lots and lamps
differ by. lamps is the number of lamp lives behind it, ended ones too.`,
		func(_ *cobra.Command, t group.Tables) (*show.Table, error) {
			out := &show.Table{Columns: []show.Column{{Name: "lamp_type"}, {Name: "model"}, {Name: "lamps"}, {Name: "sites"},
				{Name: "run_hours"}, {Name: "level", Digits: 3}, {Name: "level_lo", Digits: 3}, {Name: "level_hi", Digits: 3}}}
			for _, m := range t.Makes {
				out.Add(m.LampType, m.Model, m.Lamps, m.Sites, m.Hours, m.Level, m.Lo, m.Hi)
			}
			return out, nil
		})
}

func groupSitesCommand() *cobra.Command {
	return groupTable("sites", "the sites by what is due and what it costs",
		`sites prints one row a site: how many lamps are under their threshold or dark, how
many fall under it within 90 and 365 days (those that are under or dark too), and
what the work planned there within 365 days costs, by the prices of its site.yaml.`,
		func(_ *cobra.Command, t group.Tables) (*show.Table, error) { return groupSites(t), nil })
}

// groupSites lays the sites out, those with the most due first.
func groupSites(t group.Tables) *show.Table {
	out := &show.Table{Columns: show.Columns("site", "as_of", "lamps", "under", "dark", "due_90_days", "due_365_days",
		"without_date", "work_365_days", "cost_365_days", "currency")}
	sites := slices.Clone(t.Sites)
	slices.SortStableFunc(sites, func(a, b group.Standing) int {
		return cmp.Or(cmp.Compare(b.Soon, a.Soon), cmp.Compare(b.Year, a.Year), strings.Compare(a.Site, b.Site))
	})
	for _, s := range sites {
		out.Add(s.Site, show.Date(calendar.Date(s.AsOf)), s.Lamps, s.Under, s.Dark,
			s.Soon, s.Year, s.Unsure, s.Work, s.Cost, s.Currency)
	}
	return out
}

func groupSparesCommand() *cobra.Command {
	return groupTable("spares", "spares that the sites keep together instead of each for itself",
		`spares prints, by lamp type, how many spares the sites' stores must hold each for
itself until a delivery can be there, and how many one store for all of them: the
failures of all sites are added up as the sites' life laws have them, taken as
independent of each other.`,
		func(_ *cobra.Command, t group.Tables) (*show.Table, error) {
			out := &show.Table{Columns: []show.Column{{Name: "lamp_type"}, {Name: "sites"}, {Name: "lamps"}, {Name: "on_hand"},
				{Name: "each_for_itself"}, {Name: "together"}, {Name: "failures", Digits: 1}, {Name: "failures_lo"},
				{Name: "failures_hi"}, {Name: "service_level", Digits: 2}, {Name: "achieved", Digits: 3}}}
			for _, p := range t.Spares {
				out.Add(p.LampType, p.Sites, p.Lamps, p.OnHand, p.Alone, p.Together, p.Failures, p.Lo, p.Hi, p.Level, p.Achieved)
			}
			return out, nil
		})
}
