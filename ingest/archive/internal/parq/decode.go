package parq

import (
	"encoding/binary"
	"errors"
	"fmt"
)

// The decodings of readings, by the Parquet format's "Encodings" page: what
// encode.go writes, and whatever else of the same encodings other writers make
// of them. Bytes that do not hold what they promise give an error.

// deltas takes a page of DELTA_BINARY_PACKED integers apart, as many at a time
// as are asked for.
type deltas struct {
	src    []byte // what is still to be read
	left   int    // values still to come
	begun  bool   // the first value, which the header holds, is given out
	last   int64  // value given out last
	least  int64  // least delta of the block
	widths []byte // of the miniblocks of the block still to come
	minis  int    // miniblocks in a block
	groups int    // of 32 values in a miniblock
	width  uint   // of the present miniblock
	more   int    // groups of it still to come
	spare  [packed]int64
	held   []int64 // values in spare not yet given out
}

const (
	packed     = 32      // values that are unpacked at once
	blockLimit = 1 << 20 // values in a block, far above what anybody writes
)

var (
	errCut     = errors.New("a page ends before its values do")
	errTooMany = errors.New("a page holds fewer values than its column")
)

// newDeltas reads the header of a page that must hold n values.
func newDeltas(src []byte, n int) (*deltas, error) {
	d := &deltas{src: src, left: n}
	block, err := d.uvarint()
	if err != nil {
		return nil, err
	}
	minis, err := d.uvarint()
	if err != nil {
		return nil, err
	}
	if block == 0 || block > blockLimit || minis == 0 || minis > block || block%minis != 0 || block/minis%packed != 0 {
		return nil, fmt.Errorf("blocks of %d values in %d parts", block, minis)
	}
	total, err := d.uvarint()
	if err != nil {
		return nil, err
	}
	if total != uint64(n) {
		return nil, fmt.Errorf("a page holds %d values, not %d", total, n)
	}
	d.minis, d.groups = int(minis), int(block/minis/packed)
	d.last, err = d.varint()
	return d, err
}

func (d *deltas) uvarint() (uint64, error) {
	v, n := binary.Uvarint(d.src)
	if n <= 0 {
		return 0, errCut
	}
	d.src = d.src[n:]
	return v, nil
}

func (d *deltas) varint() (int64, error) {
	v, n := binary.Varint(d.src)
	if n <= 0 {
		return 0, errCut
	}
	d.src = d.src[n:]
	return v, nil
}

// next fills dst with the next values.
func (d *deltas) next(dst []int64) error {
	if len(dst) > d.left {
		return errTooMany
	}
	d.left -= len(dst)
	if !d.begun && len(dst) > 0 {
		d.begun = true
		dst[0], dst = d.last, dst[1:]
	}
	n := copy(dst, d.held)
	d.held, dst = d.held[n:], dst[n:]
	for len(dst) > 0 {
		if d.more == 0 {
			if err := d.open(); err != nil {
				return err
			}
		}
		if len(dst) >= packed {
			if err := d.group((*[packed]int64)(dst)); err != nil {
				return err
			}
			dst = dst[packed:]
			continue
		}
		if err := d.group(&d.spare); err != nil {
			return err
		}
		d.held = d.spare[copy(dst, d.spare[:]):]
		return nil
	}
	return nil
}

// open goes on to the next miniblock.
func (d *deltas) open() (err error) {
	if len(d.widths) == 0 {
		if d.least, err = d.varint(); err != nil {
			return err
		}
		if len(d.src) < d.minis {
			return errCut
		}
		d.widths, d.src = d.src[:d.minis], d.src[d.minis:]
	}
	if d.widths[0] > 64 {
		return fmt.Errorf("values of %d bits", d.widths[0])
	}
	d.width, d.widths = uint(d.widths[0]), d.widths[1:]
	d.more = d.groups
	return nil
}

// group gives the next 32 values of the miniblock.
func (d *deltas) group(dst *[packed]int64) error {
	size := int(d.width) * packed / 8
	if len(d.src) < size {
		return errCut
	}
	d.last = unpack(dst, d.src, d.width, d.last, d.least)
	d.src = d.src[size:]
	d.more--
	return nil
}

// unpack reads 32 deltas of w bits each, the least significant bit first, less
// least, and gives the values that they lead to from last, and the last of them.
// src holds w*4 bytes at least.
func unpack(dst *[packed]int64, src []byte, w uint, last, least int64) int64 {
	mask := uint64(1)<<w - 1
	switch {
	case w == 0: // a steady clock
		for i := range dst {
			last += least
			dst[i] = last
		}
	case w <= 8 && len(src) >= 3*int(w)+8:
		// Eight of them lie in w bytes: half the time of one load for each.
		for i := 0; i < packed; i += 8 {
			u := binary.LittleEndian.Uint64(src[i/8*int(w):])
			o := (*[8]int64)(dst[i:])
			for j := range o {
				last += least + int64(u&mask)
				o[j] = last
				u >>= w & 63
			}
		}
	case w <= 16 && len(src) >= 4*int(w)+8:
		// Four of them lie in 64 bits, or 60 where they begin within a byte.
		for i := 0; i < packed; i += 4 {
			at := uint(i) * w
			u := binary.LittleEndian.Uint64(src[at/8:]) >> (at % 8)
			o := (*[4]int64)(dst[i:])
			for j := range o {
				last += least + int64(u&mask)
				o[j] = last
				u >>= w & 63
			}
		}
	case w <= 56 && len(src) >= 4*int(w)+8:
		for i := range dst {
			at := uint(i) * w
			last += least + int64(binary.LittleEndian.Uint64(src[at/8:])>>(at%8)&mask)
			dst[i] = last
		}
	default: // wide ones, which straddle words, and the end of the page
		var room [packed*8 + 16]byte
		copy(room[:], src[:4*w])
		for i := range dst {
			at := uint(i) * w
			lo := binary.LittleEndian.Uint64(room[at/8:]) >> (at % 8)
			hi := uint64(room[at/8+8]) << 8 >> (at % 8) << 56 // the ninth byte; gone by itself where the shift is 0
			last += least + int64((lo|hi)&mask)
			dst[i] = last
		}
	}
	return last
}

// flags takes a page of PLAIN booleans apart.
type flags struct {
	src []byte
	at  int
}

// newFlags takes a page that must hold n flags.
func newFlags(src []byte, n int) (*flags, error) {
	if len(src) < (n+7)/8 {
		return nil, errCut
	}
	return &flags{src: src}, nil
}

// next fills dst with the next flags.
func (b *flags) next(dst []bool) error {
	if (b.at+len(dst)+7)/8 > len(b.src) {
		return errTooMany
	}
	if n := (b.at + len(dst) + 7) / 8; none(b.src[b.at/8 : n]) { // nearly always
		clear(dst)
		b.at += len(dst)
		return nil
	}
	for i := range dst {
		dst[i] = b.src[b.at/8]>>(b.at%8)&1 == 1
		b.at++
	}
	return nil
}

func none(b []byte) bool {
	for _, x := range b {
		if x != 0 {
			return false
		}
	}
	return true
}
