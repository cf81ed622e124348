package derive

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"wane/ingest/archive"
)

// A great fleet's packed lives are those that hold their series: series,
// levels table, steps and answers.
func TestPackedLivesAreTheSame(t *testing.T) {
	a, s, last := leanSite(t)
	s.Config.Corrections.Estimate = true
	made := map[bool]*Result{}
	tables := map[bool]string{}
	for _, great := range []bool{false, true} {
		s.HoldDays = 0
		if great {
			s.HoldDays = 1
		}
		r, err := Ask(context.Background(), a, s, Question{AsOf: last})
		if err != nil {
			t.Fatal(err)
		}
		if got := r.Lives[0].Days == nil; got != great {
			t.Fatalf("great %v: packed %v", great, got)
		}
		r.Questions = UnexplainedSteps(r.Lives, r.Register, s)
		made[great] = r
		tables[great] = levelsOf(t, r)
	}
	if len(made[false].Lives) != len(made[true].Lives) {
		t.Fatal("not as many lives")
	}
	if tables[false] != tables[true] {
		t.Errorf("table levels: %s, packed %s", tables[false], tables[true])
	}
	if d := cmp.Diff(made[false].Questions, made[true].Questions); d != "" || len(made[false].Questions) == 0 {
		t.Errorf("steps of held (-) and packed (+) lives\n%s", d)
	}
	for i, l := range made[true].Lives {
		held, again := made[false].Lives[i], l.WithSeries()
		opt := []cmp.Option{cmpopts.EquateNaNs(), cmpopts.EquateEmpty(), cmpopts.IgnoreUnexported(Life{})}
		if d := cmp.Diff(held, again, opt...); d != "" {
			t.Fatalf("%s life %d: held (-), packed (+)\n%s", l.Fixture.ID, l.N, d)
		}
		if held.HoursNow() != l.HoursNow() {
			t.Errorf("%s life %d: %v h, packed %v h", l.Fixture.ID, l.N, held.HoursNow(), l.HoursNow())
		}
	}
	text := func(r *Result) (out string) {
		for _, l := range r.Lines() {
			out += fmt.Sprintf("%+v\n", l)
		}
		return out
	}
	if x, y := text(made[false]), text(made[true]); x != y {
		t.Errorf("the answers differ:\n%s", firstDifference(x, y))
	}
}

// levelsOf gives the hashes of table levels.
func levelsOf(t *testing.T, r *Result) (out string) {
	t.Helper()
	l, err := archive.Acquire(t.TempDir(), archive.Holder{})
	if err != nil {
		t.Fatal(err)
	}
	defer l.Release()
	a, err := Levels(l, r.Lives, time.UTC)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range a.Parts(TableLevels) {
		out += p.Partition + " " + p.SHA256 + "\n"
	}
	return out
}
