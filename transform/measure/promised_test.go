package measure_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"wane/transform/forecast"
	"wane/transform/measure"
	"wane/transform/measure/measuresim"
	"wane/transform/simfleet"
)

// TestPromisedIsHad chooses on small invented fleets, makes what was chosen, and fits
// again: the widths of the due hours' intervals are within 10 % of what was promised,
// in the median of each kind of fleet, and the lamps promised a date mostly have one.
func TestPromisedIsHad(t *testing.T) {
	for _, kind := range []struct {
		name  string
		never bool
	}{{"recalibrated", false}, {"never recalibrated", true}} {
		var ratios, relative []float64
		promisedDates, hadDates := 0, 0
		for seed := uint64(101); seed <= 112; seed++ {
			f := simfleet.New(simfleet.Options{Seed: seed, Fixtures: 60, Days: 4 * 365, NeverRecalibrated: kind.never})
			known := f.Input.Truncate(f.Input.AsOf - 30)
			in := site(t, &known)
			got := measure.Choose(in, measure.Limits{Count: 3})
			rng := rand.New(rand.NewPCG(seed, 1))
			promised := map[string]measure.LampEffect{}
			for i := range got.Chosen {
				c := &got.Chosen[i]
				if len(c.Cleaned()) > 0 {
					continue // its readings are yet to come
				}
				measuresim.Make(f, &known, &c.Candidate, rng)
				for _, l := range c.Lamps {
					promised[l.Fixture] = l
				}
			}
			after := site(t, &known)
			for i := range after.Answers {
				a := &after.Answers[i]
				l, ok := promised[after.Lamps[i].Fixture]
				if !ok || l.Is != forecast.StatusForecast {
					continue
				}
				promisedDates++
				if a.Status != forecast.StatusForecast {
					continue
				}
				hadDates++
				if w := a.DueDay.Hi - a.DueDay.Lo; !math.IsInf(w, 0) && l.After > 0 {
					ratios = append(ratios, w/l.After)
					relative = append(relative, measure.HoursWidth(a)/l.Left)
				}
			}
		}
		slices.Sort(ratios)
		slices.Sort(relative)
		if len(ratios) < 20 {
			t.Fatalf("%s: only %d lamps to compare", kind.name, len(ratios))
		}
		m := relative[len(relative)/2]
		t.Logf("%s: %d lamps promised a date, %d have one; width had over promised %.3f in the median as a share of the due hours, %.3f in days",
			kind.name, promisedDates, hadDates, m, ratios[len(ratios)/2])
		// As a share: where a date itself moves, its width in days moves with it.
		if math.Abs(m-1) > .1 {
			t.Errorf("%s: the width had is %.3f of the one promised, in the median of %d lamps", kind.name, m, len(ratios))
		}
		if hadDates*10 < promisedDates*7 {
			t.Errorf("%s: of %d lamps promised a date %d have one", kind.name, promisedDates, hadDates)
		}
	}
}

func site(t *testing.T, known *forecast.Input) *measure.Input {
	t.Helper()
	in, err := measuresim.Site(known, measuresim.Settings())
	if err != nil {
		t.Fatal(err)
	}
	return in
}

// TestSecondIsWorthLess holds a set to what makes it one: what was chosen first lowers
// what the rest is worth, the limits are kept, and the same input gives the same set.
func TestSecondIsWorthLess(t *testing.T) {
	f := simfleet.New(simfleet.Options{Seed: 7, Fixtures: 60, Days: 4 * 365, NeverRecalibrated: true})
	known := f.Input.Truncate(f.Input.AsOf - 30)
	in := site(t, &known)
	got := measure.Choose(in, measure.Limits{Count: 4})
	alone := map[string]float64{}
	for _, c := range got.Others {
		alone[c.Kind+c.Target] = c.Gain
	}
	if len(got.Chosen) != 4 {
		t.Fatalf("%d chosen", len(got.Chosen))
	}
	for k, c := range got.Chosen {
		if one := alone[c.Kind+c.Target]; c.Gain > one*1.0001 || k > 0 && c.Gain > .95*one {
			t.Errorf("%d: %s %s gains %.1f in the set and %.1f alone", k+1, c.Kind, c.Target, c.Gain, one)
		}
	}
	again := measure.Choose(in, measure.Limits{Count: 4})
	for k := range got.Chosen {
		if a, b := got.Chosen[k], again.Chosen[k]; a.Target != b.Target || a.Kind != b.Kind || a.Gain != b.Gain {
			t.Errorf("%d: %s %s, asked again %s %s", k+1, a.Kind, a.Target, b.Kind, b.Target)
		}
	}
	limit := got.Chosen[0].Cost.Money + got.Chosen[1].Cost.Money/2
	spent := 0.
	for _, c := range measure.Choose(in, measure.Limits{Budget: limit}).Chosen {
		spent += c.Cost.Money
	}
	if spent > limit || spent == 0 {
		t.Errorf("%.2f spent of %.2f", spent, limit)
	}
}
