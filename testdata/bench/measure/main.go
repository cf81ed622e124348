// Measure holds what package measure promises against what happens, on invented fleets
// whose truth is known:
//
//	go run ./testdata/bench/measure               # promised and had; best five, five at random, all sensors
//	go run ./testdata/bench/measure -part kinds   # the best three of each kind: promised and had
//	go run ./testdata/bench/measure -part rounds  # error at 5,000 h with and without a round a year
//	go run ./testdata/bench/measure -part worth   # the same were dirt, gain, wander known, and by readings
//
// With -never no sensor of the fleets was ever recalibrated; then the first part also
// says how many lamps have a date after one, three and ten measurements.
package main

import (
	"flag"
	"fmt"
	"log"
	"math"
	"math/rand/v2"
	"sort"

	"gonum.org/v1/gonum/stat"

	"wane/transform/forecast"
	"wane/transform/measure"
	"wane/transform/measure/measuresim"
	"wane/transform/plan"
	"wane/transform/simfleet"
)

var (
	fleets   = flag.Int("fleets", 20, "how many")
	seed     = flag.Uint64("seed", 5000, "of the first fleet")
	fixtures = flag.Int("fixtures", 240, "of each fleet")
	never    = flag.Bool("never", false, "sensors were never recalibrated")
	named    = flag.String("ways", "", "of kinds and worth: only those whose name this regular expression finds")
	count    = flag.Int("count", 3, "of kinds: how many of a kind are made")
	every    = flag.Int("every", 365, "of rounds: days from one to the next")
	part     = flag.String("part", "sets", "sets, kinds, rounds or worth")
)

func main() {
	log.SetFlags(0)
	flag.Parse()
	run := map[string]func() error{"sets": sets, "rounds": rounds, "kinds": kinds, "worth": worth}[*part]
	if run == nil {
		log.Fatalf("part %q is not known; use sets, kinds, rounds or worth", *part)
	}
	if err := run(); err != nil {
		log.Fatal(err)
	}
}

// tally is what a set of measurements led to, over fleets.
type tally struct {
	name           string
	errs           []float64 // |centre - truth| / truth of dated lamps
	same           []float64 // the same of lamps that had a date before any
	all            []float64 // the same of these, dated now or not
	widths         []float64 // of their due hours' intervals, ln
	dated, lamps   int
	money, minutes float64
	held           int
	byFleet        []float64 // share of a fleet's intervals that hold
}

// fleet notes what share of a fleet's intervals held, of which so many were there
// before and so many of them held.
func (t *tally) fleet(errs, held int) {
	if n := len(t.errs) - errs; n > 0 {
		t.byFleet = append(t.byFleet, float64(t.held-held)/float64(n))
	}
}

func (t *tally) add(f *simfleet.Fleet, in *measure.Input, had map[string]bool) {
	defer t.fleet(len(t.errs), t.held)
	for i := range in.Answers {
		a := &in.Answers[i]
		truth := f.Truth[in.Posteriors[i].Lamp].Due
		if a.Status == forecast.StatusDark || math.IsInf(truth, 1) {
			continue
		}
		t.lamps++
		if a.Status != forecast.StatusForecast && a.Status != forecast.StatusUnder {
			continue
		}
		t.dated++
		if truth <= in.Posteriors[i].HoursNow {
			continue // its day is past: nothing is forecast
		}
		e := math.Abs(a.DueHours.Centre-truth) / truth
		t.errs = append(t.errs, e)
		if had[in.Lamps[i].Fixture] {
			t.same = append(t.same, e)
		}
		if a.DueHours.Lo <= truth && truth <= a.DueHours.Hi {
			t.held++
		}
	}
}

func (t *tally) print() {
	fmt.Printf("%-52s dated %.3f of %d lamps; error %.3f in the median; 80 %% intervals hold %.3f "+
		"(standard error over fleets %.3f)", t.name, float64(t.dated)/float64(t.lamps), t.lamps, median(t.errs),
		float64(t.held)/float64(len(t.errs)), stat.StdErr(stat.StdDev(t.byFleet, nil), float64(len(t.byFleet))))
	if len(t.same) > 0 {
		fmt.Printf("; of the %d dated before any, error %.3f", len(t.same), median(t.same))
	}
	if len(t.widths) > 0 {
		fmt.Printf("; of the lamps dated as they were, error %.3f, width ln %.3f", median(t.all), median(t.widths))
	}
	if t.minutes > 0 {
		fmt.Printf("; %.0f min, EUR %.0f a fleet", t.minutes/float64(*fleets), t.money/float64(*fleets))
	}
	fmt.Println()
}

func median(x []float64) float64 { return quantile(x, .5) }

func quantile(x []float64, p float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	sort.Float64s(x)
	return x[int(p*float64(len(x)-1)+.5)]
}

// datedNow are the fixtures with a date.
func datedNow(in *measure.Input) map[string]bool {
	out := map[string]bool{}
	for i := range in.Answers {
		if s := in.Answers[i].Status; s == forecast.StatusForecast || s == forecast.StatusUnder {
			out[in.Lamps[i].Fixture] = true
		}
	}
	return out
}

// without cleanings and voltage loggers: what follows them is played by another run of
// the fleet.
func settings() plan.Settings {
	s := measuresim.Settings()
	s.Measure[plan.CleanHalf], s.Measure[plan.Voltage] = plan.MeasureTerms{Off: true}, plan.MeasureTerms{Off: true}
	return s
}

// made makes a set on a copy of what is known, and fits again.
func made(f *simfleet.Fleet, known *forecast.Input, set []measure.Choice, seed uint64,
	t *tally) (*measure.Input, error) {
	cut := known.Truncate(known.AsOf)
	rng := rand.New(rand.NewPCG(seed, 11))
	for i := range set {
		measuresim.Make(f, &cut, &set[i].Candidate, rng)
		t.money += set[i].Cost.Money
		t.minutes += set[i].Cost.Minutes
	}
	return measuresim.Site(&cut, settings())
}
