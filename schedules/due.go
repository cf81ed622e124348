package schedules

import (
	"iter"
	"slices"
	"time"
)

// Due gives the slots of a cron line in the zone that lie after one instant and
// not after another, in order, each once. It is a function of its arguments
// alone. The error is ParseLine's.
func Due(line string, zone *time.Location, after, until time.Time) ([]time.Time, error) {
	l, err := ParseLine(line)
	if err != nil {
		return nil, err
	}
	return slices.Collect(l.slots(zone, after, until)), nil
}

// Next gives the first slot after an instant, in the zone. Clock times that
// fall together at the end of a spring gap make one slot.
func (l Line) Next(zone *time.Location, after time.Time) time.Time {
	for c := civil(after, zone); ; {
		c = l.nextCivil(c)
		// In the second of two repeated hours the clock shows times whose slot
		// was in the first.
		if slot := instant(c, zone); slot.After(after) {
			return slot
		}
	}
}

// slots walks over (after, until].
func (l Line) slots(zone *time.Location, after, until time.Time) iter.Seq[time.Time] {
	return func(yield func(time.Time) bool) {
		for slot := l.Next(zone, after); !slot.After(until); slot = l.Next(zone, slot) {
			if !yield(slot) {
				return
			}
		}
	}
}

// latest gives the last slot not after now, found in ever longer looks back,
// so that a line of many slots does not cost a long one.
func (l Line) latest(zone *time.Location, now time.Time) (time.Time, bool) {
	for _, days := range []int{1, 32, 400, 9 * 366} {
		var last time.Time
		for slot := range l.slots(zone, now.AddDate(0, 0, -days), now) {
			last = slot
		}
		if !last.IsZero() {
			return last, true
		}
	}
	return time.Time{}, false
}
