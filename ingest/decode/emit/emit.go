// Package emit is the side of a decoder that faces the sink: it numbers the
// series, fills batches, keeps the counts, and makes the checks that are the
// same for every kind of file (a time that can be, a name that can be).
package emit

import (
	"fmt"
	"strings"
	"sync"
	"time"
	"unicode"
	"unicode/utf8"

	"wane/ingest/decode/stamp"
	"wane/ingest/reading"
)

// Counts says what one file came to. Rows is what the sink was given: readings
// and rejects.
type Counts struct {
	Rows       int64 // readings + rejects
	Rejects    int64
	Blank      int64 // cells that are empty or hold a missing code: no reading, no reject
	OutOfOrder int64 // lines (long files: readings) earlier than the one before; taken all the same
	Ambiguous  int64 // stamps in a repeated hour of a change of clocks, resolved by order
}

// FileError is a file that cannot be read as a whole, or not further. What the
// sink was given of it before is not to be used.
type FileError struct {
	File string
	Line int    // 0 where the file as a whole is meant
	What string // what is wrong
	Do   string // what would mend it
}

func (e *FileError) Error() string {
	s := e.File
	if e.Line > 0 {
		s = fmt.Sprintf("%s:%d", s, e.Line)
	}
	s += ": " + e.What
	if e.Do != "" {
		s += "; " + e.Do
	}
	return s
}

// Earliest is the time before which no reading is believed: a clock that was
// never set counts from its own epoch.
var Earliest = time.Date(1990, 1, 1, 0, 0, 0, 0, time.UTC)

const (
	batchSize = 4096 // 128 KiB: it stays in the processor's cache until the sink has read it
	maxSeries = 65536
	maxName   = 200 // bytes of a sensor's or channel's name
	maxText   = 200 // bytes of offending text that a reject keeps
)

// Emitter hands one file's readings and rejects to a sink.
type Emitter struct {
	Counts
	sink   reading.Sink
	rows   reading.RowSink // the same, if it is one
	batch  *reading.Batch
	room   int // readings that the batch may come to before full is asked
	ids    map[reading.Series]int32
	lo, hi int64 // believable times, microseconds

	last          []int64 // a stream's last time, microseconds
	forward, back int64
	folds         stamp.Folds
	member        string // of the zip; "" where the file is no zip
}

// batches go from file to file.
var batches = sync.Pool{New: func() any { return new(reading.Batch) }}

// New makes an Emitter. A zero now sets no upper bound on times. Leave gives it up.
func New(sink reading.Sink, now time.Time) *Emitter {
	e := &Emitter{sink: sink, batch: batches.Get().(*reading.Batch), ids: map[reading.Series]int32{},
		lo: Earliest.UnixMicro(), hi: 1<<63 - 1}
	e.rows, _ = sink.(reading.RowSink)
	if !now.IsZero() {
		e.hi = now.Add(24 * time.Hour).UnixMicro()
	}
	return e
}

// Series gives the number of a series, or the reason why its name cannot be.
func (e *Emitter) Series(sensor, channel string) (int32, *stamp.Error) {
	s := reading.Series{Sensor: sensor, Channel: channel}
	if id, ok := e.ids[s]; ok {
		return id, nil
	}
	if why := BadName(sensor); why != "" {
		return 0, &stamp.Error{Code: "bad-name", Reason: "the sensor's name " + why}
	}
	if why := BadName(channel); why != "" {
		return 0, &stamp.Error{Code: "bad-name", Reason: "the channel's name " + why}
	}
	if len(e.ids) >= maxSeries {
		return 0, &stamp.Error{Code: "too-many-series", Reason: fmt.Sprintf("the file has more than %d series; is the right column taken as sensor and channel?", maxSeries)}
	}
	s = reading.Series{Sensor: strings.Clone(sensor), Channel: strings.Clone(channel)}
	id := int32(len(e.batch.Series))
	e.batch.Series = append(e.batch.Series, s)
	e.ids[s] = id
	return id, nil
}

// BadName says why a sensor or channel cannot have this name, "" where it can.
func BadName(s string) string {
	switch {
	case s == "":
		return "is empty"
	case len(s) > maxName:
		return fmt.Sprintf("has %d bytes, more than %d", len(s), maxName)
	case !utf8.ValidString(s):
		return "is not valid text; check encoding"
	case strings.IndexFunc(s, unicode.IsControl) >= 0:
		return "has a control character or line break in it"
	}
	return ""
}

// NextMember begins another file: its times have an order of their own. Where it
// is one of several, rejects name it, since their lines do not tell.
func (e *Emitter) NextMember(name string) {
	e.member = name
	e.last = e.last[:0]
	e.forward, e.back = 0, 0
	e.folds = stamp.Folds{}
}

// Place gives the UTC microseconds of a moment of a stream, checked, and keeps
// the order.
func (e *Emitter) Place(stream int32, m stamp.Moment, z stamp.Zone) (int64, *stamp.Error) {
	for int(stream) >= len(e.last) {
		e.last = append(e.last, stamp.NotSeen)
	}
	at := m.UTC
	last := e.last[stream]
	if !m.Resolved {
		lastSec := last
		if last != stamp.NotSeen {
			lastSec = last / 1e6
		}
		sec, err := e.folds.Place(z, stream, m.Local, lastSec, e.back > e.forward)
		if err != nil {
			return 0, err
		}
		if z.Twice(m.Local) {
			e.Ambiguous++
		}
		at = sec*1e6 + m.Micros
	}
	if at < e.lo {
		return 0, &stamp.Error{Code: "time-too-early", Reason: "before 1990: the logger's clock was not set"}
	}
	if at > e.hi {
		return 0, &stamp.Error{Code: "time-in-future", Reason: "more than a day after now: the logger's clock, the zone or the time format is wrong"}
	}
	if at < last {
		e.OutOfOrder++
		e.back++
	} else if at > last && last != stamp.NotSeen {
		e.forward++
	}
	e.last[stream] = at
	return at, nil
}

// Add hands on one reading.
func (e *Emitter) Add(series int32, at int64, v reading.Value, line int) error {
	e.batch.Add(series, at, v, int32(line))
	if e.batch.Len() >= e.room {
		return e.full()
	}
	return nil
}

// full makes room in a batch that has none left: a small one grows, so that a
// small file needs little memory, a large one is handed over.
func (e *Emitter) full() error {
	if e.room < batchSize {
		e.room = min(8*max(e.room, 32), batchSize)
		e.batch.Grow(e.room - e.batch.Len())
		return nil
	}
	return e.Flush()
}

// AddRow hands on the readings of one line and moment: values[i] is of series[i].
func (e *Emitter) AddRow(series []int32, at int64, values []reading.Value, line int) error {
	if e.rows != nil {
		if e.batch.Len() > 0 {
			if err := e.Flush(); err != nil {
				return err
			}
		}
		e.Rows += int64(len(values))
		return e.rows.Row(e.batch.Series, series, at, values, int32(line))
	}
	for i, v := range values {
		if err := e.Add(series[i], at, v, line); err != nil {
			return err
		}
	}
	return nil
}

// Flush hands over what is in the batch.
func (e *Emitter) Flush() error {
	n := e.batch.Len()
	if n == 0 {
		return nil
	}
	e.Rows += int64(n)
	err := e.sink.Readings(e.batch)
	e.batch.Reset()
	return err
}

// Leave gives the memory of the batch to another file. Nothing is handed on
// after it.
func (e *Emitter) Leave() {
	e.batch.Reset()
	e.batch.Series = nil
	batches.Put(e.batch)
	e.batch = nil
}

// Reject hands on a reject, its text cut to what a reject keeps.
func (e *Emitter) Reject(line int, column, code, reason string, text []byte) error {
	e.Rows++
	e.Rejects++
	if len(text) > maxText {
		text = text[:maxText]
	}
	if e.member != "" {
		reason = e.member + ": " + reason
	}
	return e.sink.Reject(reading.Reject{Line: line, Column: column, Code: code, Reason: reason,
		Text: strings.ToValidUTF8(string(text), "\uFFFD")})
}
