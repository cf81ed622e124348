package demo

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
)

// missing marks a value that the logger did not have.
const missing = math.MinInt64

// record turns the rows of one bay's logger into its export files: one a month
// or a week, some overlapping, some spoilt.
type record struct {
	c        *calendar
	dir      string // the inbox
	place    string // F1A
	channels int    // light channels; two more columns follow
	w        writer
	mishaps  []mishap
	next     int      // mishaps before it have begun
	active   []mishap // begun and not over
	held     []int64  // the last row, for a channel that is stuck

	period   string       // of the file being written; "" = none yet
	body     bytes.Buffer // its lines, without the header
	days     []int        // where each day's lines begin in body
	previous []byte       // the last file's lines
	lastDays []int        // where each day's lines began in them
	again    again        // what of the last file the next repeats
	cut      bool         // this file is spoilt: it ends within a line

	files int
	bytes int64
}

// again says how much of the file before a file repeats.
type again int

const (
	nothing again = iota
	tenDays
	everything
)

// write takes the row of a slot; the values are in the last printed digit.
func (e *record) write(s int, row []int64) error {
	if s == 0 || e.w.dayBreak(e.c, s) {
		if period := e.w.period(e.c, s); period != e.period {
			if err := e.flush(); err != nil {
				return err
			}
			e.period = period
		}
		e.days = append(e.days, e.body.Len())
	}
	lost, garbled := e.spoil(s, row)
	e.held = append(e.held[:0], row...)
	if lost {
		return nil
	}
	if garbled != "" {
		e.body.WriteString(garbled)
		e.body.WriteString("\r\n"[2-len(e.w.newline()):])
		return nil
	}
	e.body.Write(e.w.row(e.body.AvailableBuffer(), e.c, s, row))
	return nil
}

// spoil lets the mishaps of this slot act on the row; it may be lost as a whole
// or come out as a line that says nothing.
func (e *record) spoil(s int, row []int64) (lost bool, garbled string) {
	for e.next < len(e.mishaps) && e.mishaps[e.next].from <= s {
		e.active = append(e.active, e.mishaps[e.next])
		e.next++
	}
	keep := e.active[:0]
	for _, m := range e.active {
		if s >= m.until {
			continue
		}
		keep = append(keep, m)
		switch m.kind {
		case gap:
			lost = true
		case stuck:
			if len(e.held) == len(row) {
				row[m.channel] = e.held[m.channel]
			}
		case spike:
			if row[m.channel] != missing {
				row[m.channel] = e.w.fullScale()
			}
		case noValue:
			row[m.channel] = missing
		case badLine:
			garbled = e.w.garbled(m.channel)
		case truncated:
			e.cut = true
		case repeatedDays:
			e.again = tenDays
		}
	}
	e.active = keep
	return lost, garbled
}

// flush writes the file of the period that ends.
func (e *record) flush() error {
	if e.period == "" {
		return nil
	}
	repeat := e.repeated()
	body := e.body.Bytes()
	written := body
	if e.cut {
		written = cutShort(body)
	}
	name := e.w.file(e.place, e.period)
	f, err := os.Create(filepath.Join(e.dir, name))
	if err != nil {
		return fmt.Errorf("write demo logger file: %w", err)
	}
	for _, part := range [][]byte{e.w.head(e.place, e.channels), repeat, written} {
		n, err := f.Write(part)
		e.bytes += int64(n)
		if err != nil {
			f.Close()
			return fmt.Errorf("write demo logger file: %w", err)
		}
	}
	if err := f.Close(); err != nil {
		return fmt.Errorf("write demo logger file: %w", err)
	}
	e.files++
	e.previous = append(e.previous[:0], body...)
	e.lastDays = append(e.lastDays[:0], e.days...)
	e.again = nothing
	if e.cut {
		e.again = everything // somebody noticed and exported the whole of it again
	}
	e.cut = false
	e.body.Reset()
	e.days = e.days[:0]
	return nil
}

// repeated gives the lines of the file before that this file repeats.
func (e *record) repeated() []byte {
	switch {
	case e.again == nothing || len(e.lastDays) == 0:
		return nil
	case e.again == everything:
		return e.previous
	}
	return e.previous[e.lastDays[max(len(e.lastDays)-10, 0)]:]
}

// close writes the last file.
func (e *record) close() error { return e.flush() }

// cutShort ends a file within a line, at about three fifths, so that the line
// lacks cells: what a full memory card does.
func cutShort(body []byte) []byte {
	at := len(body) * 3 / 5
	start := bytes.LastIndexByte(body[:at], '\n') + 1
	line := body[start:]
	if end := bytes.IndexByte(line, '\n'); end > 0 {
		line = line[:end]
	}
	return body[:start+len(line)/2]
}
