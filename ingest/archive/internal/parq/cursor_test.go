package parq

import (
	"bytes"
	"errors"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/apache/arrow/go/v15/parquet"
	"github.com/apache/arrow/go/v15/parquet/compress"
	"github.com/apache/arrow/go/v15/parquet/file"
	"pgregory.net/rapid"

	"wane/ingest/reading"
)

// flat are readings as a table of them has them.
type flat struct {
	series      []reading.Series
	time, value []int64
	clash       []bool
}

func (f *flat) equal(g *flat) bool {
	return slices.Equal(f.series, g.series) && slices.Equal(f.time, g.time) && slices.Equal(f.value, g.value) &&
		slices.Equal(f.clash, g.clash)
}

// only leaves those out that are not wanted.
func (f *flat) only(want func(reading.Series) bool) *flat {
	out := &flat{}
	for i, s := range f.series {
		if want(s) {
			out.series, out.time, out.value, out.clash = append(out.series, s), append(out.time, f.time[i]),
				append(out.value, f.value[i]), append(out.clash, f.clash[i])
		}
	}
	return out
}

// collect reads a file to its end.
func collect(path string, want func(reading.Series) bool) (*flat, error) {
	c, err := OpenReadings(path, 9)
	if err != nil {
		return nil, err
	}
	defer c.Close()
	if want != nil {
		c.Want(want)
	}
	out := &flat{}
	for {
		s, err := c.Next()
		if err == io.EOF {
			_, err = c.Next()
			if err != io.EOF {
				err = errors.Join(errors.New("no end after the end"), err)
			} else {
				err = nil
			}
			return out, err
		}
		if err != nil {
			return nil, err
		}
		for i := range s.Time {
			out.series = append(out.series, s.Series)
			out.time, out.value, out.clash = append(out.time, s.Time[i]), append(out.value, s.Mantissa[i]),
				append(out.clash, s.Conflict[i])
		}
	}
}

func invented(t *rapid.T) *flat {
	out := &flat{}
	names := []string{"a", "b", "", "a long name", "ü"}
	rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
	for range rapid.IntRange(1, 8).Draw(t, "series") {
		s := reading.Series{Sensor: rapid.SampledFrom(names).Draw(t, "sensor"),
			Channel: rapid.SampledFrom(names).Draw(t, "channel")}
		wide := rapid.SampledFrom([]uint{0, 1, 4, 8, 9, 20, 33, 56, 58, 62}).Draw(t, "width")
		at := int64(0)
		for range rapid.SampledFrom([]int{1, 20, 300, 300, 3000}).Draw(t, "rows") {
			at += int64(rng.Uint64() >> 1 % (1 << wide))
			out.series, out.time = append(out.series, s), append(out.time, at)
			out.value, out.clash = append(out.value, int64(rng.Uint64()>>1%(1<<wide))-1), append(out.clash, rng.IntN(20) == 0)
		}
	}
	return out
}

func (f *flat) write(t *rapid.T, codec Codec) []byte {
	var buf bytes.Buffer
	w := NewReadings(&buf, codec, 9)
	for i, s := range f.series {
		if err := w.Add(s, f.time[i:i+1], f.value[i:i+1], f.clash[i:i+1]); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

// foreign writes the same readings by the library, in row groups, pages and
// encodings of its own.
func (f *flat) foreign(t *rapid.T) []byte {
	pages := rapid.SampledFrom([]parquet.DataPageVersion{parquet.DataPageV1, parquet.DataPageV2}).Draw(t, "pages")
	numbers := rapid.SampledFrom([]parquet.Encoding{parquet.Encodings.Plain, parquet.Encodings.DeltaBinaryPacked}).Draw(t,
		"numbers")
	dict := rapid.Bool().Draw(t, "dictionary")
	props := parquet.NewWriterProperties(
		parquet.WithDataPageVersion(pages), parquet.WithCompression(rapid.SampledFrom([]compress.Compression{compress.Codecs.Uncompressed, compress.Codecs.Snappy, compress.Codecs.Gzip, compress.Codecs.Zstd}).Draw(t, "codec")),
		parquet.WithDictionaryDefault(false), parquet.WithDictionaryFor("sensor", dict),
		parquet.WithDictionaryFor("channel", dict),
		parquet.WithEncodingFor("time", numbers), parquet.WithEncodingFor("value", numbers),
		parquet.WithDataPageSize(rapid.SampledFrom([]int64{1000, 1 << 20}).Draw(t, "page size")), parquet.WithBatchSize(64),
	)
	var buf bytes.Buffer
	fw := file.NewParquetWriter(&buf, readingsSchema(9), file.WithWriterProps(props))
	for lo := 0; lo < len(f.series); {
		hi := min(len(f.series), lo+rapid.SampledFrom([]int{50, 700, 1 << 20}).Draw(t, "row group"))
		rg := fw.AppendRowGroup()
		for col := range colConflict + 1 {
			cw, err := rg.NextColumn()
			if err != nil {
				t.Fatal(err)
			}
			switch cw := cw.(type) {
			case *file.ByteArrayColumnChunkWriter:
				var names []parquet.ByteArray
				for _, s := range f.series[lo:hi] {
					names = append(names, byteArray([]string{s.Sensor, s.Channel}[col]))
				}
				_, err = cw.WriteBatch(names, nil, nil)
			case *file.Int64ColumnChunkWriter:
				_, err = cw.WriteBatch([][]int64{f.time[lo:hi], f.value[lo:hi]}[col-colTime], nil, nil)
			case *file.BooleanColumnChunkWriter:
				_, err = cw.WriteBatch(f.clash[lo:hi], nil, nil)
			}
			if err == nil {
				err = cw.Close()
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		if err := rg.Close(); err != nil {
			t.Fatal(err)
		}
		lo = hi
	}
	if err := fw.Close(); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

// byLibrary reads a whole file by the library.
func byLibrary(path string) (*flat, error) {
	r, f, err := open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	out := &flat{}
	for g := range r.NumRowGroups() {
		rg := r.RowGroup(g)
		n := rg.NumRows()
		names := [2][]parquet.ByteArray{make([]parquet.ByteArray, n), make([]parquet.ByteArray, n)}
		numbers := [2][]int64{make([]int64, n), make([]int64, n)}
		clash := make([]bool, n)
		for col := range colConflict + 1 {
			cr, err := rg.Column(col)
			if err == nil {
				switch cr := cr.(type) {
				case *file.ByteArrayColumnChunkReader:
					_, err = fill(cr.ReadBatch, names[col], nil)
				case *file.Int64ColumnChunkReader:
					_, err = fill(cr.ReadBatch, numbers[col-colTime], nil)
				case *file.BooleanColumnChunkReader:
					_, err = fill(cr.ReadBatch, clash, nil)
				}
			}
			if err != nil {
				return nil, err
			}
		}
		for i := range names[0] {
			out.series = append(out.series, reading.Series{Sensor: string(names[0][i]), Channel: string(names[1][i])})
		}
		out.time, out.value, out.clash = append(out.time, numbers[0]...), append(out.value, numbers[1]...),
			append(out.clash, clash...)
	}
	return out, nil
}

// Whoever wrote a file, the cursor and the library read the same from it, be all
// wanted or not.
func TestCursorByTheLibrary(t *testing.T) {
	path := filepath.Join(t.TempDir(), "r.parquet")
	rapid.Check(t, func(t *rapid.T) {
		f := invented(t)
		var raw []byte
		if rapid.Bool().Draw(t, "foreign") {
			raw = f.foreign(t)
		} else {
			raw = f.write(t, Codec(rapid.IntRange(0, 1).Draw(t, "codec")))
		}
		if err := os.WriteFile(path, raw, 0o644); err != nil {
			t.Fatal(err)
		}
		theirs, err := byLibrary(path)
		if err != nil {
			t.Fatal(err)
		}
		unwanted := rapid.SampledFrom([]string{"a", "b", "ü", "nobody"}).Draw(t, "unwanted")
		want := func(s reading.Series) bool { return s.Sensor != unwanted }
		if got, err := collect(path, nil); err != nil || !got.equal(theirs) || !got.equal(f) {
			t.Fatalf("all: %v", err)
		}
		if got, err := collect(path, want); err != nil || !got.equal(theirs.only(want)) {
			t.Fatalf("without %q: %v", unwanted, err)
		}
	})
}

// A damaged file gives readings or an error, never a panic.
func TestDamagedFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "r.parquet")
	rapid.Check(t, func(t *rapid.T) {
		f := invented(t)
		raw := f.write(t, Codec(rapid.IntRange(0, 1).Draw(t, "codec")))
		for range rapid.IntRange(1, 4).Draw(t, "flips") {
			raw[rapid.IntRange(0, len(raw)-1).Draw(t, "at")] ^= 1 << rapid.IntRange(0, 7).Draw(t, "bit")
		}
		raw = raw[:len(raw)-rapid.SampledFrom([]int{0, 0, 0, 1, len(raw) / 2}).Draw(t, "cut")]
		if err := os.WriteFile(path, raw, 0o644); err != nil {
			t.Fatal(err)
		}
		if got, err := collect(path, nil); err == nil && len(got.time) > 10*len(f.time)+1000 {
			t.Fatalf("%d readings of %d", len(got.time), len(f.time))
		}
	})
}
