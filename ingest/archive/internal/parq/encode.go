package parq

import (
	"encoding/binary"
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
		n := min(len(v), deltaBlock-p.have)
		room := p.deltas[p.have : p.have+n]
		for i, x := range v[:n] {
			room[i] = x - prev
			prev = x
			least, greatest = min(least, x), max(greatest, x)
		}
		v = v[n:]
		if p.have += n; p.have == deltaBlock {
			p.block()
		}
	}
	p.least, p.greatest, p.prev = least, greatest, prev
}

// block encodes the deltas that wait.
func (p *packer) block() {
	n := p.have
	p.have = 0
	least := p.deltas[0]
	for _, d := range p.deltas[1:n] {
		least = min(least, d)
	}
	dst := binary.AppendVarint(p.buf, least)
	widths := len(dst)
	dst = append(dst, 0, 0, 0, 0)
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
			dst = appendPacked(dst, p.deltas[from:from+deltaMini], least, uint(w))
		}
	}
	p.buf = dst
}

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
// significant bit first.
func appendPacked(dst []byte, v []int64, base int64, w uint) []byte {
	var acc uint64
	var have uint
	for _, x := range v {
		u := uint64(x - base)
		acc |= u << have
		have += w
		if have >= 64 {
			dst = binary.LittleEndian.AppendUint64(dst, acc)
			have -= 64
			acc = u >> (w - have)
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
