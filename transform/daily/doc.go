// Package daily rolls a fixture's readings up into one row a day: the median
// of its steady readings, the conditions at those very moments, and the
// evidence for its run-hours.
//
//  1. A reading is lit where it stands above a floor and above a share of its
//     day's typical lit reading.
//  2. A lit reading is usable once the lamp has run up, while its dim state is
//     the day's own, the supply is near the day's median, the sensor moves and
//     nothing stands in the beam. Every other reading is counted by the reason
//     that it was left out.
//  3. The time between two readings is lit, dark, or an edge (one of each); a
//     silence longer than the gate allows is a gap, not guessed at here.
//
// Promises: a day's row depends on no reading after that day and on none before
// its Since, and not on which other days are asked about with it, so that a day
// can be rolled up again alone (RollNear says when the readings since the day
// before are enough for it); every reading of the day is
// usable or counted under one reason; hours of a stretch of time are conserved
// however it is cut into days (the time up to a reading belongs to the
// reading's day).
package daily

// Track is one series over a stretch of time: increasing times in
// microseconds since 1970 UTC and values in the quantity's unit, factor
// applied, conflicting readings taken out.
type Track struct {
	Time  []int64
	Value []float64
}

// Len is the number of readings.
func (t Track) Len() int { return len(t.Time) }

// Bound is one local day: its number (days since 1970-01-01 of the calendar
// date) and the instants where it begins and ends, microseconds UTC. A day
// with a clock change has 23 or 25 hours. Readings before Since are as good as
// none; it should be a few days before From, so that a lamp burning over
// midnight is known to be warm and a slow logger's cadence shows.
type Bound struct {
	Day      int32
	From, To int64
	Since    int64
}

// Hours is the length of the day.
func (b Bound) Hours() float64 { return float64(b.To-b.From) / microPerHour }

const microPerHour = 3600e6
