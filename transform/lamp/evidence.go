package lamp

import (
	"slices"
	"sort"
	"time"
	"wane/transform/calendar"
	"wane/transform/daily"
	"wane/transform/fleet"
	"wane/transform/hours"
)

func (l *Life) addHours(rows []daily.Row, outages []fleet.Span, read []fleet.HandRead, rules Rules) {
	start := hours.Start{Hours: l.StartHours, Day: l.FirstDay, First: l.N == 1}
	loc := rules.Location
	days := withReadByHand(l.evidence(rows, outages, loc), read, l.FirstDay, l.LastDay, loc)
	l.Totals, l.Warnings = hours.Add(days, start, l.LastDay, l.Habit(rules))
	if n := len(l.Totals); n > 0 {
		l.Now = l.Totals[n-1]
	}
}

// Habit is what the site declares of the room's photoperiod.
func (l *Life) Habit(rules Rules) hours.Habit {
	if h := rules.Photoperiod[l.Fixture.Room]; h > 0 {
		return hours.Habit(h)
	}
	return hours.Habit(-1)
}

// evidence is what the days say of burning.
func (l *Life) evidence(rows []daily.Row, outages []fleet.Span, loc *time.Location) []hours.Day {
	days := make([]hours.Day, 0, len(rows))
	for i := range rows {
		r := &rows[i]
		days = append(days, hours.Day{
			Day: r.Day.Day, Length: r.Hours, LitH: r.LitH, EdgeH: r.EdgeH, GapH: r.GapH,
			MeterAt: r.Counter.LastAt, Meter: r.Counter.Last, FirstAt: r.Counter.FirstAt, First: r.Counter.First,
		})
	}
	return withOutages(days, outages, l.FirstDay, l.LastDay, loc)
}

// withReadByHand adds the meter readings that the logbook holds, making a row for
// a day that nothing else was read on. A logger's own reading of the day stays.
func withReadByHand(days []hours.Day, read []fleet.HandRead, first, last int32, loc *time.Location) []hours.Day {
	for _, r := range read {
		d := calendar.DayOf(r.At, loc)
		if d < first || d > last {
			continue
		}
		i := sort.Search(len(days), func(i int) bool { return days[i].Day >= d })
		if i == len(days) || days[i].Day != d {
			length := calendar.Start(d+1, loc).Sub(calendar.Start(d, loc)).Hours()
			days = slices.Insert(days, i, hours.Day{Day: d, Length: length, GapH: length})
		}
		if days[i].MeterAt == 0 {
			at := r.At.UnixMicro()
			days[i].MeterAt, days[i].Meter, days[i].FirstAt, days[i].First = at, r.Hours, at, r.Hours
		}
	}
	return days
}

// withOutages adds to each day the hours of its gap that were without power,
// making a row for a day of outage that nothing was read on.
func withOutages(days []hours.Day, outages []fleet.Span, first, last int32, loc *time.Location) []hours.Day {
	for _, o := range outages {
		for d := max(first, calendar.DayOf(o.From, loc)); d <= min(last,
			calendar.DayOf(o.To.Add(-time.Microsecond), loc)); d++ {
			from, to := calendar.Start(d, loc), calendar.Start(d+1, loc)
			length := to.Sub(from).Hours()
			dark := min(to.Unix(), o.To.Unix()) - max(from.Unix(), o.From.Unix())
			i := sort.Search(len(days), func(i int) bool { return days[i].Day >= d })
			if i == len(days) || days[i].Day != d {
				days = slices.Insert(days, i, hours.Day{Day: d, Length: length, GapH: length})
			}
			days[i].OutageH = min(days[i].GapH, days[i].OutageH+float64(dark)/3600)
		}
	}
	return days
}
