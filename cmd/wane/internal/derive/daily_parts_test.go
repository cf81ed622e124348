package derive

import (
	"context"
	"slices"
	"testing"
	"time"

	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive"
	"wane/ingest/site"
	"wane/queries"
	"wane/transform/calendar"
	"wane/transform/daily"
	"wane/transform/fleet"
)

// The latest month has a part a day where there are many fixtures, for the days
// that there are readings of; every other month has one.
func TestDailyParts(t *testing.T) {
	var readings []archive.Part
	for _, day := range []string{"2024-02-28", "2024-03-01", "2024-03-03"} {
		at, err := time.Parse(time.DateOnly, day)
		if err != nil {
			t.Fatal(err)
		}
		readings = append(readings, archive.Part{Table: archive.Readings, SHA256: day, First: at, Last: at.Add(time.Hour)})
	}
	s := sitefolder.Site{Config: site.Config{Location: time.UTC}, Register: &fleet.Register{}}
	for byDay, want := range map[bool][]string{
		false: {"month=2024-02/day=all", "month=2024-03/day=all"},
		true:  {"month=2024-02/day=all", "month=2024-03/day=01", "month=2024-03/day=03"},
	} {
		var got []string
		for _, p := range dailyParts(readings, s, byDay) {
			got = append(got, p.partition)
		}
		if !slices.Equal(got, want) {
			t.Errorf("by day %v: %v, want %v", byDay, got, want)
		}
	}
}

// A part without rows, first or last, disturbs no reader.
func TestEmptyDailyPart(t *testing.T) {
	for _, at := range []int{0, 1, 2} {
		l, err := archive.Acquire(t.TempDir()+"/archive", archive.Holder{})
		if err != nil {
			t.Fatal(err)
		}
		defer l.Release()
		d, err := archive.Derive(l, TableDaily)
		if err != nil {
			t.Fatal(err)
		}
		for k, partition := range []string{"month=1970-04/day=all", "month=1970-05/day=01", "month=1970-05/day=02"} {
			rows := emptyButFor(k, at)
			if _, err := d.Write(TableDaily, partition, "key", dailyColumns(rows)); err != nil {
				t.Fatal(err)
			}
		}
		a, err := d.Commit()
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range a.Parts(TableDaily) {
			if cols, err := a.ReadTable(p); err != nil || len(cols) != len(dailyColumns(nil)) {
				t.Errorf("%s: %v", p.Path, err)
			}
		}
		reg := &fleet.Register{Fixtures: []fleet.Fixture{{ID: "f0000"}, {ID: "f0001"}}}
		rows := 0
		if err := eachFixture(a, a.Parts(TableDaily), reg, 1000, nil,
			func(_ *fleet.Fixture, rows []daily.Row) int { return len(rows) }, func(n int) { rows += n }); err != nil ||
			rows != 4 {
			t.Errorf("part %d empty: %d rows, %v", at, rows, err)
		}
		db, err := queries.Open(context.Background(), Tables(a), queries.Limits{Threads: 1})
		if err != nil {
			t.Fatalf("part %d empty: %v", at, err)
		}
		if got, err := queries.YearUse(context.Background(), db, calendar.Date(0), calendar.Date(1000)); err != nil ||
			len(got) != 2 {
			t.Errorf("part %d empty: %v, %v", at, got, err)
		}
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	}
}

// emptyButFor gives a day's row of each of two fixtures; none of day at.
func emptyButFor(day, at int) (out []daily.Row) {
	if day == at {
		return nil
	}
	for _, id := range []string{"f0000", "f0001"} {
		out = append(out, daily.Row{Fixture: id, Day: daily.Day{Day: int32(100 + day), Hours: 24}})
	}
	return out
}
