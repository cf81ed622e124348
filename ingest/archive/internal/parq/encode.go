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

// appendDelta appends values as DELTA_BINARY_PACKED: a header, then blocks of
// 128 deltas less their least one, in four miniblocks of their own bit width.
func appendDelta(dst []byte, v []int64) []byte {
	dst = binary.AppendUvarint(dst, deltaBlock)
	dst = binary.AppendUvarint(dst, deltaBlock/deltaMini)
	dst = binary.AppendUvarint(dst, uint64(len(v)))
	if len(v) == 0 {
		return binary.AppendVarint(dst, 0)
	}
	dst = binary.AppendVarint(dst, v[0])
	var deltas [deltaBlock]int64
	for i := 1; i < len(v); i += deltaBlock {
		n := min(deltaBlock, len(v)-i)
		least := v[i] - v[i-1]
		prev := v[i-1]
		for j, x := range v[i : i+n] {
			d := x - prev
			prev = x
			deltas[j] = d
			if d < least {
				least = d
			}
		}
		dst = binary.AppendVarint(dst, least)
		widths := len(dst)
		dst = append(dst, 0, 0, 0, 0)
		for m := 0; m*deltaMini < n; m++ {
			from, to := m*deltaMini, min((m+1)*deltaMini, n)
			var all uint64
			for _, d := range deltas[from:to] {
				all |= uint64(d - least)
			}
			w := bits.Len64(all)
			dst[widths+m] = byte(w)
			if w > 0 {
				// What is left over in the last miniblock is filled up.
				for j := to; j < from+deltaMini; j++ {
					deltas[j] = least
				}
				dst = appendPacked(dst, deltas[from:from+deltaMini], least, uint(w))
			}
		}
	}
	return dst
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
