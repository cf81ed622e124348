package parq

import (
	"fmt"
	"io"
	"os"
	"sync"

	"github.com/apache/arrow/go/v15/parquet/file"

	"wane/ingest/reading"
)

// step is how many rows a cursor decodes at a time.
const step = 8192

// Cursor reads a file of readings from front to back with little memory, a
// stretch of one series at a time.
type Cursor struct {
	path string
	r    *file.Reader
	f    *os.File
	want func(reading.Series) bool

	number   int // next row group
	at       int // in desk.runs, of the next row
	left     int // rows of the row group up to the last that is wanted
	time     integers
	value    integers
	conflict booleans
	*desk

	now *window
	err error // for good: after one the columns no longer stand at the same row
}

// trace is a run of a series that is still to be given out, and whether it is
// wanted.
type trace struct {
	run
	wanted bool
}

// window is some decoded rows, and the wanted stretches among them.
type window struct {
	times, values [step]int64
	conflicts     [step]bool
	found, room   []Stretch // still to be given out; all of them
}

var (
	desks   = sync.Pool{New: func() any { return new(desk) }}
	windows = sync.Pool{New: func() any { return new(window) }}
)

// Stretch is some readings of one series, in order of time. A long series
// comes as several. The slices are valid until the next call.
type Stretch struct {
	Series   reading.Series
	Time     []int64
	Mantissa []int64
	Conflict []bool
	More     int // readings of the series that follow in the row group
}

// OpenReadings opens a file that Readings wrote, whose scale must be as given.
func OpenReadings(path string, scale int) (*Cursor, error) {
	r, f, err := open(path)
	if err != nil {
		return nil, err
	}
	if !r.MetaData().Schema.Root().Equals(readingsSchema(scale)) {
		f.Close()
		return nil, fmt.Errorf("%s does not hold readings of %d decimals: its columns are other ones", path, scale)
	}
	return &Cursor{path: path, r: r, f: f, desk: desks.Get().(*desk), now: windows.Get().(*window)}, nil
}

// Want leaves out the series that fn does not want. Row groups without any that
// it wants are not decoded. It is called before the first Next.
func (c *Cursor) Want(fn func(reading.Series) bool) { c.want = fn }

// Close closes the file. What Next gave is no longer valid.
func (c *Cursor) Close() error {
	if c.desk != nil {
		c.now.found = nil
		clear(c.now.room)
		clear(c.runs)
		windows.Put(c.now)
		desks.Put(c.desk)
		c.desk, c.now, c.time, c.value, c.conflict = nil, nil, nil, nil, nil
	}
	return c.f.Close()
}

// Rows is the number of readings in the file.
func (c *Cursor) Rows() int64 { return c.r.NumRows() }

// Next gives the next stretch, or io.EOF.
func (c *Cursor) Next() (Stretch, error) {
	for len(c.now.found) == 0 {
		if c.err == nil {
			c.err = c.load(c.now)
		}
		if c.err != nil {
			return Stretch{}, c.err
		}
	}
	s := c.now.found[0]
	c.now.found = c.now.found[1:]
	return s, nil
}

// load decodes the next rows.
func (c *Cursor) load(w *window) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("read %s: %v", c.path, p)
		}
	}()
	for c.left == 0 {
		if c.number == c.r.NumRowGroups() {
			return io.EOF
		}
		if err := c.openGroup(); err != nil {
			return fmt.Errorf("read %s: %w", c.path, err)
		}
	}
	n := min(step, c.left)
	for _, err := range []error{c.time.next(w.times[:n]), c.value.next(w.values[:n]), c.conflict.next(w.conflicts[:n])} {
		if err != nil {
			return fmt.Errorf("read %s: %w", c.path, err)
		}
	}
	c.left -= n
	w.found = w.room[:0]
	for at := 0; at < n; {
		r := &c.runs[c.at]
		to := min(at+r.n, n)
		if r.wanted {
			w.found = append(w.found, Stretch{Series: r.series, Time: w.times[at:to], Mantissa: w.values[at:to],
				Conflict: w.conflicts[at:to], More: r.n - (to - at)})
		}
		if r.n -= to - at; r.n == 0 {
			c.at++
		}
		at = to
	}
	w.room = w.found
	return nil
}

// openGroup begins the next row group. If nothing of it is wanted, no rows are
// left of it.
func (c *Cursor) openGroup() error {
	rg := c.r.RowGroup(c.number)
	c.number++
	g := &group{f: c.f, rg: rg, rows: rg.NumRows(), desk: c.desk}
	if g.rows < 0 {
		return fmt.Errorf("a row group of %d rows", g.rows)
	}
	if err := g.series(); err != nil {
		return err
	}
	rows := 0
	c.at = 0
	for i := range c.runs {
		r := &c.runs[i]
		r.wanted = c.want == nil || c.want(r.series)
		if rows += r.n; r.wanted {
			c.left = rows
		}
	}
	if c.left == 0 {
		return nil
	}
	var err error
	if c.time, err = g.integers(colTime, &g.desk.time); err != nil {
		return fmt.Errorf("column time: %w", err)
	}
	if c.value, err = g.integers(colValue, &g.desk.value); err != nil {
		return fmt.Errorf("column value: %w", err)
	}
	if c.conflict, err = g.booleans(colConflict, &g.desk.conflict); err != nil {
		return fmt.Errorf("column conflict: %w", err)
	}
	return nil
}
