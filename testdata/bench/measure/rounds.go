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

// Minutes that the plan spends on its own work, each (measuresim's): a lamp changed
// with its room, and a fixture cleaned.
const relampMin, cleanMin = 9, 6

const age, judgeEvery = 5000, 120

// rounds compares the error at 5,000 h without and with a round of measurements each
// year (-every), chosen within as many minutes as the plan's own work took since the last.
func rounds() error {
	without, with := &tally{name: "as they were"}, &tally{name: fmt.Sprintf("with a round each %d days", *every)}
	spent, allowed, n := 0., 0., 0
	made := map[string]int{}
	for k := range *fleets {
		s := *seed + uint64(k)
		f := simfleet.New(simfleet.Options{Seed: s, Fixtures: *fixtures, NeverRecalibrated: *never})
		base, err := judge(f, &f.Input, without, nil)
		if err != nil {
			return err
		}
		read := f.Input.Truncate(f.Input.AsOf)
		rng := rand.New(rand.NewPCG(s, 5))
		first := f.Input.AsOf - len(f.Gain[0]) + 1
		for day := first + *every; day < read.AsOf; day += *every {
			cut := read.Truncate(day)
			in, err := measuresim.Site(&cut, only(plan.Reference, plan.Survey)) // others would go on otherwise from there
			if err != nil {
				return err
			}
			minutes := work(&f.Input, day-*every, day)
			got := measure.Choose(in, measure.Limits{Minutes: math.Max(minutes, 1)})
			allowed, n = allowed+minutes, n+1
			for i := range got.Chosen {
				c := &got.Chosen[i]
				spent += c.Cost.Minutes
				made[c.Kind]++
				measuresim.Make(f, &cut, &c.Candidate, rng)
			}
			for g := range cut.Groups {
				read.Groups[g].References = append([]forecast.Reference(nil), cut.Groups[g].References...)
			}
		}
		if _, err := judge(f, &read, with, base); err != nil {
			return err
		}
	}
	fmt.Printf("%d fleets of %d fixtures, seeds from %d, never recalibrated: %v; asked at %d h\n", *fleets, *fixtures,
		*seed, *never, age)
	fmt.Printf("a round took %.0f min of the %.0f min that the plan's own work took, a fleet and round: "+
		"%.1f sensors and %.1f fixtures read\n", spent/float64(n), allowed/float64(n),
		float64(made[plan.Reference])/float64(n), float64(made[plan.Survey])/float64(n))
	without.print()
	with.print()
	return nil
}

// work is the minutes of relamps and cleanings between two days.
func work(in *forecast.Input, from, to int) float64 {
	sum := 0.
	for i := range in.Lamps {
		l := &in.Lamps[i]
		if l.Life > 1 && l.StartDay > from && l.StartDay <= to {
			sum += relampMin
		}
		for _, c := range l.Cleanings {
			if c.Part != forecast.CleanRelamp && c.Day > from && c.Day <= to && l.StartDay <= c.Day && (!l.Ended ||
				l.EndDay > c.Day) {
				sum += cleanMin
			}
		}
	}
	return sum
}

// judge asks every lamp once at the age and gives those that it dated; base are those
// that were dated before, nil: they are what is to be found.
func judge(f *simfleet.Fleet, in *forecast.Input, t *tally, base map[int]bool) (map[int]bool, error) {
	defer t.fleet(len(t.errs), t.held)
	asked, dated := map[int]bool{}, map[int]bool{}
	first := f.Input.AsOf - len(f.Gain[0]) + 1
	for day := first + judgeEvery; day <= in.AsOf; day += judgeEvery {
		cut := in.Truncate(day)
		want := map[int]bool{}
		for i := range cut.Lamps {
			l := &cut.Lamps[i]
			if l.StartDay <= day && !(l.Ended && l.EndDay <= day) && len(l.Bins) > 0 && l.Bins[len(l.Bins)-1].Day >= day-60 &&
				!asked[i] && l.HoursNow >= age && l.HoursNow < age+2000 && f.Truth[i].Due > l.HoursNow {
				want[i], asked[i] = true, true
			}
		}
		if len(want) == 0 {
			continue
		}
		fit, err := forecast.Run(&cut, forecast.Options{})
		if err != nil {
			return nil, err
		}
		for _, p := range fit.Posteriors() {
			if !want[p.Lamp] {
				continue
			}
			t.lamps++
			a := p.Answer(fit.Defaults(), forecast.Asking{})
			has := a.Status == forecast.StatusForecast || a.Status == forecast.StatusUnder
			if base[p.Lamp] || base == nil && has {
				c := p.Cross(p.Threshold, 1.28)
				t.widths = append(t.widths, math.Log(math.Min(c.Hi, 120000)/c.Lo))
				t.all = append(t.all, math.Abs(math.Min(c.Centre, 120000)/math.Min(f.Truth[p.Lamp].Due, 120000)-1))
			}
			if !has {
				continue
			}
			dated[p.Lamp] = true
			t.dated++
			truth := math.Min(f.Truth[p.Lamp].Due, 120000)
			t.errs = append(t.errs, math.Abs(a.DueHours.Centre-truth)/truth)
			if a.DueHours.Lo <= truth && truth <= a.DueHours.Hi {
				t.held++
			}
		}
	}
	return dated, nil
}
