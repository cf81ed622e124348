package archive

import (
	"fmt"
	"math"
	"slices"
	"sync"

	"wane/ingest/reading"
)

// column is what one file holds of one series. Its first fields say what a
// reading of a logger that keeps its step and its format looks like: one that
// does is taken down without a further look.
type column struct {
	next   int64  // its time
	step   int64  // from one to the next
	from   int64  // start of the day of the readings
	span   uint64 // how much of that day may be believed; 0: look at the next reading
	room   int64  // mantissas lie strictly between -room and room
	digits uint8
	small  []int32 // the mantissas of the open chunk

	wide    []int64 // in place of small where one does not fit
	grids   []grid  // of the open chunk; the length of the last is not yet set
	start   int     // which reading of the chunk starts the last grid
	counted int     // how many readings of the chunk the watch over the order has seen
	before  int64   // time of the latest reading that the watch has seen
	seen    bool    // there is one

	series  reading.Series
	bad     string // why the series is refused, "" if it is not
	chunks  []*chunk
	first   int64
	last    int64
	n       int64
	scratch *scratch
}

// scratch is memory for an open chunk, which goes from file to file.
type scratch struct {
	small []int32
	grids []grid
}

var scratches = sync.Pool{New: func() any { return new(scratch) }}

func (s *Sink) leaveScratch() {
	for _, c := range s.by {
		if c.scratch != nil {
			c.scratch.small, c.scratch.grids = c.small, c.grids
			scratches.Put(c.scratch)
			c.scratch, c.small, c.grids = nil, nil, nil
		}
	}
}

// inStep takes down a reading where it is like those before it, and says
// whether it was. It is small enough to be inlined.
func (c *column) inStep(at int64, v reading.Value) bool {
	if at != c.next || v.Digits != c.digits || v.Mantissa <= -c.room || v.Mantissa >= c.room ||
		uint64(at-c.from) >= c.span {
		return false
	}
	c.next += c.step
	c.small = append(c.small, int32(v.Mantissa))
	return true
}

// len is the number of readings in the open chunk.
func (c *column) len() int { return len(c.small) + len(c.wide) }

// irregular takes down a reading that is not quite like the ones before.
func (s *Sink) irregular(c *column, at int64, v reading.Value, line int32) error {
	if v.Digits > reading.MaxDigits {
		return fmt.Errorf("a decoder gave a value of %d decimals, %d are allowed", v.Digits, reading.MaxDigits)
	}
	s.watch(c, at, line)
	bound := limit * pow10[v.Digits]
	if v.Mantissa >= bound || v.Mantissa <= -bound || at < minTime || at > s.horizon || c.bad != "" {
		c.room = 0 // the next is not a step from here
		s.refuse(c, at, v, int(line))
		return nil
	}
	if uint64(at-c.from) >= c.span || v.Digits > c.digits {
		s.turn(c, at, v.Digits)
	}
	n := c.len()
	switch last := len(c.grids) - 1; {
	case n == 0:
		c.grids, c.start = append(c.grids, grid{at: at}), 0
	case at == c.next:
	case n-c.start == 1:
		c.step = at - c.grids[last].at
		c.grids[last].step = c.step
	default:
		c.closeGrid()
		c.grids, c.start = append(c.grids, grid{at: at, step: c.step}), n
		s.more += 24
	}
	if n == 0 {
		c.grids[0].step = c.step
	}
	c.next = at + c.step
	m := v.Mantissa * pow10[c.digits-v.Digits]
	c.room = min(limit*pow10[c.digits], 1<<31)
	if c.wide == nil && (m > math.MaxInt32 || m < math.MinInt32) {
		c.wide = make([]int64, 0, 2*n+16)
		for _, x := range c.small {
			c.wide = append(c.wide, int64(x))
		}
		c.small = c.small[:0]
	}
	if c.wide != nil {
		c.wide, c.room = append(c.wide, m), 0
		s.more += 4
	} else {
		c.small = append(c.small, int32(m))
	}
	c.counted = n + 1
	return nil
}

func (c *column) closeGrid() {
	if k := len(c.grids); k > 0 {
		c.grids[k-1].n = c.len() - c.start
	}
}

// turn starts a chunk for a reading that does not belong in the open one.
func (s *Sink) turn(c *column, at int64, digits uint8) {
	c.from = at - at%dayMicros
	c.span = uint64(min(dayMicros, s.horizon-c.from+1))
	if n := c.len(); n > 0 {
		digits = max(digits, c.digits)
		// A sparse chunk goes on into another day of its month.
		if n < chunkRows && digits == c.digits && monthIndex(at) == monthIndex(c.grids[0].at) {
			return
		}
		s.seal(c)
	}
	c.digits = digits
}

func monthIndex(at int64) int32 { m, _, _ := monthOf(at); return m }

// seal closes the open chunk.
func (s *Sink) seal(c *column) {
	n := c.len()
	if n == 0 {
		return
	}
	c.closeGrid()
	k := &chunk{n: n, digits: c.digits, grids: slices.Clone(c.grids), wide: c.wide}
	if c.wide == nil {
		if cap(s.values)-len(s.values) < n {
			s.values = make([]int32, 0, max(n, min(1<<16, int(s.rows))))
		}
		from := len(s.values)
		s.values = append(s.values, c.small...)
		k.small = s.values[from:len(s.values):len(s.values)]
	}
	k.bounds()
	c.chunks = append(c.chunks, k)
	c.n += int64(n)
	c.first, c.last = min(c.first, k.first), max(c.last, k.last)
	c.small, c.wide, c.grids, c.start, c.counted = c.small[:0], nil, c.grids[:0], 0, 0
}
