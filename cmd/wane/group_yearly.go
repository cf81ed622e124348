package main

import (
	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/group"
	"wane/cmd/wane/internal/show"
)

func groupYearlyCommand() *cobra.Command {
	return withFormat(&cobra.Command{
		Use:   "yearly YEAR",
		Short: "the reliability summary of all sites together",
		Long: `yearly sums up a calendar year of all sites: fixtures, relamps, failures and claims by
site, and failures per million lamp-hours by lamp type over all of them. It writes
reports/yearly-YEAR.html into the group folder. A site that cannot be read is said
and left out. Each site's own summary ("wane yearly") has the evidence.`,
		Args: exactly(1),
		RunE: func(c *cobra.Command, args []string) error { return runGroupYearly(c, args[0]) },
	})
}

func runGroupYearly(c *cobra.Command, arg string) error {
	year, err := yearOf(arg)
	if err != nil {
		return err
	}
	format, err := formatOf(c)
	if err != nil {
		return err
	}
	f, config, err := openGroup(c)
	if err != nil {
		return err
	}
	y, _, err := group.Yearly(c.Context(), f, config, year)
	if err != nil {
		return err
	}
	t := &show.Table{Columns: []show.Column{{Name: "lamp_type"}, {Name: "sites"}, {Name: "lamps"}, {Name: "run_hours"},
		{Name: "failures"}, {Name: "per_million_h", Digits: 2}, {Name: "per_million_h_lo", Digits: 2},
		{Name: "per_million_h_hi", Digits: 2}}}
	for _, x := range y.Types {
		r := x.Rate.Scale(1e6)
		t.Add(x.LampType, x.Sites, x.Lamps, x.Hours, x.Failures, r.Centre, r.Lo, r.Hi)
	}
	if err := t.Print(c.OutOrStdout(), format); err != nil {
		return err
	}
	var faults []string
	for _, l := range y.Left {
		faults = append(faults, "site "+l.Where+" is left out: "+l.What)
	}
	return person(faults)
}
