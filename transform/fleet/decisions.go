package fleet

import (
	"slices"
	"time"
)

// Keep says which of several values of one series at one moment holds.
type Keep string

// The ways to keep one; any other Keep is KeepValue.
const (
	KeepLowest  Keep = "lowest"
	KeepHighest Keep = "highest"
	KeepNone    Keep = "none"  // none of them is true
	KeepValue   Keep = "value" // the one that Decision.Value names
)

// Decision is a row of register/decisions.csv: what a person decided about
// readings of a series that contradict each other. It speaks of every
// contradiction from From to To, both included.
type Decision struct {
	Sensor, Channel string
	From, To        time.Time // the same for one moment
	Keep            Keep
	Value           float64 // as read, before any factor; of KeepValue
	Line            int
}

// Decide settles a contradiction: the values that a series has at one moment,
// in ascending order. settled is false where nobody has decided, or where the
// value that was decided for is none of them; kept is false where none of them
// is true.
func (r *Register) Decide(sensor, channel string, at time.Time, values []float64) (value float64, kept, settled bool) {
	for i := range r.Decisions {
		d := &r.Decisions[i]
		if d.Sensor != sensor || d.Channel != channel || at.Before(d.From) || at.After(d.To) {
			continue
		}
		switch d.Keep {
		case KeepNone:
			return 0, false, true
		case KeepLowest:
			return values[0], true, true
		case KeepHighest:
			return values[len(values)-1], true, true
		}
		if slices.Contains(values, d.Value) {
			return d.Value, true, true
		}
	}
	return 0, false, false
}
