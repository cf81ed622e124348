package derive

import (
	"sort"
	"time"
	"wane/transform/calendar"
)

// HoursOf looks up the run-hours of the lamp that a fixture held at a moment,
// at the end of that day; ok is false where they are not known.
func HoursOf(lives []*Life, loc *time.Location) func(fixture string, at time.Time) (hours float64, ok bool) {
	return func(fixture string, at time.Time) (float64, bool) {
		day := calendar.DayOf(at, loc)
		for _, l := range lives {
			if l.Fixture.ID != fixture || day < l.FirstDay || day > l.LastDay {
				continue
			}
			l = l.WithSeries()
			i := sort.Search(len(l.Totals), func(i int) bool { return l.Totals[i].Day >= day })
			if i < len(l.Totals) && l.Totals[i].Day == day {
				return l.Totals[i].Hours, true
			}
		}
		return 0, false
	}
}
