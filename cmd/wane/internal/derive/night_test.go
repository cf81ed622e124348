package derive

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive"
	"wane/transform/calendar"
	"wane/transform/daily"
	"wane/transform/due"
	"wane/transform/fleet"
)

// oneNight makes the tables as of a day and gives what is said of the lamps.
func oneNight(t *testing.T, dir string, s sitefolder.Site, last int32) (said string, a *archive.Archive) {
	t.Helper()
	l, err := archive.Acquire(dir, archive.Holder{})
	if err != nil {
		t.Fatal(err)
	}
	defer l.Release()
	if a, err = archive.Open(dir); err != nil {
		t.Fatal(err)
	}
	made, err := Make(context.Background(), l, a, s, Making{AsOf: last})
	if err != nil {
		t.Fatal(err)
	}
	return linesOf(made.Result), made.Archive
}

func linesOf(r *due.Result) (said string) {
	for _, line := range r.Lines() {
		said += fmt.Sprintf("%+v\n", line)
	}
	return said
}

// files gives the path of every derived part, which tells its content.
func files(a *archive.Archive) (out []string) {
	for _, table := range made {
		for _, p := range a.Parts(table) {
			out = append(out, p.Path)
		}
	}
	return out
}

// Night after night, through turns of weeks and months, late files, late lines in
// the logbook and a clerk's yearly reading of a meter, the answers and all that
// is stored are those of deriving everything at once, byte for byte. An ordinary
// night of a site without hour meters makes few parts again.
func TestNightsAreAsOne(t *testing.T) {
	for _, metered := range []bool{false, true} {
		t.Run(fmt.Sprint("metered ", metered), func(t *testing.T) { nightsAreAsOne(t, metered) })
	}
}

func nightsAreAsOne(t *testing.T, metered bool) {
	s, rows, last := inventedRecord(30)
	if metered { // the register knows of the meters
		s.Register.Sensors = append(s.Register.Sensors, fleet.SensorPeriod{Sensor: "clerk", Channel: "h",
			Quantity: fleet.RunHours, Watches: "f003", Factor: 1})
	} else {
		for i := range rows {
			rows[i].Counter.LastAt, rows[i].Counter.FirstAt = 0, 0
		}
	}
	dir := t.TempDir()
	missing := func(r daily.Row) bool { return r.Fixture == "f017" && r.Day.Day > last-200 && r.Day.Day < last-190 }
	now := slices.DeleteFunc(slices.Clone(rows), missing)
	var before []string
	for day := last - 21; day <= last-12; day++ { // a month ends, and two weeks
		ordinary := before != nil
		log := func(e fleet.Entry) {
			reg := s.Register
			s.Register = &fleet.Register{Fixtures: reg.Fixtures, Sensors: reg.Sensors,
				Logbook: append(slices.Clone(reg.Logbook), e)}
			s.Register.Sort()
			ordinary = false
		}
		switch last - day {
		case 19: // a file of an old month came late
			now, ordinary = rows, false
		case 16: // and a line of the logbook
			log(fleet.Entry{At: calendar.Date(rows[0].Day.Day + 310), What: fleet.Outage, Scope: fleet.OfRoom, ID: "room0",
				Until: calendar.Date(rows[0].Day.Day + 320)})
		case 14: // today's line
			log(fleet.Entry{At: calendar.Date(day).Add(9 * time.Hour), What: fleet.Clean, Scope: fleet.OfRoom, ID: "room0",
				Value: "all"})
		}
		putDaily(t, dir, now, day)
		said, a := oneNight(t, dir, s, day)
		got := files(a)
		if calendar.MonthOf(calendar.Date(day)) == calendar.MonthOf(calendar.Date(day-1)) && ordinary && !metered {
			fresh := 0
			for _, p := range got {
				if !slices.Contains(before, p) {
					fresh++
				}
			}
			if fresh > 12 { // a day of hours and levels, two months of weeks, and the tables in one piece
				t.Errorf("day %d: %d of %d parts were made again", day, fresh, len(got))
			}
		}
		before = got
		if d := last - day; d != 19 && d != 16 && d != 12 {
			continue
		}
		once := t.TempDir()
		putDaily(t, once, now, day)
		want, b := oneNight(t, once, s, day)
		if said != want {
			t.Fatalf("day %d: the answers differ from deriving all at once:\n%s", day, firstDifference(want, said))
		}
		if all := files(b); !slices.Equal(got, all) {
			t.Fatalf("day %d: made one by one\n%s\nall at once\n%s", day, strings.Join(got, "\n"), strings.Join(all, "\n"))
		}
	}
}

// A question about a past day is answered as the night of that day did.
func TestAskedLaterAsThen(t *testing.T) {
	s, rows, last := inventedRecord(20)
	then := last - 123
	dir := t.TempDir()
	putDaily(t, dir, rows, then)
	want, _ := oneNight(t, dir, s, then)
	dir = t.TempDir()
	putDaily(t, dir, rows, last)
	_, a := oneNight(t, dir, s, last)
	for _, asOf := range []int32{then, last} {
		for _, bare := range []bool{false, true} {
			r, err := Ask(context.Background(), a, s, due.Question{AsOf: asOf, Bare: bare})
			if err != nil {
				t.Fatal(err)
			}
			if got := linesOf(r.Result); asOf == then && got != want {
				t.Errorf("asked later, bare %v: %s", bare, firstDifference(want, got))
			}
			if full := r.Lives[3].WithSeries(); !bare && (len(full.Levels) == 0 || len(full.Totals) == 0 ||
				full.Levels[len(full.Levels)-1].Day > asOf) {
				t.Errorf("as of %d: %d levels, %d totals", asOf, len(full.Levels), len(full.Totals))
			}
			if err := r.Close(); err != nil {
				t.Error(err)
			}
		}
	}
}

// What nobody has made yet is told.
func TestStale(t *testing.T) {
	s, rows, last := inventedRecord(10)
	dir := t.TempDir()
	putDaily(t, dir, rows, last)
	_, a := oneNight(t, dir, s, last)
	if !isMade(a, s, last) {
		t.Error("the night has just made the tables")
	}
	s.Hash = "another"
	if isMade(a, s, last) {
		t.Error("the register has changed since")
	}
}
