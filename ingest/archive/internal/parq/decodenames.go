package parq

import (
	"encoding/binary"
	"fmt"
)

// stretch is how often one name comes in a row.
type stretch struct {
	name int // index in the dictionary
	n    int
}

// dictionary reads a page of n names, encoded PLAIN.
func dictionary(src []byte, n int) ([]string, error) {
	if n < 0 || n > len(src)/4 {
		return nil, errCut
	}
	names := make([]string, 0, n)
	for range n {
		if len(src) < 4 {
			return nil, errCut
		}
		size := binary.LittleEndian.Uint32(src)
		if src = src[4:]; uint64(size) > uint64(len(src)) {
			return nil, errCut
		}
		names = append(names, string(src[:size]))
		src = src[size:]
	}
	return names, nil
}

// stretches reads a page of rows indices of a dictionary of names, encoded
// RLE_DICTIONARY, as how often each comes in a row, into out, which is empty.
func stretches(src []byte, rows, names int, out []stretch) ([]stretch, error) {
	if len(src) == 0 {
		return nil, errCut
	}
	w := int(src[0])
	if w > 32 {
		return nil, fmt.Errorf("indices of %d bits", w)
	}
	src = src[1:]
	add := func(index uint64, n int) error {
		if index >= uint64(names) {
			return fmt.Errorf("name %d of %d", index, names)
		}
		if k := len(out); k > 0 && out[k-1].name == int(index) {
			out[k-1].n += n
		} else {
			out = append(out, stretch{int(index), n})
		}
		return nil
	}
	for rows > 0 {
		head, k := binary.Uvarint(src)
		if k <= 0 {
			return nil, errCut
		}
		src = src[k:]
		if head&1 == 0 {
			size := (w + 7) / 8
			n := head >> 1
			if len(src) < size {
				return nil, errCut
			}
			if n == 0 || n > uint64(rows) {
				return nil, fmt.Errorf("%d equal names where %d are left", n, rows)
			}
			var index uint64
			for i, b := range src[:size] {
				index |= uint64(b) << (8 * i)
			}
			if err := add(index, int(n)); err != nil {
				return nil, err
			}
			src, rows = src[size:], rows-int(n)
			continue
		}
		eights := head >> 1
		if eights == 0 || w > 0 && eights > uint64(len(src)/w) || w == 0 && eights > uint64(rows+7)/8 {
			return nil, errCut
		}
		size := int(eights) * w
		// What fills the last eight up is left out.
		n := min(int(eights)*8, rows)
		if w == 0 {
			if err := add(0, n); err != nil {
				return nil, err
			}
		}
		for i := 0; i < n && w > 0; i++ {
			var index uint64
			for b := i * w; b < (i+1)*w; b++ {
				index |= uint64(src[b/8]>>(b%8)&1) << (b - i*w)
			}
			if err := add(index, 1); err != nil {
				return nil, err
			}
		}
		src, rows = src[size:], rows-n
	}
	return out, nil
}
