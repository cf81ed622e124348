package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"wane/transform/forecast"
	"wane/transform/measure"
	"wane/transform/measure/measuresim"
	"wane/transform/plan"
	"wane/transform/simfleet"
)

// kindTally is what one kind of measurement promised and what came of it.
type kindTally struct {
	promised, had, ratio []float64 // width after over width before, by lamp; their ratio
	was, is              []float64 // error before and after
	asked, dated         int       // lamps promised a date; of them with one
	held, within, fleets int       // intervals that hold; of so many
}

// kinds makes the best of each kind by itself on each fleet, and holds what it promised
// of each lamp against what came. What comes later is compared with a run without.
func kinds() error {
	fmt.Printf("%d fleets of %d fixtures, seeds from %d, never recalibrated: %v: the best %d of each kind by themselves\n",
		*fleets, *fixtures, *seed, *never, *count)
	for _, kind := range plan.MeasureKinds() {
		if kind == plan.GoingThere || !strings.Contains(kind, *named) {
			continue
		}
		t := &kindTally{}
		for k := range *fleets {
			if err := t.fleet(kind, *seed+uint64(k)); err != nil {
				return err
			}
		}
		fmt.Printf("%-12s %3d fleets, %4d lamps: had over promised %.3f (middle half %.3f to %.3f); %d lamps with a date "+
			"before too: width falls to %.3f, promised %.3f, error %.3f to %.3f; 80 %% intervals hold %.3f; "+
			"of %d promised a date %d have one\n",
			kind, t.fleets, len(t.ratio), median(t.ratio), quantile(t.ratio, .25), quantile(t.ratio, .75), len(t.had),
			median(t.had), median(t.promised), median(t.was), median(t.is), float64(t.held)/float64(t.within), t.asked, t.dated)
	}
	return nil
}

// later is after how many days a kind's
// readings have come, 0: at once.
var later = map[string]int{plan.CleanHalf: 5 * 7, plan.Voltage: 371}

// only leaves some kinds of measurement to choose.
func only(kinds ...string) plan.Settings {
	s := measuresim.Settings()
	for _, k := range plan.MeasureKinds() {
		if !slices.Contains(kinds, k) && k != plan.GoingThere {
			s.Measure[k] = plan.MeasureTerms{Off: true}
		}
	}
	return s
}

func (t *kindTally) fleet(kind string, seed uint64) error {
	opt := simfleet.Options{Seed: seed, Fixtures: *fixtures, NeverRecalibrated: *never, NoSupply: kind == plan.Voltage}
	f := simfleet.New(opt)
	known := f.Input.Truncate(f.Input.AsOf - 400)
	s := only(kind)
	before, err := measuresim.Site(&known, s)
	if err != nil {
		return err
	}
	set := measure.Choose(before, measure.Limits{Count: *count}).Chosen
	if len(set) == 0 {
		return nil
	}
	t.fleets++
	then := known.Truncate(known.AsOf)
	if days := later[kind]; days > 0 {
		opt.Logged, opt.Cleaned = map[string]int{}, map[string]int{}
		for i := range set {
			for _, l := range set[i].Cleaned() {
				opt.Cleaned[known.Lamps[l].Fixture] = known.AsOf + 1
			}
			if kind == plan.Voltage {
				opt.Logged[set[i].Target] = known.AsOf + 1
			}
		}
		without := f.Input.Truncate(known.AsOf + days)
		if before, err = measuresim.Site(&without, s); err != nil {
			return err
		}
		with := simfleet.New(opt).Input
		then = with.Truncate(known.AsOf + days)
	} else {
		rng := rand.New(rand.NewPCG(seed, 1))
		for i := range set {
			measuresim.Make(f, &then, &set[i].Candidate, rng)
		}
	}
	after, err := measuresim.Site(&then, s)
	if err != nil {
		return err
	}
	t.compare(f, set, before, after)
	return nil
}

// effectsOf is what a set does to each lamp together.
func effectsOf(set []measure.Choice) map[string]measure.LampEffect {
	out := map[string]measure.LampEffect{}
	for i := range set {
		for _, l := range set[i].Lamps {
			if first, ok := out[l.Fixture]; ok {
				l.Was, l.Before, l.Had = first.Was, first.Before, first.Had
			}
			out[l.Fixture] = l
		}
	}
	return out
}

func (t *kindTally) compare(f *simfleet.Fleet, set []measure.Choice, before, after *measure.Input) {
	effect := effectsOf(set)
	for i := range set { // of whom nothing is promised, nothing should come
		for n := range before.Answers {
			x, l := &before.Answers[n], &before.Lamps[n]
			if _, ok := effect[l.Fixture]; !ok && set[i].Kind == plan.Voltage && l.Circuit == set[i].Target {
				w := measure.HoursWidth(x)
				effect[l.Fixture] = measure.LampEffect{Was: x.Status, Is: x.Status, Had: w, Left: w}
			}
		}
	}
	was := map[string]*forecast.Answer{}
	for i := range before.Answers {
		was[before.Lamps[i].Fixture] = &before.Answers[i]
	}
	for i := range after.Answers {
		y := &after.Answers[i]
		l, ok := effect[after.Lamps[i].Fixture]
		x := was[after.Lamps[i].Fixture]
		truth := f.Truth[after.Posteriors[i].Lamp].Due
		if !ok || x == nil || l.Is != forecast.StatusForecast {
			continue
		}
		dates := l.Was != l.Is
		if dates {
			t.asked++
		}
		if y.Status != forecast.StatusForecast || math.IsInf(truth, 1) {
			continue
		}
		left := measure.HoursWidth(y)
		if dates {
			t.dated++
		} else if x.Status != y.Status {
			continue
		} else { // against the run without, which later is not as it was
			left /= measure.HoursWidth(x) / l.Had
			t.had, t.promised = append(t.had, left/l.Had), append(t.promised, l.Left/l.Had)
			t.was = append(t.was, math.Abs(x.DueHours.Centre/truth-1))
			t.is = append(t.is, math.Abs(y.DueHours.Centre/truth-1))
		}
		t.ratio = append(t.ratio, left/l.Left)
		t.within++
		if y.DueHours.Lo <= truth && truth <= y.DueHours.Hi {
			t.held++
		}
	}
}
