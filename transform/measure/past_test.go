package measure_test

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"wane/transform/forecast"
	"wane/transform/measure"
	"wane/transform/measure/measuresim"
	"wane/transform/plan"
	"wane/transform/simfleet"
)

// TestLookBackIsWhatWasBefore makes the first measurement that is asked for at an
// invented site never looked at. What LookBack says of it is what the answers before and
// after say, counted here by hand; what is known stays as it is.
func TestLookBackIsWhatWasBefore(t *testing.T) {
	f := simfleet.New(simfleet.Options{Seed: 31, Fixtures: 60, Days: 4 * 365, NeverRecalibrated: true})
	known := f.Input.Truncate(f.Input.AsOf - 30)
	before := site(t, &known)
	if past := back(t, before, &known, 400, 5); len(past.Made) != 0 || past.Left != 0 {
		t.Fatalf("nothing was measured, and %d are looked at", len(past.Made)+past.Left)
	}
	var first *measure.Choice
	got := measure.Choose(before, measure.Limits{Count: 10})
	for k := range got.Chosen {
		if c := &got.Chosen[k]; first == nil && c.Kind == plan.Reference && len(c.Checked()) > 0 && c.Dated > 0 {
			first = c
		}
	}
	if first == nil {
		t.Fatal("no reference reading is asked for that would date a lamp")
	}
	measuresim.Make(f, &known, &first.Candidate, rand.New(rand.NewPCG(31, 1)))
	after := site(t, &known)
	kept := known.Truncate(known.AsOf)
	past := back(t, after, &known, 400, 5)
	if len(past.Made) != 1 {
		t.Fatalf("one was made, %d are looked at", len(past.Made))
	}
	b := past.Made[0]
	dated, moved, later := 0, 0, 0
	for i := range after.Answers {
		a, z := &before.Answers[i], &after.Answers[i]
		was, is := hasDate(a), hasDate(z)
		if is && !was {
			dated++
		}
		if shift := z.DueDay.Centre - a.DueDay.Centre; is && was && math.Abs(shift) >= 7 {
			moved++
			if shift > 0 {
				later++
			}
		}
	}
	t.Logf("%s: %d dated, %d moved by %.0f days, widths %.0f to %.0f", b.Target, b.Dated, b.Moved, b.Days, b.Without,
		b.With)
	if b.Kind != plan.Reference || b.Target != first.Target || !b.Day.Equal(after.AsOf) {
		t.Errorf("%s of %s was made, looked at is %+v", first.Kind, first.Target, b)
	}
	if dated == 0 || b.Dated != dated || b.Moved != moved || b.Later != later {
		t.Errorf("%d lamps got a date, %d dates moved, %d to later; looked back: %d, %d, %d", dated, moved, later, b.Dated,
			b.Moved, b.Later)
	}
	if !reflect.DeepEqual(kept.Groups, known.Truncate(known.AsOf).Groups) {
		t.Error("looking back changed what is known")
	}
}

// TestLookBackTakesTheLast: at an invented site that recalibrates, the last ones come
// first and no more than asked for, and none from before.
func TestLookBackTakesTheLast(t *testing.T) {
	f := simfleet.New(simfleet.Options{Seed: 32, Fixtures: 60, Days: 4 * 365})
	known := f.Input.Truncate(f.Input.AsOf - 30)
	in := site(t, &known)
	since, all, last := known.AsOf-700, 0, 0
	for _, g := range known.Groups {
		for _, r := range g.Recals {
			if r.Day >= since && r.Day > g.Start && !r.SensorClean {
				all, last = all+1, max(last, r.Day)
			}
		}
	}
	if all < 3 {
		t.Fatalf("only %d recalibrations to look at", all)
	}
	past := back(t, in, &known, 700, 2)
	if len(past.Made) != 2 || past.Left != all-2 {
		t.Fatalf("of %d, 2 were asked for: %d looked at and %d left", all, len(past.Made), past.Left)
	}
	if d := int(past.Made[0].Day.Unix() / 86400); d != last || past.Made[1].Day.After(past.Made[0].Day) {
		t.Errorf("the last is of day %d, first come %s and %s", last, past.Made[0].Day, past.Made[1].Day)
	}
	touched := 0
	for _, b := range past.Made {
		t.Logf("%+v", b)
		touched += b.Touched + b.Dated
		if b.Moved > b.Touched || b.Later > b.Moved || b.Moved > 0 && b.Days < 7 {
			t.Errorf("counts do not fit: %+v", b)
		}
	}
	if touched == 0 {
		t.Error("two recalibrations taken out change nothing")
	}
}

func hasDate(a *forecast.Answer) bool {
	return a.Status == forecast.StatusForecast || a.Status == forecast.StatusUnder
}

func back(t *testing.T, in *measure.Input, known *forecast.Input, days, count int) *measure.Past {
	t.Helper()
	past, err := measure.LookBack(in, known, days, count)
	if err != nil {
		t.Fatal(err)
	}
	return past
}
