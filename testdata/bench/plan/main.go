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
	fmt.Fprintln(w, "site\tplan\tfixed hours\ton failure\tsaved\tbetter habit, hindsight\tsaved\tvisits p/f/o\tlamps p/f/o\tfailures p/f/o\tlight lost, mol: p\tf\to\t")
	wins, cheaper, same := 0, 0, 0
	begun := time.Now()
	for n := 0; n < sites; n++ {
		s := plansim.New(n)
		if limit {
			s.Settings.Threshold = "limit"
		}
		p, f, o := s.Run(plansim.FollowPlan, years, 0), s.Run(plansim.FixedHours, years, plansim.CleanEach), s.Run(plansim.OnFailure, years, plansim.CleanEach)
		best := min(s.Best(plansim.FixedHours, years).Total, s.Best(plansim.OnFailure, years).Total)
		better := min(f.Total, o.Total)
		if p.Total < better {
			wins++
		}
		switch {
		case p.Total < best:
			cheaper++
		case p.Total == best:
			same++
		}
		fmt.Fprintf(w, "%s\t%.0f\t%.0f\t%.0f\t%.1f %%\t%.0f\t%.1f %%\t%d/%d/%d\t%d/%d/%d\t%d/%d/%d\t%.0f\t%.0f\t%.0f\t\n", s.Name, p.Total, f.Total, o.Total, 100*(1-p.Total/better), best, 100*(1-p.Total/best),
			p.Visits, f.Visits, o.Visits, p.Lamps, f.Lamps, o.Lamps, p.Dark, f.Dark, o.Dark, p.LostMol, f.LostMol, o.LostMol)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	fmt.Printf("\nThe plan cost less than both habits, with yearly cleaning, at %d of %d sites over %d years (%.0f s).\n", wins, sites, years, time.Since(begun).Seconds())
	fmt.Printf("Against the better habit with hindsight (yearly cleaning or none, whichever was cheaper): cheaper at %d, the same at %d, dearer at %d.\n", cheaper, same, sites-cheaper-same)
	return nil
}
