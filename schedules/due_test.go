package schedules

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// zones are those of the tests: the two of the change nights, one without
// changes, one with half hours, one that skips midnight, one that skipped a day,
// and one south of the equator with a half-hour change.
var zones = []string{
	"Europe/Amsterdam", "America/New_York", "UTC", "Asia/Kolkata",
	"America/Santiago", "Pacific/Apia", "Australia/Lord_Howe",
}

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

func at(t testing.TB, s string) time.Time {
	t.Helper()
	v, err := time.Parse(time.RFC3339, s)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// TestDueOnChangeNights holds the slots against the nights of 2026: the Union
// changes on the last Sundays of March and October at 01:00 UTC (Directive
// 2000/84/EC), the United States on the second Sunday of March and the first of
// November at 02:00 local time (15 U.S.C. 260a).
func TestDueOnChangeNights(t *testing.T) {
	tests := []struct {
		name, zone, line, after, until string
		want                           []string
	}{
		{"Amsterdam spring, inside the gap", "Europe/Amsterdam", "15 2 * * *", "2026-03-28T00:00:00+01:00",
			"2026-03-30T12:00:00+02:00",
			[]string{"2026-03-28T02:15:00+01:00", "2026-03-29T03:00:00+02:00", "2026-03-30T02:15:00+02:00"}},
		{"Amsterdam autumn, repeated hour", "Europe/Amsterdam", "15 2 * * *", "2026-10-24T00:00:00+02:00",
			"2026-10-26T12:00:00+01:00",
			[]string{"2026-10-24T02:15:00+02:00", "2026-10-25T02:15:00+02:00", "2026-10-26T02:15:00+01:00"}},
		{"New York spring, inside the gap", "America/New_York", "15 2 * * *", "2026-03-07T00:00:00-05:00",
			"2026-03-09T12:00:00-04:00",
			[]string{"2026-03-07T02:15:00-05:00", "2026-03-08T03:00:00-04:00", "2026-03-09T02:15:00-04:00"}},
		{"New York autumn, repeated hour", "America/New_York", "15 1 * * *", "2026-10-31T00:00:00-04:00",
			"2026-11-02T12:00:00-05:00",
			[]string{"2026-10-31T01:15:00-04:00", "2026-11-01T01:15:00-04:00", "2026-11-02T01:15:00-05:00"}},
		{"New York autumn, 02:15 is not repeated", "America/New_York", "15 2 * * *", "2026-11-01T00:00:00-04:00",
			"2026-11-01T12:00:00-05:00",
			[]string{"2026-11-01T02:15:00-05:00"}},
		{"from the second pass of the repeated hour", "Europe/Amsterdam", "15 2 * * *", "2026-10-25T02:05:00+01:00",
			"2026-10-25T12:00:00+01:00",
			nil},
		{"the end of the gap is one slot, whatever falls there", "Europe/Amsterdam", "*/20 2,3 * * *",
			"2026-03-29T00:00:00+01:00", "2026-03-29T12:00:00+02:00",
			[]string{"2026-03-29T03:00:00+02:00", "2026-03-29T03:20:00+02:00", "2026-03-29T03:40:00+02:00"}},
		{"hourly through the repeated hour", "Europe/Amsterdam", "@hourly", "2026-10-25T00:30:00+02:00",
			"2026-10-25T03:30:00+01:00",
			[]string{"2026-10-25T01:00:00+02:00", "2026-10-25T02:00:00+02:00", "2026-10-25T03:00:00+01:00"}},
		{"a gap at midnight", "America/Santiago", "0 0 * * *", "2026-09-05T12:00:00-04:00", "2026-09-07T12:00:00-03:00",
			[]string{"2026-09-06T01:00:00-03:00", "2026-09-07T00:00:00-03:00"}},
		{"a day left out of the calendar", "Pacific/Apia", "15 2 * * *", "2011-12-29T00:00:00-10:00",
			"2012-01-01T12:00:00+14:00",
			[]string{"2011-12-29T02:15:00-10:00", "2011-12-31T00:00:00+14:00", "2011-12-31T02:15:00+14:00",
				"2012-01-01T02:15:00+14:00"}},
		{"29 February across 2100", "Europe/Amsterdam", "0 0 29 2 *", "2092-01-01T00:00:00+01:00",
			"2105-01-01T00:00:00+01:00",
			[]string{"2092-02-29T00:00:00+01:00", "2096-02-29T00:00:00+01:00", "2104-02-29T00:00:00+01:00"}},
		{"the last day of a leap year beyond the zone's table", "America/New_York", "0 19,20 30,31 12 *",
			"2040-12-30T12:00:00-05:00", "2041-01-01T12:00:00-05:00",
			[]string{"2040-12-30T19:00:00-05:00", "2040-12-30T20:00:00-05:00", "2040-12-31T19:00:00-05:00",
				"2040-12-31T20:00:00-05:00"}},
		{"both ends", "UTC", "0 6 * * *", "2026-01-01T06:00:00Z", "2026-01-03T06:00:00Z",
			[]string{"2026-01-02T06:00:00Z", "2026-01-03T06:00:00Z"}},
		{"until before after", "UTC", "0 6 * * *", "2026-01-03T06:00:00Z", "2026-01-01T06:00:00Z", nil},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			slots, err := Due(tt.line, zone(t, tt.zone), at(t, tt.after), at(t, tt.until))
			if err != nil {
				t.Fatal(err)
			}
			var got []string
			for _, s := range slots {
				got = append(got, s.Format(time.RFC3339))
			}
			if diff := cmp.Diff(tt.want, got); diff != "" {
				t.Errorf("slots (-want +got):\n%s", diff)
			}
		})
	}
}

// genLine draws cron lines that meet change nights often.
func genLine() *rapid.Generator[string] {
	return rapid.Custom(func(t *rapid.T) string {
		minute := rapid.SampledFrom([]string{"0", "15", "59", "*/20", "5,35", "0-3"}).Draw(t, "minute")
		hour := rapid.SampledFrom([]string{"0", "1", "2", "3", "1-3", "*", "*/6", "23"}).Draw(t, "hour")
		dom := rapid.SampledFrom([]string{"*", "*", "*", "1", "29", "25-31", "*/2"}).Draw(t, "dom")
		dow := rapid.SampledFrom([]string{"*", "*", "*", "0", "1-5", "sun,wed"}).Draw(t, "dow")
		return fmt.Sprintf("%s %s %s * %s", minute, hour, dom, dow)
	})
}

// genMoment draws instants near a change of the zone's clocks, or anywhere.
func genMoment(z *time.Location) *rapid.Generator[time.Time] {
	return rapid.Custom(func(t *rapid.T) time.Time {
		year := rapid.IntRange(2009, 2050).Draw(t, "year")
		m := time.Date(year, 1, 1, 0, 0, 0, 0, time.UTC).In(z) // a change of the year, if nothing else
		for range rapid.IntRange(0, 2).Draw(t, "change") {
			if _, end := m.ZoneBounds(); !end.IsZero() {
				m = end
			}
		}
		return m.Add(time.Duration(rapid.IntRange(-26*3600, 26*3600).Draw(t, "seconds")) * time.Second)
	})
}

// TestDueFiresOncePerClockTime compares Due with a walk through every minute of
// a few days that looks at the wall clock as a person would: a line fires when
// the wall first reaches one of its times, or first passes it.
func TestDueFiresOncePerClockTime(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		z, err := time.LoadLocation(rapid.SampledFrom(zones).Draw(t, "zone"))
		if err != nil {
			t.Fatal(err)
		}
		text := genLine().Draw(t, "line")
		line, err := ParseLine(text)
		if err != nil {
			t.Fatal(err)
		}
		start := genMoment(z).Draw(t, "start").Truncate(time.Minute)
		end := start.Add(time.Duration(rapid.IntRange(0, 60*60).Draw(t, "minutes")) * time.Minute)

		var want []time.Time
		// The walk begins two days early to know what the wall has shown.
		highest := civil(start.Add(-48*time.Hour), z)
		for m := start.Add(-48 * time.Hour); !m.After(end); m = m.Add(time.Minute) {
			shown := civil(m, z)
			fires := false
			for c := highest.Add(time.Minute); !c.After(shown); c = c.Add(time.Minute) {
				// Is c one of the line's times? In UTC the library is asked.
				fires = fires || line.spec.Next(c.Add(-time.Second)).Equal(c)
			}
			if shown.After(highest) {
				highest = shown
			}
			if fires && m.After(start) {
				want = append(want, m)
			}
		}
		got, err := Due(text, z, start, end)
		if err != nil {
			t.Fatal(err)
		}
		if len(got) != len(want) {
			t.Fatalf("%d slots, want %d\n got %v\nwant %v", len(got), len(want), got, want)
		}
		for i := range got {
			if !got[i].Equal(want[i]) {
				t.Fatalf("slot %d is %v, want %v", i, got[i], want[i])
			}
		}
	})
}

// TestInstantIsMonotone holds the three promises of instant.
func TestInstantIsMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		z, err := time.LoadLocation(rapid.SampledFrom(zones).Draw(t, "zone"))
		if err != nil {
			t.Fatal(err)
		}
		m := genMoment(z).Draw(t, "moment")
		a := instant(civil(m, z), z)
		if a.After(m) {
			t.Fatalf("%v is shown before %v", m, a)
		}
		if !civil(a, z).Equal(civil(m, z)) {
			t.Fatalf("%v shows %v, not %v", a, civil(a, z), civil(m, z))
		}
		later := civil(m, z).Add(time.Duration(rapid.IntRange(0, 48*3600).Draw(t, "later")) * time.Second)
		if b := instant(later, z); b.Before(a) {
			t.Fatalf("%v comes to %v, before %v", later, b, a)
		}
	})
}

// TestLatestIsTheLastOfDue checks the short look back against the long one.
func TestLatestIsTheLastOfDue(t *testing.T) {
	z := zone(t, "Europe/Amsterdam")
	now := at(t, "2026-10-25T12:00:00+01:00")
	for text, want := range map[string]string{
		"* * * * *":   "2026-10-25T12:00:00+01:00",
		"15 2 * * *":  "2026-10-25T02:15:00+02:00",
		"0 6 2 1 *":   "2026-01-02T06:00:00+01:00",
		"0 0 29 2 *":  "2024-02-29T00:00:00+01:00",
		"30 22 * * 5": "2026-10-23T22:30:00+02:00",
	} {
		line, err := ParseLine(text)
		if err != nil {
			t.Fatal(err)
		}
		if got, ok := line.latest(z, now); !ok || got.Format(time.RFC3339) != want {
			t.Errorf("%s: latest is %v, want %s", text, got, want)
		}
	}
}

func ExampleDue() {
	zone, err := time.LoadLocation("Europe/Amsterdam")
	if err != nil {
		fmt.Println(err)
		return
	}
	// The machine was off over the night on which 02:15 did not exist.
	off := time.Date(2026, 3, 28, 12, 0, 0, 0, zone)
	on := time.Date(2026, 3, 30, 12, 0, 0, 0, zone)
	slots, err := Due("15 2 * * *", zone, off, on)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, s := range slots {
		fmt.Println(s.Format(time.RFC3339))
	}
	// Output:
	// 2026-03-29T03:00:00+02:00
	// 2026-03-30T02:15:00+02:00
}

func BenchmarkPlanYearOfNights(b *testing.B) {
	z := zone(b, "Europe/Amsterdam")
	line, err := ParseLine("15 2 * * *")
	if err != nil {
		b.Fatal(err)
	}
	now := at(b, "2026-10-25T12:00:00+01:00")
	for b.Loop() {
		if p := (Job{}).plan(line, z, now.AddDate(-1, 0, 0), now); p.missed != 364 {
			b.Fatal(p.missed)
		}
	}
}
