// Package reading holds what passes between a decoder, which knows one kind of
// file, and the archive, which knows none.
//
// A reading is one value of one series at one moment. A row of a file may hold
// several (a wide file has a column a series), so everything is counted in
// readings: a line of a wide file with five values is five readings, a cell
// declared missing is none.
package reading

import (
	"math"
	"slices"
)

// Series names one channel of one sensor. What it measures, in which unit, and
// what it watches is the register's affair, not the archive's.
type Series struct {
	Sensor  string
	Channel string
}

// String gives "sensor/channel", the form in messages and tables.
func (s Series) String() string { return s.Sensor + "/" + s.Channel }

// Value is a number as a logger printed it: Mantissa / 10^Digits. Keeping the
// decimal keeps the printed digits, which tells a stuck sensor from a steady
// lamp, and packs far better than a float.
type Value struct {
	Mantissa int64
	Digits   uint8 // decimals, 0 to MaxDigits
}

// MaxDigits is the largest number of decimals that is kept as a decimal. No
// light, voltage or hour meter prints more; a source that does (a computed
// float) has its value rounded there, its original file keeps the rest.
const MaxDigits = 9

// pow10 holds the powers that a Value needs.
var pow10 = [MaxDigits + 1]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9}

// Float gives the nearest float64.
func (v Value) Float() float64 { return float64(v.Mantissa) / pow10[v.Digits] }

// Of gives the Value of a float with the fewest digits that round-trip, at
// most MaxDigits. ok is false for NaN, infinities and magnitudes that no
// decimal of this kind can hold (from 2^53 / 10^digits on).
func Of(f float64) (v Value, ok bool) {
	if math.IsNaN(f) || math.IsInf(f, 0) || math.Abs(f) >= 1<<53 {
		return Value{}, false
	}
	for d := uint8(0); ; d++ {
		m := math.Round(f * pow10[d])
		if math.Abs(m) >= 1<<53 {
			if d == 0 {
				return Value{}, false
			}
			return Value{Mantissa: int64(math.Round(f * pow10[d-1])), Digits: d - 1}, true
		}
		if m/pow10[d] == f || d == MaxDigits {
			return Value{Mantissa: int64(m), Digits: d}, true
		}
	}
}

// Batch is a run of readings from one file, as columns of equal length, in
// file order.
type Batch struct {
	Series []Series // the distinct series met so far in this file
	Of     []int32  // index into Series
	Time   []int64  // microseconds since 1970-01-01T00:00:00Z
	Value  []Value
	Line   []int32 // line of the file (1 = first); record number where the format has no lines
}

// Len is the number of readings.
func (b *Batch) Len() int { return len(b.Time) }

// Add appends one reading.
func (b *Batch) Add(series int32, at int64, v Value, line int32) {
	b.Of = append(b.Of, series)
	b.Time = append(b.Time, at)
	b.Value = append(b.Value, v)
	b.Line = append(b.Line, line)
}

// Grow makes room for n more readings, so that adding them allocates nothing.
func (b *Batch) Grow(n int) {
	b.Of, b.Time = slices.Grow(b.Of, n), slices.Grow(b.Time, n)
	b.Value, b.Line = slices.Grow(b.Value, n), slices.Grow(b.Line, n)
}

// Reset empties the columns and keeps the series and the memory.
func (b *Batch) Reset() {
	b.Of, b.Time, b.Value, b.Line = b.Of[:0], b.Time[:0], b.Value[:0], b.Line[:0]
}

// Reject is a reading, or a line that could not be made into readings, that
// did not pass. It is data: counted, kept in quarantine, shown to a person.
type Reject struct {
	Line   int    // 1 = first line; 0 where the file as a whole is meant
	Column string // column or field, "" where the whole line is meant
	Code   string // short kebab-case class of the reason, e.g. "bad-time", "out-of-range"
	Reason string // what is wrong and what would mend it, in words
	Text   string // the offending text, at most 200 bytes of it
}

// Sink takes what a decoder makes of one file, in file order, from one
// goroutine. The batch belongs to the decoder again when Readings returns. An
// error stops the decoding of the file and is handed through unchanged.
type Sink interface {
	Readings(*Batch) error
	Reject(Reject) error
}

// RowSink is a Sink that also takes the readings of one line and moment as they
// come, which spares them from being written into a batch and read again: a
// tenth of the time of a take. Row and Readings come in file order. series is
// Batch.Series, and values[i] is of series[of[i]].
type RowSink interface {
	Sink
	Row(series []Series, of []int32, at int64, values []Value, line int32) error
}
