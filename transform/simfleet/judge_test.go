package simfleet_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"wane/transform/forecast"
	"wane/transform/simfleet"
)

func TestSameSeedSameFleet(t *testing.T) {
	opt := simfleet.Options{Seed: 11, Fixtures: 20, Days: 600}
	if d := cmp.Diff(simfleet.New(opt), simfleet.New(opt)); d != "" {
		t.Error(d)
	}
}

// A small judgement that runs always; the full one, on twenty fleets of 240
// fixtures, is testdata/bench/forecast. Lamps of a fleet share errors, so the
// bounds are loose; they fail for a forecast that lost a term.
func TestForecastOnFleetsNeverTunedOn(t *testing.T) {
	judge := func(opt simfleet.Options) []simfleet.Case {
		var all []simfleet.Case
		for seed := uint64(2001); seed <= 2003; seed++ {
			opt.Seed, opt.Fixtures = seed, 80
			f := simfleet.New(opt)
			c, err := simfleet.Judge(&f.Input, f.Truth, simfleet.Pooled)
			if err != nil {
				t.Fatal(err)
			}
			all = append(all, c...)
		}
		return all
	}
	cases := judge(simfleet.Options{})
	for _, b := range []struct{ age, median, hit float64 }{{2500, .25, .15}, {5000, .20, .30}, {8000, .16, .40}} {
		s := simfleet.ScoreOf(cases, b.age)
		t.Logf("%.0f h: %d lamps, refused %.2f, median error %.3f, hit20 %.2f, 80 %% intervals hold %.2f", b.age, s.N,
			s.Refused, s.Median, s.Hit, s.Coverage)
		if s.Median > b.median || s.Hit < b.hit || s.Coverage < .65 || s.Coverage > .95 {
			t.Errorf("%.0f h: median error %.3f, hit20 %.2f, coverage %.2f", b.age, s.Median, s.Hit, s.Coverage)
		}
	}
	never := judge(simfleet.Options{NeverRecalibrated: true, Days: 4 * 365})
	s := simfleet.ScoreOf(never, 5000)
	t.Logf("never recalibrated, 5,000 h: %+v", s)
	if s.ByStatus[string(forecast.StatusInseparable)] < s.N/3 {
		t.Errorf("never recalibrated: inseparable said for %d of %d lamps", s.ByStatus[string(forecast.StatusInseparable)],
			s.N)
	}
}
