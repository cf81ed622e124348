package derive

import (
	"fmt"
	"math"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"wane/ingest/archive"
	"wane/transform/daily"
)

// monthRows invents the rows of some fixtures and the days from 100 on.
func monthRows(fixtures, days int, has func(fixture, day int) bool) []DailyRow {
	var rows []DailyRow
	for f := range fixtures {
		for d := range days {
			if !has(f, d) {
				continue
			}
			r := DailyRow{Fixture: fmt.Sprintf("f%04d", f), Sensor: fmt.Sprintf("s%d", f%7), Channel: fmt.Sprint(d % 3), Conflicting: f % 2}
			r.Day = daily.Day{Day: int32(100 + d), Hours: 24, Readings: 288, Usable: 180 + f%9, PPFD: 800 + float64(f*31+d)/7, Spread: 0.01, DimPct: 100, SupplyV: math.NaN(), AmbientC: 24, PowerW: math.NaN(), CurrentA: 4.5, LitH: 16}
			if d%2 == 0 {
				r.Counter = daily.Meter{First: float64(d), Last: float64(d + 1), FirstAt: 1, LastAt: 2}
			}
			rows = append(rows, r)
		}
	}
	return rows
}

// Rows put together again are the rows as they would be made at once, whichever
// part each day is in and whatever else that part holds.
func TestMergedDaysAreTheMonth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		spoke := map[[2]int]bool{}
		for f := range 4 {
			for d := range 5 {
				spoke[[2]int{f, d}] = rapid.Bool().Draw(t, "spoke")
			}
		}
		in := map[int32]int{}
		for d := range int32(5) {
			in[100+d] = rapid.IntRange(0, 3).Draw(t, "part")
		}
		var parts []dayRows
		for k := range 4 {
			p := dayRows{days: map[int32]bool{}}
			for day, part := range in {
				if part == k {
					p.days[day] = true
				}
			}
			others := rapid.Bool().Draw(t, "others")
			p.cols = dailyColumns(monthRows(4, 5, func(f, d int) bool { return spoke[[2]int{f, d}] && (others || p.days[int32(100+d)]) }))
			if !others {
				p.days = nil
			}
			parts = append(parts, p)
		}
		whole := monthRows(4, 5, func(f, d int) bool { return spoke[[2]int{f, d}] })
		if got := mergeDays(parts); !reflect.DeepEqual(got, dailyColumns(whole)) {
			t.Fatalf("%+v\nwant\n%+v", got, dailyColumns(whole))
		}
	})
}

// What it costs to write a month of 1,000 fixtures again for one new day: the
// part read, rows put together, the part written and synced.
func BenchmarkRewriteMonth(b *testing.B) {
	l, err := archive.Acquire(b.TempDir()+"/archive", archive.Holder{})
	if err != nil {
		b.Fatal(err)
	}
	defer l.Release()
	d, err := archive.Derive(l, TableDaily)
	if err != nil {
		b.Fatal(err)
	}
	all := func(int, int) bool { return true }
	p, err := d.Write(TableDaily, "", "key", dailyColumns(monthRows(1000, 30, all)))
	if err != nil {
		b.Fatal(err)
	}
	a, err := d.Commit()
	if err != nil {
		b.Fatal(err)
	}
	kept := map[int32]bool{}
	for day := range int32(29) {
		kept[100+day] = true
	}
	fresh := monthRows(1000, 30, func(_, d int) bool { return d == 29 })
	b.Run("read", func(b *testing.B) {
		for b.Loop() {
			if _, err := a.ReadTable(p); err != nil {
				b.Fatal(err)
			}
		}
	})
	old, err := a.ReadTable(p)
	if err != nil {
		b.Fatal(err)
	}
	var cols []archive.Column
	b.Run("merge", func(b *testing.B) {
		for b.Loop() {
			cols = mergeDays([]dayRows{{old, kept}, {cols: dailyColumns(fresh)}})
		}
	})
	b.Run("write", func(b *testing.B) {
		for i := 0; b.Loop(); i++ {
			d, err := archive.Derive(l, TableDaily)
			if err != nil {
				b.Fatal(err)
			}
			if _, err := d.Write(TableDaily, "", fmt.Sprint(i), cols); err != nil {
				b.Fatal(err)
			}
			if _, err := d.Commit(); err != nil {
				b.Fatal(err)
			}
		}
	})
}
