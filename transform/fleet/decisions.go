package fleet

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Keep says which of several values of one series at one moment holds.
type Keep string

// The ways to keep one; any other Keep is KeepValue.
const (
	KeepLowest  Keep = "lowest"
	KeepHighest Keep = "highest"
	KeepFinest  Keep = "finest" // the one of most decimals, where the others are it, rounded or cut
	KeepNone    Keep = "none"   // none of them is true
	KeepValue   Keep = "value"  // the one that Decision.Value names
)

// Every stands for every sensor, or every channel, in a Decision.
const Every = "*"

// Decision is a row of register/decisions.csv: what a person decided about
// readings of a series that contradict each other. It speaks of every
// contradiction from From to To, both included, of one sensor and channel or of
// Every one.
type Decision struct {
	Sensor, Channel string
	From, To        time.Time // the same for one moment
	Keep            Keep
	Value           float64 // as read, before any factor; of KeepValue
	Line            int
}

// Decide settles a contradiction: the values that a series has at one moment,
// in ascending order. Of two decisions that speak of it the one that names the
// sensor goes first, then the one that names the channel. settled is false where
// nobody has decided, or where what was decided does not fit the values; kept is
// false where none of them is true.
func (r *Register) Decide(sensor, channel string, at time.Time, values []float64) (value float64, kept, settled bool) {
	for _, whose := range [][2]string{{sensor, channel}, {sensor, Every}, {Every, channel}, {Every, Every}} {
		for i := range r.Decisions {
			d := &r.Decisions[i]
			if d.Sensor != whose[0] || d.Channel != whose[1] || at.Before(d.From) || at.After(d.To) {
				continue
			}
			if value, kept, settled = d.settle(values); settled {
				return value, kept, settled
			}
		}
	}
	return 0, false, false
}

func (d *Decision) settle(values []float64) (value float64, kept, settled bool) {
	switch d.Keep {
	case KeepNone:
		return 0, false, true
	case KeepLowest:
		return values[0], true, true
	case KeepHighest:
		return values[len(values)-1], true, true
	case KeepFinest:
		value, kept = Finest(values)
		return value, kept, kept
	}
	if slices.Contains(values, d.Value) {
		return d.Value, true, true
	}
	return 0, false, false
}

// Finest gives the value of most decimals, where all the others are that value,
// rounded or cut to their own decimals: one reading, exported more than once.
func Finest(values []float64) (finest float64, ok bool) {
	most := -1
	for _, v := range values {
		if d := decimals(v); d > most {
			finest, most = v, d
		}
	}
	for _, v := range values {
		d := decimals(v)
		if v == finest {
			continue
		}
		unit := math.Pow10(d)
		rounded := math.Abs(v-finest)*unit <= 0.5+1e-9 // either way at the half: programs differ
		if d == most || !rounded && v != math.Trunc(finest*unit)/unit {
			return 0, false
		}
	}
	return finest, most >= 0
}

// decimals is how many decimals a value has without zeros at its end.
func decimals(v float64) int {
	_, after, _ := strings.Cut(strconv.FormatFloat(v, 'f', -1, 64), ".")
	return len(after)
}
