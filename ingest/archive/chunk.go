package archive

import (
	"encoding/binary"
	"fmt"
	"io"
)

// chunk is a run of readings of one series from one file, packed: times as
// varints of the change of their step, mantissas as varints of their change.
// The readings of a steady logger take two to three bytes each, so that a whole
// night waits for its merge in a few megabytes. All mantissas of a chunk have
// the same number of digits.
//
// A chunk stays within a month and, once it holds chunkRows readings, within a
// day.
type chunk struct {
	first, last int64 // least and greatest time
	n           int
	digits      uint8
	buf         []byte // nil when spilled
	at          int64  // where in the spill file
	size        int

	time, step, mantissa int64 // of the latest reading
}

const chunkRows = 256

func (c *chunk) add(at, mantissa int64) {
	step := at - c.time
	bend, change := step-c.step, mantissa-c.mantissa
	if c.n == 0 {
		c.first, c.last = at, at
		bend, step = at, 0
	} else {
		c.first, c.last = min(c.first, at), max(c.last, at)
	}
	c.time, c.step, c.mantissa = at, step, mantissa
	c.n++
	// Most readings come in step and change little.
	if zigzag := uint64(change<<1) ^ uint64(change>>63); bend == 0 && zigzag < 0x80 {
		c.buf = append(c.buf, 0, byte(zigzag))
		return
	}
	c.buf = binary.AppendVarint(c.buf, bend)
	c.buf = binary.AppendVarint(c.buf, change)
}

// unpack appends the readings with from <= time < to.
func (c *chunk) unpack(spill io.ReaderAt, from, to int64, scale uint8, times, mantissas []int64) ([]int64, []int64, error) {
	buf := c.buf
	if buf == nil {
		buf = make([]byte, c.size)
		if _, err := spill.ReadAt(buf, c.at); err != nil {
			return times, mantissas, fmt.Errorf("read back what was put aside: %w", err)
		}
	}
	all := c.first >= from && c.last < to
	up := pow10[scale-c.digits]
	var at, step, mantissa int64
	for i := range c.n {
		var bend, change int64
		if len(buf) >= 2 && buf[0] == 0 && buf[1] < 0x80 {
			change = int64(buf[1]>>1) ^ -int64(buf[1]&1)
			buf = buf[2:]
		} else {
			var k, l int
			bend, k = binary.Varint(buf)
			if k > 0 {
				change, l = binary.Varint(buf[k:])
			}
			if k <= 0 || l <= 0 {
				return times, mantissas, fmt.Errorf("what was put aside is damaged")
			}
			buf = buf[k+l:]
		}
		if i == 0 {
			at = bend
		} else {
			step += bend
			at += step
		}
		mantissa += change
		if all || at >= from && at < to {
			times = append(times, at)
			mantissas = append(mantissas, mantissa*up)
		}
	}
	return times, mantissas, nil
}

var pow10 = [...]int64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9}
