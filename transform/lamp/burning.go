package lamp

import (
	"cmp"
	"slices"

	"wane/transform/calendar"
	"wane/transform/forecast"
	"wane/transform/hours"
)

// habitMonths is how many whole calendar months a burning habit is taken over,
// with what there is of the present one.
const habitMonths = 12

// ordinary is January of a year that is no leap year.
const ordinary = 2023 * 12

// habitFrom is the first month that counts for the habit on a day.
func habitFrom(asOf int32) calendar.Month { return calendar.MonthOf(calendar.Date(asOf)) - habitMonths }

// MonthBurn is what a lamp burned in one calendar month.
type MonthBurn struct {
	Month calendar.Month
	Hours float64
	Days  int
}

// addBurn adds days, in order, to the months that they fall in; months before
// from are left out.
func addBurn(to []MonthBurn, days []hours.Total, from calendar.Month) []MonthBurn {
	begin := from.First()
	k, _ := slices.BinarySearchFunc(days, begin, func(t hours.Total, day int32) int { return cmp.Compare(t.Day, day) })
	end := int32(0) // first day after the last month of to
	for i := range days[k:] {
		t := &days[k+i]
		if len(to) == 0 || t.Day >= end {
			m := calendar.MonthOf(calendar.Date(t.Day))
			end = (m + 1).First()
			if len(to) == 0 || to[len(to)-1].Month != m {
				to = append(to, MonthBurn{Month: m})
			}
		}
		b := &to[len(to)-1]
		b.Hours, b.Days = b.Hours+t.Burned, b.Days+1
	}
	return to
}

// burned gives what the life burned in the months that count on a day, and the
// days of its record among them.
func (l *Life) burned(asOf int32) (by []MonthBurn, first, last int32) {
	from := habitFrom(asOf)
	by = l.Burned
	if by == nil {
		by = addBurn(nil, l.Totals, from)
	}
	return by, max(l.FirstDay, from.First()), l.LastDay
}

// BurnByRoom is each room's burning habit over the last year.
func BurnByRoom(lives []*Life, asOf int32) map[string]forecast.Burn {
	type sum struct {
		h    float64
		days int
	}
	type room struct {
		all    sum
		months [12]sum
		spans  [][2]int32
	}
	rooms := map[string]*room{}
	for _, l := range lives {
		by, first, last := l.burned(asOf)
		if len(by) == 0 {
			continue
		}
		r := rooms[l.Place.Room]
		if r == nil {
			r = &room{}
			rooms[l.Place.Room] = r
		}
		r.spans = append(r.spans, [2]int32{first, last})
		for _, b := range by {
			r.all = sum{r.all.h + b.Hours, r.all.days + b.Days}
			m := &r.months[b.Month%12]
			*m = sum{m.h + b.Hours, m.days + b.Days}
		}
	}
	out := map[string]forecast.Burn{}
	for name, r := range rooms {
		b := forecast.Burn{PerDay: r.all.h / float64(r.all.days), Days: spanned(r.spans)}
		whole := true
		for _, m := range r.months {
			whole = whole && m.days > 0
		}
		if whole {
			year := 0.0
			for i, m := range r.months {
				b.Month[i] = m.h / float64(m.days)
				year += b.Month[i] * float64(len(calendar.Month(ordinary+i).Days()))
			}
			b.PerDay = year / 365 // no season counts twice
		}
		out[name] = b
	}
	return out
}

// spanned counts the days that lie in any of the spans, ends included.
func spanned(spans [][2]int32) int {
	slices.SortFunc(spans, func(a, b [2]int32) int { return cmp.Compare(a[0], b[0]) })
	n, next := 0, int32(0)
	for i, s := range spans {
		from := s[0]
		if i > 0 {
			from = max(from, next)
		}
		if s[1] >= from {
			n += int(s[1]-from) + 1
			next = s[1] + 1
		}
	}
	return n
}
