// Package calendar numbers the days and months that tables and questions speak
// of. A day is a count of days since 1970-01-01; it begins at midnight of the
// zone that is asked for.
package calendar

import "time"

// Forever stands for an end that nobody knows: 9999-12-31.
const Forever int32 = 2932896

// DayOf is the number of t's calendar day at loc.
func DayOf(t time.Time, loc *time.Location) int32 {
	y, m, d := t.In(loc).Date()
	return int32(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// Date is the calendar date of a day, as midnight UTC.
func Date(day int32) time.Time { return time.Unix(int64(day)*86400, 0).UTC() }

// Start is the instant at which a day begins at loc.
func Start(day int32, loc *time.Location) time.Time {
	y, m, d := Date(day).Date()
	return time.Date(y, m, d, 0, 0, 0, 0, loc)
}

// End is the last moment of a day at loc.
func End(day int32, loc *time.Location) time.Time {
	return Start(day+1, loc).Add(-time.Microsecond)
}

// NoonFrom is the first day whose noon is at t or later; 0 of no time.
func NoonFrom(t time.Time, loc *time.Location) int32 {
	if t.IsZero() {
		return 0
	}
	day := DayOf(t, loc)
	if Start(day, loc).Add(12 * time.Hour).Before(t) {
		day++
	}
	return day
}

// Month is a calendar month, counted from January of year 0.
type Month int32

// MonthOf is the month that t lies in, in its own zone.
func MonthOf(t time.Time) Month { return Month(int32(t.Year())*12 + int32(t.Month()) - 1) }

// Start is the instant at which the month begins at loc.
func (m Month) Start(loc *time.Location) time.Time {
	return time.Date(int(m)/12, time.Month(int(m)%12+1), 1, 0, 0, 0, 0, loc)
}

// First is the first day of the month.
func (m Month) First() int32 { return DayOf(m.Start(time.UTC), time.UTC) }

// Last is the last day of the month.
func (m Month) Last() int32 { return (m + 1).First() - 1 }

// Days gives the days of the month.
func (m Month) Days() []int32 {
	var out []int32
	for d := m.First(); d <= m.Last(); d++ {
		out = append(out, d)
	}
	return out
}

// String is such as 2025-03.
func (m Month) String() string { return m.Start(time.UTC).Format("2006-01") }
