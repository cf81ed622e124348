// Command coverage simulates fleets of which half are censored and prints how
// often the 95 % limits of the survival package hold the truth.
//
// Run from the repository's root:
//
//	go run ./testdata/bench/survival -runs 10000
//
// Lives are Weibull. Censoring is at one age (the record ends for all at the
// same run-hours), at scattered ages, or scattered with a third of the units
// already in use when the record began (their watch starts at an age).
package main

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"

	"wane/transform/estimate"
	s "wane/transform/survival"
)

const beta, eta = 2.0, 10000.0

type tally struct{ in, low, high, none int }

func (t *tally) add(e estimate.Estimate, truth float64) {
	switch {
	case math.IsNaN(e.Lo):
		t.none++
	case truth < e.Lo:
		t.low++
	case truth > e.Hi:
		t.high++
	default:
		t.in++
	}
}

func (t tally) String() string {
	n := float64(t.in + t.low + t.high)
	return fmt.Sprintf("%6.1f %6.1f %6.1f %6.1f", 100*float64(t.in)/n, 100*float64(t.low)/n, 100*float64(t.high)/n,
		100*float64(t.none)/(n+float64(t.none)))
}

func life(p float64) float64 { return eta * math.Pow(-math.Log1p(-p), 1/beta) }

func fleet(n int, kind string, r *rand.Rand) []s.Unit {
	units := make([]s.Unit, 0, n)
	for len(units) < n {
		var u s.Unit
		t := eta * math.Pow(-math.Log(1-r.Float64()), 1/beta)
		end := life(0.5)
		switch kind {
		case "scattered":
			end = eta * math.Pow(-math.Log(1-r.Float64()), 1/beta) // the same law: half censored
		case "late":
			if r.Float64() < 1.0/3 {
				u.Entry = eta * 0.6 * r.Float64()
			}
			end = u.Entry + eta*1.55*r.Float64()
			if t <= u.Entry {
				continue
			}
		}
		u.Exit, u.Failed = math.Min(t, end), t <= end
		units = append(units, u)
	}
	return units
}

func main() {
	runs := flag.Int("runs", 2000, "fleets a line")
	seed := flag.Uint64("seed", 20251, "seed")
	only := flag.Bool("prediction", false, "only the prediction intervals")
	flag.Parse()
	if *only {
		prediction(*runs, *seed)
		return
	}
	fmt.Println("95 % limits: held, truth below, truth above, no limits (all %)")
	fmt.Printf("%-10s %5s %5s  %-34s %6s %6s %6s %6s\n", "censoring", "n", "fail", "limits", "held", "below", "above", "none")
	for _, kind := range []string{"one age", "scattered", "late"} {
		for _, n := range []int{10, 20, 50, 200} {
			line(kind, n, *runs, *seed)
		}
	}
	prediction(*runs, *seed)
}

func line(kind string, n, runs int, seed uint64) {
	r := rand.New(rand.NewPCG(seed, uint64(n)))
	names := []string{}
	tallies := map[string]*tally{}
	note := func(name string, e estimate.Estimate, truth float64) {
		if tallies[name] == nil {
			tallies[name] = &tally{}
			names = append(names, name)
		}
		tallies[name].add(e, truth)
	}
	failed := 0
	for i := 0; i < runs; i++ {
		units := fleet(n, kind, r)
		w, err := s.FitWeibull(units, 0.95)
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		failed += w.Failures
		for _, k := range []s.Interval{s.Profile, s.Wald} {
			name := "Wald"
			if k == s.Profile {
				name = "likelihood ratio"
			}
			note("Weibull B10 "+name, w.Life(0.1, k), life(0.1))
			note("Weibull B50 "+name, w.Life(0.5, k), life(0.5))
			note("Weibull beta "+name, w.Beta(k), beta)
		}
		for _, k := range []s.Limits{s.LogLog, s.Plain, s.Log, s.BetaProduct} {
			c, err := s.KaplanMeier(units, k, 0.95)
			if err != nil {
				fmt.Fprintln(os.Stderr, err)
				os.Exit(1)
			}
			for _, p := range []float64{0.1, 0.25, 0.4} {
				note(fmt.Sprintf("K-M at S=%.2f %v", 1-p, k), c.At(life(p)), 1-p)
			}
			note(fmt.Sprintf("K-M B25 %v", k), c.Quantile(0.25), life(0.25))
		}
	}
	for _, name := range names {
		fmt.Printf("%-10s %5d %5.1f  %-34s %v\n", kind, n, float64(failed)/float64(runs), name, tallies[name])
	}
}
