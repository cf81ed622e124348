package archive

import (
	"errors"
	"fmt"
	"slices"
	"testing"

	"wane/ingest/reading"
)

// What is wanted comes as ReadReadings gives it, and nothing else does; an error
// of the receiver ends the reading.
func TestReadWanted(t *testing.T) {
	dir, _ := settled(t)
	a, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	lines := func(into *[]string, want func(reading.Series) bool) func(*Run) error {
		return func(r *Run) error {
			for i := range r.Time {
				if want(r.Series) {
					*into = append(*into, fmt.Sprint(r.Series, r.Scale, r.Time[i], r.Mantissa[i], r.Conflict[i]))
				}
			}
			return nil
		}
	}
	all := func(reading.Series) bool { return true }
	var series []reading.Series
	for _, p := range a.Parts(Readings) {
		if err := a.ReadReadings(p, func(r *Run) error { series = append(series, r.Series); return nil }); err != nil {
			t.Fatal(err)
		}
	}
	if len(series) == 0 {
		t.Fatal("nothing to read")
	}
	wants := []func(reading.Series) bool{all, func(reading.Series) bool { return false }}
	for _, s := range series {
		wants = append(wants, func(x reading.Series) bool { return x == s })
	}
	for _, want := range wants {
		var got, expected []string
		for _, p := range a.Parts(Readings) {
			if err := errors.Join(a.ReadReadings(p, lines(&expected, want)),
				a.ReadWanted(p, want, lines(&got, all))); err != nil {
				t.Fatal(err)
			}
		}
		if !slices.Equal(got, expected) {
			t.Errorf("%d readings, want %d", len(got), len(expected))
		}
	}
	enough := errors.New("enough")
	if err := a.ReadWanted(a.Parts(Readings)[0], all, func(*Run) error { return enough }); err != enough {
		t.Errorf("ended with %v", err)
	}
	gone := a.Parts(Readings)[0]
	gone.Path += "x"
	if err := a.ReadWanted(gone, all, func(*Run) error { return nil }); !errors.Is(err, ErrGone) {
		t.Errorf("a part that is not there: %v", err)
	}
}
