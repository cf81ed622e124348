package fleet

import (
	"slices"
	"time"
)

// HandRead is an hour meter or a diary read by a person.
type HandRead struct {
	At    time.Time
	Hours float64 // as shown
}

// HoursReadByHand gives what the logbook holds of a fixture's run-hours, in
// order of time. A line may speak of its bay, circuit or room, where one meter
// counts for all.
func (r *Register) HoursReadByHand(f *Fixture) (out []HandRead) {
	for i := range r.Logbook {
		if e := &r.Logbook[i]; e.What == HoursRead && r.Covers(e, f) {
			out = append(out, HandRead{e.At, e.Number})
		}
	}
	slices.SortStableFunc(out, func(a, b HandRead) int { return a.At.Compare(b.At) })
	return out
}
