package lamp

import (
	"math"
	"sort"
	"time"

	"wane/transform/calendar"
	"wane/transform/hours"
	"wane/transform/level"
	"wane/transform/robust"
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
			if t, ok := l.TotalOn(day); ok {
				return t.Hours, true
			}
		}
		return 0, false
	}
}

// TotalOn gives the run-hours at the end of a day.
func (l *Life) TotalOn(day int32) (t hours.Total, ok bool) {
	i := sort.Search(len(l.Totals), func(i int) bool { return l.Totals[i].Day >= day })
	if i == len(l.Totals) || l.Totals[i].Day != day {
		return t, false
	}
	return l.Totals[i], true
}

// OutputNear gives the median output as read within some days of a day,
// umol/m2/s.
func (l *Life) OutputNear(day, within int32) (float64, bool) {
	return l.medianNear(day, within, func(v *level.Level) float64 { return v.Raw })
}

// LevelNear gives the median level within some days of a day; those after the
// life's first run-hours do not count.
func (l *Life) LevelNear(day, within int32, first float64) (float64, bool) {
	return l.medianNear(day, within, func(v *level.Level) float64 {
		if v.RunHours > l.StartHours+first {
			return math.NaN()
		}
		return v.Level
	})
}

func (l *Life) medianNear(day, within int32, of func(*level.Level) float64) (float64, bool) {
	var v []float64
	l = l.WithSeries()
	for i := range l.Levels {
		if d := l.Levels[i].Day - day; d < -within || d > within {
			continue
		}
		if x := of(&l.Levels[i]); x > 0 {
			v = append(v, x)
		}
	}
	return robust.Sort(v), len(v) > 0
}
