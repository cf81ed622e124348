package measure_test

import (
	"math"
	"slices"
	"testing"

	"wane/transform/forecast"
	"wane/transform/simfleet"
)

// TestHoursMoveDatesLittle is why no reading of an hour meter is weighed: were a room's
// run-hours a tenth more all along, the hours at which its lamps are due would be too, and
// the hours they burn each day, so that the dates stay nearly where they are, far inside
// what a date's interval allows. The fit knows no uncertainty of run-hours that a reading
// would bring down.
func TestHoursMoveDatesLittle(t *testing.T) {
	var hours, dates, widths []float64
	for seed := uint64(201); seed <= 206; seed++ {
		f := simfleet.New(simfleet.Options{Seed: seed, Fixtures: 60, Days: 4 * 365})
		known := f.Input.Truncate(f.Input.AsOf - 30)
		more := known.Truncate(known.AsOf)
		room := more.Lamps[0].Room
		for i := range more.Lamps {
			l := &more.Lamps[i]
			if l.Room != room {
				continue
			}
			l.Bins = slices.Clone(l.Bins)
			for k := range l.Bins {
				l.Bins[k].Hours *= 1.1
			}
			l.HoursNow, l.StartHours, l.Burn.PerDay = l.HoursNow*1.1, l.StartHours*1.1, l.Burn.PerDay*1.1
		}
		a, b := site(t, &known), site(t, &more)
		for i := range a.Answers {
			x, y := &a.Answers[i], &b.Answers[i]
			if a.Lamps[i].Room != room || x.Status != forecast.StatusForecast || y.Status != x.Status {
				continue
			}
			hours = append(hours, y.DueHours.Centre/x.DueHours.Centre-1)
			dates = append(dates, math.Abs(y.DueDay.Centre-x.DueDay.Centre))
			widths = append(widths, x.DueDay.Hi-x.DueDay.Lo)
		}
	}
	slices.Sort(hours)
	slices.Sort(dates)
	slices.Sort(widths)
	n := len(dates)
	if n < 20 {
		t.Fatalf("only %d lamps to compare", n)
	}
	t.Logf("%d lamps, a tenth more hours: due hours %+.3f, dates move by %.0f days (nine in ten under %.0f), intervals %.0f days wide (medians)",
		n, hours[n/2], dates[n/2], dates[n*9/10], widths[n/2])
	if dates[n/2] > .1*widths[n/2] {
		t.Errorf("a tenth more hours moves dates by %.0f days in the median, intervals are %.0f days wide", dates[n/2], widths[n/2])
	}
}
