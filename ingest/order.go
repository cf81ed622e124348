package ingest

import (
	"fmt"
	"time"

	"wane/ingest/reading"
)

// ordered passes on what a decoder makes of a file and watches whether the time
// of each series goes one way. It may go either: some loggers export the newest
// first. A file that goes one way but for a few places had its clock set in
// between, or was joined from several exports; its readings are kept all the
// same.
type ordered struct {
	sink reading.Sink
	last []int64 // by index in the batches' Series: time before, 0 for none
	line int32
	up   turn
	down turn
}

// turn counts the steps in one direction and remembers the first.
type turn struct {
	n        int
	line     int32
	from, to int64
}

func (t *turn) add(line int32, from, to int64) {
	if t.n++; t.n == 1 {
		t.line, t.from, t.to = line, from, to
	}
}

// Readings implements reading.Sink.
func (o *ordered) Readings(b *reading.Batch) error {
	for len(o.last) < len(b.Series) {
		o.last = append(o.last, 0)
	}
	for i, at := range b.Time {
		if b.Line[i] < o.line { // the next member of a zip
			clear(o.last)
		}
		o.line = b.Line[i]
		switch last := o.last[b.Of[i]]; {
		case last == 0 || at == last:
		case at > last:
			o.up.add(o.line, last, at)
		default:
			o.down.add(o.line, last, at)
		}
		o.last[b.Of[i]] = at
	}
	return o.sink.Readings(b)
}

// Reject implements reading.Sink.
func (o *ordered) Reject(r reading.Reject) error { return o.sink.Reject(r) }

// leastSteps is from how many steps on a file has a direction; one step in
// oneIn against it is no place any more but a habit (common practice, no source).
const (
	leastSteps = 10
	oneIn      = 50
)

// says tells the first place where time turns, "" where it does not, or where
// the file is in no order at all, which is nobody's clock.
func (o *ordered) says() string {
	usual, odd, way := o.up, o.down, "back"
	if o.down.n > o.up.n {
		usual, odd, way = o.down, o.up, "forward"
	}
	if odd.n == 0 || usual.n < leastSteps || odd.n > max(1, usual.n/oneIn) {
		return ""
	}
	step := time.Duration(odd.to-odd.from) * time.Microsecond
	if step < 0 {
		step = -step
	}
	at := func(t int64) string { return time.UnixMicro(t).UTC().Format(time.RFC3339) }
	return fmt.Sprintf("time runs %s by %s at line %d, from %s to %s: the logger's clock was set, or several exports were joined", way, step, odd.line, at(odd.from), at(odd.to))
}
