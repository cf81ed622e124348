package calendar

import (
	"testing"
	"time"

	_ "time/tzdata"
)

// The year's shortest and longest day by the clock begin at their own midnight,
// and noon, not the hours since, tells a day's half.
func TestDaysThatAreNot24Hours(t *testing.T) {
	loc, err := time.LoadLocation("Europe/Amsterdam")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		date  string
		hours float64
	}{{"2024-03-30", 24}, {"2024-03-31", 23}, {"2024-10-27", 25}} {
		at, err := time.ParseInLocation("2006-01-02 15:04", c.date+" 23:59", loc)
		if err != nil {
			t.Fatal(err)
		}
		day := DayOf(at, loc)
		if got := Date(day).Format("2006-01-02"); got != c.date {
			t.Errorf("%s is %s", c.date, got)
		}
		if got := Start(day+1, loc).Sub(Start(day, loc)).Hours(); got != c.hours {
			t.Errorf("%s has %g h, want %g", c.date, got, c.hours)
		}
		if DayOf(End(day, loc), loc) != day || DayOf(End(day, loc).Add(time.Microsecond), loc) != day+1 {
			t.Errorf("%s does not end at midnight", c.date)
		}
		noon := time.Date(at.Year(), at.Month(), at.Day(), 12, 0, 0, 0, loc)
		elapsed := Start(day, loc).Add(12 * time.Hour)
		for _, x := range []struct {
			at   time.Time
			want int32
		}{{elapsed, day}, {elapsed.Add(time.Second), day + 1}, {Start(day, loc), day}} {
			if got := NoonFrom(x.at, loc); got != x.want {
				t.Errorf("%s (clock noon %s): half a day from %s is day %d, want %d", c.date, noon, x.at, got, x.want)
			}
		}
	}
	if NoonFrom(time.Time{}, loc) != 0 {
		t.Error("no time has a day")
	}
}

func TestMonths(t *testing.T) {
	m := MonthOf(time.Date(2024, 2, 29, 12, 0, 0, 0, time.UTC))
	if m.String() != "2024-02" || len(m.Days()) != 29 || m.Days()[0] != m.First() || Date(m.Last()).Day() != 29 {
		t.Errorf("%s: %d days, %s to %s", m, len(m.Days()), Date(m.First()), Date(m.Last()))
	}
	if next := m + 11; next.String() != "2025-01" || next.First() != DayOf(time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC),
		time.UTC) {
		t.Errorf("eleven months later is %s", next)
	}
	if Date(Forever).Format("2006-01-02") != "9999-12-31" {
		t.Errorf("for ever ends on %s", Date(Forever))
	}
}
