package measure_test

import (
	"math"
	"slices"
	"testing"

	"wane/transform/forecast"
	"wane/transform/measure"
	"wane/transform/plan"
	"wane/transform/simfleet"
)

// TestCleaningGivesWhatItPromises plays fleets again with half a bay cleaned, the one
// that gains most by it, and asks five weeks later: intervals are as wide as promised
// within 10 %, in the median.
func TestCleaningGivesWhatItPromises(t *testing.T) {
	const days = 35
	var ratios []float64
	for seed := uint64(411); seed <= 424; seed++ {
		opt := simfleet.Options{Seed: seed, Fixtures: 60, Days: 4 * 365}
		known := simfleet.New(opt).Input
		known = known.Truncate(known.AsOf - 400)
		in := site(t, &known)
		for _, kind := range plan.MeasureKinds() {
			if kind != plan.CleanHalf && kind != plan.GoingThere {
				in.Settings.Measure[kind] = plan.MeasureTerms{Off: true}
			}
		}
		set := measure.Choose(in, measure.Limits{Count: 1}).Chosen
		if len(set) == 0 || len(set[0].Lamps) == 0 {
			continue
		}
		opt.Cleaned = map[string]int{}
		for _, l := range set[0].Cleaned() {
			opt.Cleaned[known.Lamps[l].Fixture] = known.AsOf + 1
		}
		played := simfleet.New(opt).Input
		then := played.Truncate(known.AsOf + days)
		after := site(t, &then)
		for i := range after.Answers {
			for _, l := range set[0].Lamps {
				a := &after.Answers[i]
				if l.Fixture == after.Lamps[i].Fixture && l.Is == forecast.StatusForecast && a.Status == l.Is {
					ratios = append(ratios, measure.HoursWidth(a)/l.Left)
				}
			}
		}
	}
	slices.Sort(ratios)
	n := len(ratios)
	if n < 15 {
		t.Fatalf("only %d lamps to compare", n)
	}
	t.Logf("%d lamps: width had over promised %.3f in the median, middle half %.3f to %.3f", n, ratios[n/2], ratios[n/4],
		ratios[3*n/4])
	if math.Abs(ratios[n/2]-1) > .1 {
		t.Errorf("the width had is %.3f of the one promised, in the median of %d lamps", ratios[n/2], n)
	}
}
