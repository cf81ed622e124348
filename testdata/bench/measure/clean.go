package main

import (
	"fmt"
	"math"

	"wane/transform/forecast"
	"wane/transform/measure"
	"wane/transform/measure/measuresim"
	"wane/transform/plan"
	"wane/transform/simfleet"
)

// clean plays each fleet again with the best half bay cleaned, and five weeks later
// compares the intervals of the lamps under its sensor with those of the run without.
func clean() error {
	const later = 7 * 5
	var got, want []float64
	dates, had := 0, 0
	for k := range *fleets {
		opt := simfleet.Options{Seed: *seed + uint64(k), Fixtures: *fixtures, NeverRecalibrated: *never}
		f := simfleet.New(opt)
		known := f.Input.Truncate(f.Input.AsOf - 400)
		s := measuresim.Settings()
		for _, kind := range plan.MeasureKinds() {
			if kind != plan.CleanHalf && kind != plan.GoingThere {
				s.Measure[kind] = plan.MeasureTerms{Off: true}
			}
		}
		in, err := measuresim.Site(&known, s)
		if err != nil {
			return err
		}
		best := measure.Choose(in, measure.Limits{Count: 1})
		if len(best.Chosen) == 0 {
			continue
		}
		c := best.Chosen[0]
		opt.Half = []simfleet.HalfCleaned{{Group: known.Lamps[c.Cleaned()[0]].Group, Day: known.AsOf + 1}}
		without, with := f.Input.Truncate(known.AsOf+later), simfleet.New(opt).Input
		cut := with.Truncate(known.AsOf + later)
		a, err := measuresim.Site(&without, s)
		if err != nil {
			return err
		}
		b, err := measuresim.Site(&cut, s)
		if err != nil {
			return err
		}
		effect := map[string]measure.LampEffect{}
		for _, l := range c.Lamps {
			effect[l.Fixture] = l
		}
		for i := range a.Answers {
			x, y := &a.Answers[i], &b.Answers[i]
			l, ok := effect[a.Lamps[i].Fixture]
			if !ok {
				continue
			}
			if l.Is == forecast.StatusForecast && l.Was != l.Is {
				dates++
				if y.Status == forecast.StatusForecast {
					had++
				}
			}
			if x.Status == forecast.StatusForecast && y.Status == x.Status && l.Was == x.Status && l.Is == l.Was {
				got = append(got, math.Log(y.DueHours.Hi/y.DueHours.Lo)/math.Log(x.DueHours.Hi/x.DueHours.Lo))
				want = append(want, l.After/l.Before)
			}
		}
	}
	fmt.Printf("%d fleets of %d fixtures, seeds from %d: the best half bay cleaned, five weeks later\n", *fleets,
		*fixtures, *seed)
	fmt.Printf("intervals fell to %.3f of those of the run without, promised %.3f (medians, %d lamps); of %d lamps promised a date %d have one\n",
		median(got), median(want), len(got), dates, had)
	return nil
}
