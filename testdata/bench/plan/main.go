// Command plan prints what following the relamp plan costs against two common
// habits on invented sites whose truth is known.
//
//	go run ./testdata/bench/plan [-sites 20] [-years 10] [-limit]
package main

import (
	"flag"
	"fmt"
	"os"
	"text/tabwriter"
	"time"

	"wane/transform/plan/plansim"
)

func main() {
	sites := flag.Int("sites", 20, "invented sites")
	years := flag.Int("years", 10, "years lived through")
	limit := flag.Bool("limit", false, "hold the threshold as a limit, which the habits do not")
	flag.Parse()
	if err := table(*sites, *years, *limit); err != nil {
		fmt.Fprintln(os.Stderr, "plan:", err)
		os.Exit(1)
	}
}

func table(sites, years int, limit bool) error {
	w := tabwriter.NewWriter(os.Stdout, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "site\tplan\tfixed hours\ton failure\tsaved against better habit\tvisits p/f/o\tlamps p/f/o\tfailures p/f/o\tlight lost, mol: p\tf\to\t")
	wins := 0
	begun := time.Now()
	for n := 0; n < sites; n++ {
		s := plansim.New(n)
		if limit {
			s.Settings.Threshold = "limit"
		}
		p, f, o := s.Run(plansim.FollowPlan, years, 0), s.Best(plansim.FixedHours, years), s.Best(plansim.OnFailure, years)
		better := min(f.Total, o.Total)
		if p.Total < better {
			wins++
		}
		fmt.Fprintf(w, "%s\t%.0f\t%.0f\t%.0f\t%.1f %%\t%d/%d/%d\t%d/%d/%d\t%d/%d/%d\t%.0f\t%.0f\t%.0f\t\n", s.Name, p.Total, f.Total, o.Total, 100*(1-p.Total/better),
			p.Visits, f.Visits, o.Visits, p.Lamps, f.Lamps, o.Lamps, p.Dark, f.Dark, o.Dark, p.LostMol, f.LostMol, o.LostMol)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	fmt.Printf("\nThe plan cost less than both habits at %d of %d sites over %d years (%.0f s).\n", wins, sites, years, time.Since(begun).Seconds())
	return nil
}
