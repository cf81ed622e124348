package derive

import (
	"context"
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"wane/ingest/archive"
	"wane/transform/fleet"
)

// night settles, asks and stores as the batch does, and gives what was said.
func night(t *testing.T, dir string, s Site, last int32) (said string, a *archive.Archive) {
	t.Helper()
	l, err := archive.Acquire(dir, archive.Holder{})
	if err != nil {
		t.Fatal(err)
	}
	defer l.Release()
	if a, err = archive.Open(dir); err != nil {
		t.Fatal(err)
	}
	if a, err = Settle(context.Background(), l, a, s, last); err != nil {
		t.Fatal(err)
	}
	r, err := Ask(context.Background(), a, s, Question{AsOf: last, Lean: true})
	if err != nil {
		t.Fatal(err)
	}
	if a, err = Store(l, a, s, r); err != nil {
		t.Fatal(err)
	}
	for _, line := range r.Lines() {
		said += fmt.Sprintf("%+v\n", line)
	}
	return said, a
}

// stored gives the names and bytes, by their hash, of the tables that a night
// leaves.
func stored(a *archive.Archive) map[string]string {
	out := map[string]string{}
	for _, table := range []string{TableSettled, TableOpen, TableWeeks, TablePosteriors, TablePast, TableDue} {
		for _, p := range a.Parts(table) {
			out[table] = p.SHA256
		}
	}
	return out
}

// Night after night, through turns of weeks and months, late files, late lines in
// the logbook and a clerk's yearly reading of a meter, the answers and all that
// is stored are those of deriving everything at once.
func TestNightsAreAsOne(t *testing.T) {
	s, rows, last := leanRecord(60)
	dir := t.TempDir()
	missing := func(r DailyRow) bool { return r.Fixture == "f017" && r.Day.Day > last-200 && r.Day.Day < last-190 }
	now := slices.DeleteFunc(slices.Clone(rows), missing)
	reused, settledAnew, turns := 0, 0, 0
	var before map[string]string
	for day := last - 50; day <= last; day++ {
		late := false
		switch last - day {
		case 40: // a file of a settled month came late
			now, late = rows, true
		case 25: // and a line of the logbook
			reg := s.Register
			s.Register = &fleet.Register{Fixtures: reg.Fixtures, Sensors: reg.Sensors, Logbook: append(slices.Clone(reg.Logbook),
				fleet.Entry{At: Date(rows[0].Day.Day + 310), What: fleet.Outage, Scope: fleet.OfRoom, ID: "room0", Until: Date(rows[0].Day.Day + 320)})}
			s.Register.Sort()
			late = true
		case 10: // today's line changes nothing that is settled
			reg := s.Register
			s.Register = &fleet.Register{Fixtures: reg.Fixtures, Sensors: reg.Sensors, Logbook: append(slices.Clone(reg.Logbook),
				fleet.Entry{At: Date(day).Add(9 * time.Hour), What: fleet.Clean, Scope: fleet.OfRoom, ID: "room2", Value: "all"})}
			s.Register.Sort()
		}
		writeDaily(t, dir, now, day)
		said, a := night(t, dir, s, day)
		got := stored(a)
		if got[TableSettled] != before[TableSettled] {
			settledAnew++
			if m := monthOf(Date(day)); !late && before != nil && monthOf(Date(day-1)) == m {
				t.Errorf("day %d: what is settled changed within a month", day)
			}
		}
		if got[TablePosteriors] == before[TablePosteriors] {
			reused++
		}
		if monthOf(Date(day)) != monthOf(Date(day-1)) {
			turns++
		}
		before = got
		if d := last - day; d%12 != 0 && d != 40 && d != 25 && d != 10 {
			continue
		}
		once := t.TempDir()
		writeDaily(t, once, now, day)
		want, b := night(t, once, s, day)
		if said != want {
			t.Fatalf("day %d: the answers differ from deriving all at once:\n%s", day, firstDifference(want, said))
		}
		if d := fmt.Sprint(got) == fmt.Sprint(stored(b)); !d {
			t.Fatalf("day %d: stored\n%v, all at once\n%v", day, got, stored(b))
		}
		full, err := Ask(context.Background(), b, s, Question{AsOf: day})
		if err != nil {
			t.Fatal(err)
		}
		text := ""
		for _, line := range full.Lines() {
			text += fmt.Sprintf("%+v\n", line)
		}
		if text != want {
			t.Fatalf("day %d: the answers differ from those of all days:\n%s", day, firstDifference(text, want))
		}
	}
	t.Logf("%d month turns, settled anew %d times, fit reused on %d nights", turns, settledAnew, reused)
	if turns < 2 || settledAnew < turns+2 || reused < 35 {
		t.Errorf("%d month turns, settled anew %d times, fit reused on %d nights", turns, settledAnew, reused)
	}
}

// A life goes on from what is settled to the bits of its whole record.
func TestOnlyOpenDaysAreReadAgain(t *testing.T) {
	s, rows, last := leanRecord(150)
	dir := t.TempDir()
	writeDaily(t, dir, rows, last)
	_, a := night(t, dir, s, last)
	past, err := readSettled(a, s, settledMonth(last))
	if err != nil || past == nil {
		t.Fatal("nothing is settled", err)
	}
	byHand, others := 0, 0
	for id, f := range past.fixtures {
		for _, l := range f {
			if l.Final {
				continue
			}
			open := int(lastDayOf(past.to) - l.Sum.Day)
			if l.Sum.MeterAt != 0 && open > 8 {
				byHand++
			} else if open > 8 {
				t.Errorf("%s: %d days are open", id, open)
			} else {
				others++
			}
		}
	}
	if byHand == 0 || others < 100 {
		t.Errorf("%d lives wait for their meter, %d do not", byHand, others)
	}
	if math.IsNaN(past.fixtures["f000"][0].Sum.Hours) {
		t.Error("no hours")
	}
}
