package measure_test

import (
	"strings"
	"testing"

	"wane/transform/measure"
	"wane/transform/plan"
	"wane/transform/simfleet"
)

// TestEveryKindIsOffered: at an invented site that has what each needs, each kind of
// measurement is offered with what a person does, the caution of it and its minutes; a
// survey only of a fixture whose first one tells something.
func TestEveryKindIsOffered(t *testing.T) {
	missing := map[string]bool{}
	for _, kind := range plan.MeasureKinds() {
		missing[kind] = kind != plan.GoingThere
	}
	for seed := uint64(301); seed <= 304; seed++ {
		f := simfleet.New(simfleet.Options{Seed: seed, Fixtures: 60, Days: 4 * 365, NoSupply: seed%2 == 0})
		known := f.Input.Truncate(f.Input.AsOf - 30)
		in := site(t, &known)
		told := map[string]bool{}
		for i := range in.Lamps {
			told[in.Lamps[i].Fixture] = in.Lamps[i].Survey > 0
		}
		for _, c := range measure.Candidates(in) {
			missing[c.Kind] = false
			e := in.Settings.MeasureCost(c.Kind, c.Room, c.LampType, c.N, true)
			if c.Caution() == "" || e.Minutes <= 0 || !strings.Contains(c.Do()+c.Settle(), c.Target) &&
				c.Kind != plan.CleanHalf {
				t.Errorf("%s %s: do %q, caution %q, %g min", c.Kind, c.Target, c.Do(), c.Caution(), e.Minutes)
			}
			if c.Kind == plan.Survey && !told[c.Target] {
				t.Errorf("%s is to be surveyed, and no first survey is there to hold it against", c.Target)
			}
		}
	}
	for kind, is := range missing {
		if is {
			t.Errorf("%s is offered nowhere", kind)
		}
	}
}

// TestLampThatComesDownGainsNothingItself: a look at it in the laboratory is for those
// that stay.
func TestLampThatComesDownGainsNothingItself(t *testing.T) {
	f := simfleet.New(simfleet.Options{Seed: 305, Fixtures: 60, Days: 4 * 365, NeverRecalibrated: true})
	known := f.Input.Truncate(f.Input.AsOf - 30)
	in := site(t, &known)
	for _, kind := range plan.MeasureKinds() {
		if kind != plan.Lab && kind != plan.GoingThere {
			in.Settings.Measure[kind] = plan.MeasureTerms{Off: true}
		}
	}
	got := measure.Choose(in, measure.Limits{Count: 2})
	if len(got.Chosen) == 0 {
		t.Fatal("no lamp that comes down is worth looking at, at a site whose sensors nobody checked")
	}
	for _, c := range got.Chosen {
		for _, l := range c.Lamps {
			if l.Fixture == c.Target {
				t.Errorf("%s comes down and is said to gain a date", c.Target)
			}
		}
	}
}
