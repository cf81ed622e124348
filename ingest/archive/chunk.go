package archive

import (
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"slices"
)

// chunk is a run of readings of one series from one file. A logger keeps its
// step, so that the times are a few grids; the mantissas, all of the same number
// of digits, are plain numbers, which cost least to put down and take up again.
// Put aside on disk, a chunk is packed.
//
// A chunk stays within a month and, once it holds chunkRows readings, within a
// day.
type chunk struct {
	first, last int64 // least and greatest time
	n           int
	digits      uint8
	ascending   bool // every time is later than the one before
	grids       []grid
	small       []int32 // the mantissas
	wide        []int64 // instead of small, where one does not fit
	at          int64   // where in the spill file
	size        int     // bytes there; 0: not put aside
}

// grid is n readings, each a step after the one before.
type grid struct {
	at, step int64
	n        int
}

func (g grid) last() int64 { return g.at + int64(g.n-1)*g.step }

const chunkRows = 256

// bounds sets what follows from the grids.
func (c *chunk) bounds() {
	c.first, c.last, c.ascending = math.MaxInt64, math.MinInt64, true
	before := int64(math.MinInt64)
	for _, g := range c.grids {
		c.ascending = c.ascending && g.at > before && (g.step > 0 || g.n == 1)
		before = g.last()
		c.first, c.last = min(c.first, g.at, before), max(c.last, g.at, before)
	}
}

// unpack appends the readings with from <= time < to.
func (c *chunk) unpack(spill io.ReaderAt, from, to int64, scale uint8,
	times, mantissas []int64) ([]int64, []int64, error) {
	up := pow10[scale-c.digits]
	k := len(times)
	if c.size > 0 {
		var err error
		if times, mantissas, err = c.takeUp(spill, times, mantissas); err != nil {
			return times, mantissas, err
		}
	} else {
		times, mantissas = slices.Grow(times, c.n), slices.Grow(mantissas, c.n)
		for _, g := range c.grids {
			room := times[len(times) : len(times)+g.n]
			times = times[:len(times)+g.n]
			at := g.at
			for i := range room {
				room[i] = at
				at += g.step
			}
		}
		if c.wide != nil {
			mantissas = append(mantissas, c.wide...)
		} else {
			room := mantissas[k : k+c.n]
			mantissas = mantissas[:k+c.n]
			for i, m := range c.small[:len(room)] {
				room[i] = int64(m)
			}
		}
	}
	if up != 1 {
		for i := range mantissas[k:] {
			mantissas[k+i] *= up
		}
	}
	if c.first >= from && c.last < to {
		return times, mantissas, nil
	}
	kept := k
	for i := k; i < len(times); i++ {
		if at := times[i]; at >= from && at < to {
			times[kept], mantissas[kept] = at, mantissas[i]
			kept++
		}
	}
	return times[:kept], mantissas[:kept], nil
}

// pack appends the chunk as it lies in the spill file: the number of grids, the
// grids, then the mantissas as varints of their change. The readings of a steady
// logger take one to two bytes each.
func (c *chunk) pack(dst []byte) []byte {
	dst = binary.AppendUvarint(dst, uint64(len(c.grids)))
	for _, g := range c.grids {
		dst = binary.AppendVarint(dst, g.at)
		dst = binary.AppendVarint(dst, g.step)
		dst = binary.AppendUvarint(dst, uint64(g.n))
	}
	before := int64(0)
	for _, m := range c.small {
		dst = binary.AppendVarint(dst, int64(m)-before)
		before = int64(m)
	}
	for _, m := range c.wide {
		dst = binary.AppendVarint(dst, m-before)
		before = m
	}
	return dst
}

// takeUp appends the readings of a chunk that was put aside.
func (c *chunk) takeUp(spill io.ReaderAt, times, mantissas []int64) ([]int64, []int64, error) {
	buf := make([]byte, c.size)
	if _, err := spill.ReadAt(buf, c.at); err != nil {
		return times, mantissas, fmt.Errorf("read back what was put aside: %w", err)
	}
	r := varints{buf: buf}
	have := len(times) + c.n
	for range r.unsigned() {
		at, step, n := r.signed(), r.signed(), r.unsigned()
		if r.bad || n > uint64(have-len(times)) {
			return times, mantissas, errDamaged
		}
		for range n {
			times = append(times, at)
			at += step
		}
	}
	before := int64(0)
	for range c.n {
		before += r.signed()
		mantissas = append(mantissas, before)
	}
	if r.bad || len(times) != have {
		return times, mantissas, errDamaged
	}
	return times, mantissas, nil
}

var errDamaged = fmt.Errorf("what was put aside is damaged")

// varints reads one number after the other.
type varints struct {
	buf []byte
	bad bool // there was not one to read
}

func (r *varints) unsigned() uint64 {
	v, n := binary.Uvarint(r.buf)
	r.past(n)
	return v
}

func (r *varints) signed() int64 {
	v, n := binary.Varint(r.buf)
	r.past(n)
	return v
}

func (r *varints) past(n int) {
	if n <= 0 {
		r.bad, r.buf = true, nil
		return
	}
	r.buf = r.buf[n:]
}

var pow10 = [...]int64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9}
