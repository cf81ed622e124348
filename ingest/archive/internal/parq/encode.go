package parq

import (
	"encoding/binary"
	"math"
	"math/bits"
)

// The encodings of readings, by the Parquet format's "Encodings" page. The
// library has them too, a value at a time through reflection; these take a
// column at a time, and a run of equal names at its length.

const (
	deltaBlock = 128 // deltas in a block
	deltaMini  = 32  // deltas in a miniblock
)

// packer encodes values as DELTA_BINARY_PACKED as they come: a header, then
// blocks of 128 deltas less their least one, in four miniblocks of their own bit
// width. So the values themselves need not be held.
type packer struct {
	n               int // values
	first, prev     int64
	least, greatest int64 // of the values
	deltas          [deltaBlock]int64
	have            int    // deltas that wait for their block to fill
	low, high       int64  // the least and the greatest of them
	buf             []byte // room for the header, then the blocks
}

// headerRoom is the most bytes of a header: four varints.
const headerRoom = 4 * binary.MaxVarintLen64

func (p *packer) reset() {
	p.n, p.have, p.first = 0, 0, 0
	p.buf = append(p.buf[:0], make([]byte, headerRoom)...)
}

// add encodes further values.
func (p *packer) add(v []int64) {
	if len(v) == 0 {
		return
	}
	if p.n == 0 {
		p.first, p.prev, p.least, p.greatest = v[0], v[0], v[0], v[0]
		p.n, v = 1, v[1:]
	}
	p.n += len(v)
	least, greatest, prev := p.least, p.greatest, p.prev
	for len(v) > 0 {
		if p.have == 0 {
			p.low, p.high = math.MaxInt64, math.MinInt64
		}
		n := min(len(v), deltaBlock-p.have)
		room := p.deltas[p.have : p.have+n]
		low, high := p.low, p.high
		for i, x := range v[:n] {
			d := x - prev
			room[i] = d
			prev = x
			low, high = min(low, d), max(high, d)
			least, greatest = min(least, x), max(greatest, x)
		}
		p.low, p.high = low, high
		v = v[n:]
		if p.have += n; p.have == deltaBlock {
			p.block()
		}
	}
	p.least, p.greatest, p.prev = least, greatest, prev
}

// block encodes the deltas that wait.
func (p *packer) block() {
	n, least := p.have, p.low
	p.have = 0
	if cap(p.buf)-len(p.buf) < mostBlock {
		// To what the row group will take if it goes on like this, or by doubling:
		// what append makes of it costs three times as much memory.
		whole := len(p.buf) * RowGroup / p.n
		p.buf = append(make([]byte, 0, max(2*cap(p.buf), whole+whole/8)+mostBlock), p.buf...)
	}
	dst := binary.AppendVarint(p.buf, least)
	widths := len(dst)
	dst = append(dst, 0, 0, 0, 0)
	if p.high == least {
		p.buf = dst // a steady step, as most times have it
		return
	}
	for m := 0; m*deltaMini < n; m++ {
		from, to := m*deltaMini, min((m+1)*deltaMini, n)
		var all uint64
		for _, d := range p.deltas[from:to] {
			all |= uint64(d - least)
		}
		w := bits.Len64(all)
		dst[widths+m] = byte(w)
		if w > 0 {
			// What is left over in the last miniblock is filled up.
			for j := to; j < from+deltaMini; j++ {
				p.deltas[j] = least
			}
			dst = appendPacked(dst, (*[deltaMini]int64)(p.deltas[from:]), least, uint(w))
		}
	}
	p.buf = dst
}

// mostBlock is the most bytes of a block: its least delta, the widths, and all
// deltas as they are.
const mostBlock = binary.MaxVarintLen64 + deltaBlock/deltaMini + 8*deltaBlock

// finish gives the encoded values, good until the next reset.
func (p *packer) finish() []byte {
	if p.have > 0 {
		p.block()
	}
	var room [headerRoom]byte
	h := binary.AppendUvarint(room[:0], deltaBlock)
	h = binary.AppendUvarint(h, deltaBlock/deltaMini)
	h = binary.AppendUvarint(h, uint64(p.n))
	h = binary.AppendVarint(h, p.first)
	from := headerRoom - len(h)
	copy(p.buf[from:], h)
	return p.buf[from:]
}

// appendPacked appends 32 values, each less base, of w bits each, the least
// significant bit first. Narrow ones are put together before they are put down.
func appendPacked(dst []byte, v *[deltaMini]int64, base int64, w uint) []byte {
	var acc uint64
	var have uint
	put := func(u uint64, w uint) {
		acc |= u << have
		have += w
		if have >= 64 {
			dst = binary.LittleEndian.AppendUint64(dst, acc)
			have -= 64
			acc = u >> (w - have)
		}
	}
	switch {
	case w <= 16:
		for i := 0; i < deltaMini; i += 4 {
			put(uint64(v[i]-base)|uint64(v[i+1]-base)<<w|uint64(v[i+2]-base)<<(2*w)|uint64(v[i+3]-base)<<(3*w), 4*w)
		}
	case w <= 32:
		for i := 0; i < deltaMini; i += 2 {
			put(uint64(v[i]-base)|uint64(v[i+1]-base)<<w, 2*w)
		}
	default:
		for _, x := range v {
			put(uint64(x-base), w)
		}
	}
	if have > 0 { // 32 w bits are whole words but for one half
		dst = binary.LittleEndian.AppendUint32(dst, uint32(acc))
	}
	return dst
}

// appendRuns appends dictionary indices as RLE, a run of equal ones each, with
// the bit width before them. It is made for few long runs.
func appendRuns(dst []byte, index []uint32, length []int, names int) []byte {
	w := max(1, bits.Len(uint(max(names-1, 0))))
	dst = append(dst, byte(w))
	for i := 0; i < len(index); {
		n, x := 0, index[i]
		for ; i < len(index) && index[i] == x; i++ {
			n += length[i]
		}
		dst = binary.AppendUvarint(dst, uint64(n)<<1)
		for b := 0; b < w; b += 8 {
			dst = append(dst, byte(x>>b))
		}
	}
	return dst
}

// appendBits appends flags as PLAIN booleans, the least significant bit first.
func appendBits(dst []byte, v []bool) []byte {
	for len(v) > 0 {
		n := min(8, len(v))
		var b byte
		for i, x := range v[:n] {
			if x {
				b |= 1 << i
			}
		}
		dst = append(dst, b)
		v = v[n:]
	}
	return dst
}
