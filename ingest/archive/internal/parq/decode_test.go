package parq

import (
	"bytes"
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/apache/arrow/go/v15/parquet/file"
	"pgregory.net/rapid"
)

// decodeAll takes a page of n integers apart, up to most at a time.
func decodeAll(src []byte, n, most int) ([]int64, error) {
	d, err := newDeltas(src, n)
	if err != nil {
		return nil, err
	}
	var out []int64
	for len(out) < n {
		dst := make([]int64, min(most, n-len(out)))
		if err := d.next(dst); err != nil {
			return nil, err
		}
		out = append(out, dst...)
	}
	return out, nil
}

func TestDeltasOfEveryWidth(t *testing.T) {
	for w := range 65 {
		for _, n := range []int{1, 2, 32, 33, 34, 129, 130, 1000} {
			v := make([]int64, n)
			for i := range v {
				v[i] = int64(uint64(i%3)*0x9e3779b97f4a7c15) >> (64 - max(w, 1))
			}
			src := appendDelta(nil, v)
			for _, most := range []int{1, 7, 32, 100, n} {
				got, err := decodeAll(src, n, most)
				if err != nil || !slices.Equal(got, v) {
					t.Fatalf("width %d, %d values, %d at a time: %v", w, n, most, err)
				}
			}
			for cut := 0; cut < len(src); cut += 1 + n/130 {
				if _, err := decodeAll(src[:cut], n, n); err == nil {
					t.Fatalf("width %d, %d values: %d of %d bytes were taken for the whole", w, n, cut, len(src))
				}
			}
			if _, err := decodeAll(src, n+1, n+1); err == nil {
				t.Fatal("more values came than there are")
			}
		}
	}
}

func TestBadPagesAreRefused(t *testing.T) {
	head := func(v ...uint64) (b []byte) {
		for _, x := range v {
			b = binary.AppendUvarint(b, x)
		}
		return b
	}
	for name, src := range map[string][]byte{
		"no header":         nil,
		"no blocks":         head(0, 4, 40, 0),
		"no miniblocks":     head(128, 0, 40, 0),
		"uneven parts":      head(128, 3, 40, 0),
		"short parts":       head(128, 8, 40, 0),
		"a huge block":      head(1<<40, 4, 40, 0),
		"another number":    head(128, 4, 41, 0),
		"65 bits":           append(head(128, 4, 40, 0, 0), slices.Repeat([]byte{65}, 4096)...),
		"an endless number": slices.Repeat([]byte{255}, 64),
	} {
		if _, err := decodeAll(src, 40, 40); err == nil {
			t.Errorf("%s: taken", name)
		}
	}
	for name, src := range map[string][]byte{
		"empty": nil, "33 bits": {33, 80, 0, 0, 0, 0, 0}, "no run": {1}, "no index": {1, 80}, "a run too long": {1, 82, 0},
		"an empty run": {1, 0, 0, 80, 0}, "name 2 of 2": {2, 80, 2}, "no bits": {1, 11}, "empty bits": {1, 1, 0},
		"few":                {1, 2, 0},
		"packed name 3 of 2": {2, 3, 3, 0, 66, 0}, "an endless run": slices.Repeat([]byte{255}, 64),
	} {
		if _, err := stretches(src, 40, 2, nil); err == nil {
			t.Errorf("%s: taken", name)
		}
	}
	if _, err := newFlags(make([]byte, 4), 33); err == nil {
		t.Error("33 flags came of 4 bytes")
	}
	for _, src := range [][]byte{{1, 0, 0}, {1, 0, 0, 0}, {0, 0, 0, 128, 1}, {1, 0, 0, 0, 'a', 2, 0, 0, 0, 'b'}} {
		if _, err := dictionary(src, 2); err == nil {
			t.Errorf("%v: taken for two names", src)
		}
	}
}

func TestFlags(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.SliceOf(rapid.Bool()).Draw(t, "flags")
		f, err := newFlags(appendBits(nil, v), len(v))
		if err != nil {
			t.Fatal(err)
		}
		for len(v) > 0 {
			got := slices.Repeat([]bool{true}, rapid.IntRange(1, len(v)).Draw(t, "n"))
			if err := f.next(got); err != nil || !slices.Equal(got, v[:len(got)]) {
				t.Fatalf("%v, %v; want %v", got, err, v[:len(got)])
			}
			v = v[len(got):]
		}
	})
}

// Any bytes give values or an error; and where the library takes them as well,
// the same values.
func FuzzDeltas(f *testing.F) {
	for _, w := range []uint{0, 1, 7, 8, 9, 31, 56, 57, 63} {
		v := make([]int64, 300)
		for i := range v {
			v[i] = int64(uint64(i*i*i) << w % math.MaxInt32)
		}
		f.Add(appendDelta(nil, v), uint16(300), uint16(64))
	}
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, src []byte, n, most uint16) {
		if n == 0 {
			return
		}
		got, err := decodeAll(src, int(n), int(most)+1)
		if err != nil {
			return
		}
		path := filepath.Join(dir, "r.parquet")
		if err := os.WriteFile(path, fileOf(t, src, int(n)), 0o644); err != nil {
			t.Fatal(err)
		}
		r, fd, err := open(path)
		if err != nil {
			t.Fatal(err)
		}
		defer fd.Close()
		theirs := make([]int64, n)
		if libraryIntegers(r, theirs) != nil {
			return
		}
		for i := range got {
			if got[i] != theirs[i] {
				t.Fatalf("value %d of %d is %d, by the library %d", i, n, got[i], theirs[i])
			}
		}
	})
}

// fileOf makes a file whose times are the page src, said to hold n values.
func fileOf(t *testing.T, src []byte, n int) []byte {
	var buf bytes.Buffer
	w := NewReadings(&buf, Snappy, 2)
	zero := make([]int64, n)
	if err := w.Add(name(0), zero, zero, nil); err != nil {
		t.Fatal(err)
	}
	if w.time.n > 0 {
		if err := w.flush(); err != nil {
			t.Fatal(err)
		}
	}
	r := w.waiting[0]
	<-r.encoded
	p := &r.pages[colTime]
	p.plain, p.packed = bytes.Clone(src), Snappy.append(nil, src) // the room is used again
	r.encoded <- struct{}{}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

func libraryIntegers(r *file.Reader, dst []int64) (err error) {
	defer func() {
		if recover() != nil {
			err = errCut
		}
	}()
	cr, err := r.RowGroup(0).Column(colTime)
	if err != nil {
		return err
	}
	_, err = fill(cr.(*file.Int64ColumnChunkReader).ReadBatch, dst, nil)
	return err
}

// Any bytes give as many names as were asked for, or an error.
func FuzzNames(f *testing.F) {
	f.Add(appendRuns(nil, []uint32{0, 1, 2}, []int{5, 6, 7}, 3), []byte{1, 0, 0, 0, 'a', 0, 0, 0, 0, 1, 0, 0, 0, 'c'},
		uint16(18), uint8(3))
	f.Add([]byte{3, 5, 0x88, 0xc6, 0xfa, 0x88, 0xc6, 0xfa}, []byte{}, uint16(15), uint8(8))
	f.Fuzz(func(t *testing.T, indices, dict []byte, rows uint16, names uint8) {
		got, err := stretches(indices, int(rows), int(names), nil)
		if err == nil {
			n := 0
			for _, s := range got {
				if s.n <= 0 || s.name < 0 || s.name >= int(names) {
					t.Errorf("%+v", s)
				}
				n += s.n
			}
			if n != int(rows) {
				t.Errorf("%d rows, want %d", n, rows)
			}
		}
		if got, err := dictionary(dict, int(names)); err == nil && len(got) != int(names) {
			t.Errorf("%d names, want %d", len(got), names)
		}
	})
}

// The example of the format's page "Encodings": 0 to 7 packed in three bits.
func TestPackedNames(t *testing.T) {
	got, err := stretches([]byte{3, 3, 0x88, 0xc6, 0xfa}, 7, 8, nil)
	if err != nil || len(got) != 7 || got[6] != (stretch{6, 1}) {
		t.Errorf("%v, %v", got, err)
	}
}
