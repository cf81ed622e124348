package schedules

import "time"

// civil gives what a clock on the wall of the zone shows at t, carried as a
// UTC time with the same figures.
func civil(t time.Time, zone *time.Location) time.Time {
	t = t.In(zone)
	_, offset := t.Zone()
	return time.Unix(t.Unix()+int64(offset), int64(t.Nanosecond())).UTC()
}

// maxOffset is more than any zone has ever been away from UTC.
const maxOffset = 26 * time.Hour

// instant gives the first instant at which the clock in the zone shows c or
// later. That is c itself where c exists once, the earlier of the two where it
// is repeated, and the end of the gap where it is skipped; and it never falls
// as c rises. (time.Date promises none of the three.)
func instant(c time.Time, zone *time.Location) time.Time {
	t := c.Add(-maxOffset).In(zone)
	for {
		_, offset := t.Zone()
		end := periodEnd(t)
		reached := c.Add(-time.Duration(offset) * time.Second)
		if reached.Before(t) {
			reached = t // c was skipped by the change at which this period starts
		}
		if end.IsZero() || reached.Before(end) {
			return reached.In(zone)
		}
		t = end
	}
}

// periodEnd gives an instant after t up to which the offset of t holds, or the
// zero time where it holds for ever.
func periodEnd(t time.Time) time.Time {
	_, end := t.ZoneBounds()
	// Go 1.26 takes every year for 365 days where it continues a zone by its
	// rule (from 2038 on), and so on the last day of a leap year gives an end
	// that is past. No zone changes its clocks off the quarter of an hour.
	if !end.IsZero() && !end.After(t) {
		const step = 15 * time.Minute
		end = t.Truncate(step).Add(step)
	}
	return end
}
