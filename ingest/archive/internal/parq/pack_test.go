package parq

import (
	"bytes"
	"encoding/binary"
	"math/bits"
	"testing"

	"pgregory.net/rapid"
)

// appendDelta appends values as DELTA_BINARY_PACKED.
func appendDelta(dst []byte, v []int64) []byte {
	var p packer
	p.reset()
	p.add(v)
	return append(dst, p.finish()...)
}

// However the values come, the bytes are those of all values at once.
func TestPackerIsPlain(t *testing.T) {
	var p packer // used again
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.SliceOfN(rapid.Int64(), 0, 700).Draw(t, "values")
		for i := range v {
			v[i] >>= rapid.IntRange(0, 63).Draw(t, "shift")
		}
		p.reset()
		for rest := v; len(rest) > 0; {
			n := rapid.IntRange(1, len(rest)).Draw(t, "n")
			p.add(rest[:n])
			rest = rest[n:]
		}
		if got, want := p.finish(), plainDelta(nil, v); !bytes.Equal(got, want) {
			t.Fatalf("%d values gave\n%x, not\n%x", len(v), got, want)
		}
		for _, x := range v {
			if x < p.least || x > p.greatest {
				t.Fatalf("%d is not within %d and %d", x, p.least, p.greatest)
			}
		}
	})
}

// plainPacked packs bit by bit.
func plainPacked(dst []byte, v []int64, base int64, w int) []byte {
	out := make([]byte, len(v)*w/8)
	for i, x := range v {
		for b := range w {
			if uint64(x-base)>>b&1 == 1 {
				out[(i*w+b)/8] |= 1 << ((i*w + b) % 8)
			}
		}
	}
	return append(dst, out...)
}

// plainDelta is the encoding of values that are all at hand.
func plainDelta(dst []byte, v []int64) []byte {
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
				dst = plainPacked(dst, deltas[from:from+deltaMini], least, w)
			}
		}
	}
	return dst
}
