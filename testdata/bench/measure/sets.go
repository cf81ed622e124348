package main

import (
	"fmt"
	"math"
	"math/rand/v2"

	"wane/transform/forecast"
	"wane/transform/measure"
	"wane/transform/measure/measuresim"
	"wane/transform/plan"
	"wane/transform/simfleet"
)

// sets compares the best five with five at random and with recalibrating everything.
func sets() error {
	none, best := &tally{name: "nothing measured"}, &tally{name: "best five"}
	random, every := &tally{name: "five at random"}, &tally{name: "recalibrate everything"}
	var share, days, fell, promised []float64
	steps := map[int]*tally{1: {name: "after 1"}, 3: {name: "after 3"}, 10: {name: "after 10"}}
	asked, kept := 0, 0
	for k := range *fleets {
		s := *seed + uint64(k)
		f := simfleet.New(simfleet.Options{Seed: s, Fixtures: *fixtures, NeverRecalibrated: *never})
		known := f.Input.Truncate(f.Input.AsOf - 400)
		in, err := measuresim.Site(&known, settings())
		if err != nil {
			return err
		}
		had := datedNow(in)
		none.add(f, in, had)
		count := 5
		if *never {
			count = 10
		}
		got := measure.Choose(in, measure.Limits{Count: count})
		five := got.Chosen[:min(5, len(got.Chosen))]
		after, err := made(f, &known, five, s, best)
		if err != nil {
			return err
		}
		best.add(f, after, had)
		a, b, sh, dy := compare(five, in, after)
		asked, kept = asked+a, kept+b
		share, days = append(share, sh...), append(days, dy...)
		was, is := errorsOf(f, in, after, five)
		fell, promised = append(fell, is/was), append(promised, foretold(five, in))
		for n, t := range steps {
			if *never && n <= len(got.Chosen) {
				x, err := made(f, &known, got.Chosen[:n], s, t)
				if err != nil {
					return err
				}
				t.add(f, x, had)
			}
		}
		rng := rand.New(rand.NewPCG(s, 3))
		rng.Shuffle(len(got.Others), func(i, j int) { got.Others[i], got.Others[j] = got.Others[j], got.Others[i] })
		if after, err = made(f, &known, got.Others[:5], s, random); err != nil {
			return err
		}
		random.add(f, after, had)
		var all []measure.Choice
		for _, c := range got.Others {
			if c.Kind == plan.Recalibrate {
				all = append(all, c)
			}
		}
		if after, err = made(f, &known, all, s, every); err != nil {
			return err
		}
		every.add(f, after, had)
	}
	fmt.Printf("%d fleets of %d fixtures, seeds from %d, never recalibrated: %v\n", *fleets, *fixtures, *seed, *never)
	fmt.Printf("interval had over promised: %.3f in the median as a share of due hours (middle half %.3f to %.3f), "+
		"%.3f in days; n %d; of %d lamps promised a date %d have one\n",
		median(share), quantile(share, .25), quantile(share, .75), median(days), len(share), asked, kept)
	fmt.Printf("of lamps touched with a date before and after: spread promised to fall to %.3f of what it was, "+
		"error fell to %.3f (medians of fleets)\n", median(promised), median(fell))
	for _, t := range []*tally{none, best, random, every} {
		t.print()
	}
	if *never {
		for _, n := range []int{1, 3, 10} {
			steps[n].print()
		}
	}
	return nil
}

// compare holds what was promised of each lamp against what came.
func compare(set []measure.Choice, in, after *measure.Input) (asked, kept int, share, days []float64) {
	last := map[string]measure.LampEffect{}
	for i := range set {
		for _, l := range set[i].Lamps {
			last[l.Fixture] = l
		}
	}
	for i := range after.Answers {
		a := &after.Answers[i]
		l, ok := last[after.Lamps[i].Fixture]
		if !ok || l.Is != forecast.StatusForecast {
			continue
		}
		asked++
		if a.Status != forecast.StatusForecast {
			continue
		}
		kept++
		share = append(share, measure.HoursWidth(a)/l.Left)
		if w := a.DueDay.Hi - a.DueDay.Lo; l.After > 0 {
			days = append(days, w/l.After)
		}
	}
	return asked, kept, share, days
}

// touched are the lamps that a set touches and that had a date before it.
func touched(set []measure.Choice) map[string]measure.LampEffect {
	out := map[string]measure.LampEffect{}
	for i := range set {
		for _, l := range set[i].Lamps {
			if l.Was == forecast.StatusForecast {
				if before, ok := out[l.Fixture]; ok {
					l.Before = before.Before
				}
				out[l.Fixture] = l
			}
		}
	}
	return out
}

// foretold is the median share to which the spread of touched lamps is to fall.
func foretold(set []measure.Choice, _ *measure.Input) float64 {
	var x []float64
	for _, l := range touched(set) {
		if l.Is == forecast.StatusForecast && l.Before > 0 && l.After > 0 {
			x = append(x, l.After/l.Before)
		}
	}
	return median(x)
}

// errorsOf is the median error of lamps that had a date before and have one after.
func errorsOf(f *simfleet.Fleet, before, after *measure.Input, set []measure.Choice) (was, is float64) {
	want := touched(set)
	now := map[string]*forecast.Answer{} // a lamp that went to the laboratory is no longer there
	for i := range after.Answers {
		now[after.Lamps[i].Fixture] = &after.Answers[i]
	}
	var a, b []float64
	for i := range before.Answers {
		x, y := &before.Answers[i], now[before.Lamps[i].Fixture]
		truth := f.Truth[before.Posteriors[i].Lamp].Due
		if _, ok := want[before.Lamps[i].Fixture]; !ok || y == nil || x.Status != forecast.StatusForecast ||
			y.Status != forecast.StatusForecast || math.IsInf(truth, 1) {
			continue
		}
		a = append(a, math.Abs(x.DueHours.Centre-truth)/truth)
		b = append(b, math.Abs(y.DueHours.Centre-truth)/truth)
	}
	return median(a), median(b)
}
