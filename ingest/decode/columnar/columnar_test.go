package columnar

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/apache/arrow/go/v15/parquet"
	"github.com/apache/arrow/go/v15/parquet/compress"
	"github.com/apache/arrow/go/v15/parquet/file"
	"github.com/apache/arrow/go/v15/parquet/schema"

	"wane/ingest/decode/emit"
	"wane/ingest/decode/unwrap"
	"wane/ingest/reading"
	"wane/ingest/source"
)

type list struct {
	readings []string
	rejects  []string
}

func (l *list) Readings(b *reading.Batch) error {
	for i := range b.Len() {
		l.readings = append(l.readings, fmt.Sprintf("%s %d %d/%d @%d", b.Series[b.Of[i]], b.Time[i], b.Value[i].Mantissa,
			b.Value[i].Digits, b.Line[i]))
	}
	return nil
}

func (l *list) Reject(r reading.Reject) error {
	l.rejects = append(l.rejects, fmt.Sprintf("%d %s %s", r.Line, r.Column, r.Code))
	return nil
}

func decode(t testing.TB, data []byte) (*list, error) {
	t.Helper()
	d, err := source.Load([]byte("name: x\nfiles: '*'\nformat: parquet\n"), "x")
	if err != nil {
		t.Fatal(err)
	}
	l := &list{}
	r := bytes.NewReader(data)
	return l, Decode(context.Background(), "x.parquet", r, bufio.NewReader(bytes.NewReader(data)), unwrap.Default, d,
		emit.New(l, time.Time{}))
}

// columnOf writes one column of a test file.
type columnOf struct {
	name    string
	typ     parquet.Type
	logical schema.LogicalType
	write   func(file.ColumnChunkWriter) error
}

func write(t testing.TB, groups int, props []parquet.WriterProperty, cols ...columnOf) []byte {
	t.Helper()
	var fields schema.FieldList
	for _, c := range cols {
		if c.logical != nil {
			fields = append(fields, schema.Must(schema.NewPrimitiveNodeLogical(c.name, parquet.Repetitions.Optional, c.logical,
				c.typ, 0, -1)))
		} else {
			fields = append(fields, schema.Must(schema.NewPrimitiveNode(c.name, parquet.Repetitions.Optional, c.typ, -1, -1)))
		}
	}
	var b bytes.Buffer
	w := file.NewParquetWriter(&b, schema.Must(schema.NewGroupNode("schema", parquet.Repetitions.Required, fields,
		-1)).(*schema.GroupNode), file.WithWriterProps(parquet.NewWriterProperties(props...)))
	for range groups {
		rg := w.AppendRowGroup()
		for _, c := range cols {
			cw, err := rg.NextColumn()
			if err == nil {
				err = c.write(cw)
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
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func levels(n int) []int16 {
	l := make([]int16, n)
	for i := range l {
		l[i] = 1
	}
	return l
}

func int64s(v ...int64) func(file.ColumnChunkWriter) error {
	return func(c file.ColumnChunkWriter) error {
		_, err := c.(*file.Int64ColumnChunkWriter).WriteBatch(v, levels(len(v)), nil)
		return err
	}
}

func texts(v ...string) func(file.ColumnChunkWriter) error {
	return func(c file.ColumnChunkWriter) error {
		b := make([]parquet.ByteArray, len(v))
		for i := range v {
			b[i] = parquet.ByteArray(v[i])
		}
		_, err := c.(*file.ByteArrayColumnChunkWriter).WriteBatch(b, levels(len(v)), nil)
		return err
	}
}

func doubles(v ...float64) func(file.ColumnChunkWriter) error {
	return func(c file.ColumnChunkWriter) error {
		_, err := c.(*file.Float64ColumnChunkWriter).WriteBatch(v, levels(len(v)), nil)
		return err
	}
}

var utf8 = schema.StringLogicalType{}

func stampCol(u schema.TimeUnitType, v ...int64) columnOf {
	return columnOf{"time", parquet.Types.Int64, schema.NewTimestampLogicalType(true, u), int64s(v...)}
}

func sample(t testing.TB, n int) []byte {
	times, sensors, channels, values := make([]int64, n), make([]string, n), make([]string, n), make([]float64, n)
	for i := range n {
		times[i], sensors[i], channels[i], values[i] = 1768298400_000000+int64(i)*1e6, fmt.Sprintf("q%d", i%7), "ppfd",
			800+float64(i%100)/4
	}
	return write(t, 2, []parquet.WriterProperty{parquet.WithCompression(compress.Codecs.Zstd),
		parquet.WithDataPageSize(4096)},
		stampCol(schema.TimeUnitMicros, times...), columnOf{"sensor", parquet.Types.ByteArray, utf8, texts(sensors...)},
		columnOf{"channel", parquet.Types.ByteArray, utf8, texts(channels...)},
		columnOf{"extra", parquet.Types.Int64, nil, int64s(times...)},
		columnOf{"value", parquet.Types.Double, nil, doubles(values...)})
}

// TestManyPages reads two row groups of many pages, more rows than one piece.
func TestManyPages(t *testing.T) {
	const n = 20000
	l, err := decode(t, sample(t, n))
	if err != nil || len(l.readings) != 2*n || len(l.rejects) > 0 {
		t.Fatal(len(l.readings), l.rejects, err)
	}
	for k, line := range l.readings {
		i := k % n
		v, _ := reading.Of(800 + float64(i%100)/4)
		if want := fmt.Sprintf("q%d/ppfd %d %d/%d @%d", i%7, 1768298400_000000+int64(i)*1e6, v.Mantissa, v.Digits,
			k+1); line != want {
			t.Fatalf("row %d: %s, want %s", k+1, line, want)
		}
	}
}

func TestTypes(t *testing.T) {
	s := columnOf{"sensor", parquet.Types.ByteArray, utf8, texts("q", "q")}
	c := columnOf{"channel", parquet.Types.ByteArray, utf8, texts("c", "c")}
	v := columnOf{"value", parquet.Types.Double, nil, doubles(0.1, 812.5)}
	dec := columnOf{"value", parquet.Types.Int64, schema.NewDecimalLogicalType(10, 2), int64s(81250, -7)}
	for name, f := range map[string]struct {
		cols []columnOf
		want string // readings, or the error's text
	}{
		"nanoseconds": {[]columnOf{stampCol(schema.TimeUnitNanos, 1768298400_000000999, 1768298401_000000000), s, c, v},
			"q/c 1768298400000000 1/1 @1; q/c 1768298401000000 8125/1 @2"},
		"milliseconds": {[]columnOf{stampCol(schema.TimeUnitMillis, 1768298400_001, 1768298401_000), s, c, dec},
			"q/c 1768298400001000 81250/2 @1; q/c 1768298401000000 -7/2 @2"},
		"text": {[]columnOf{{"time", parquet.Types.ByteArray, utf8, texts("2026-01-13T10:00:00Z", "soon")}, s, c, v},
			"q/c 1768298400000000 1/1 @1; 2 time bad-time"},
		"local": {[]columnOf{{"time", parquet.Types.Int64,
			schema.NewTimestampLogicalType(false, schema.TimeUnitMicros), int64s(1, 2)}, s, c, v}, "local time without zone"},
		"number": {[]columnOf{{"time", parquet.Types.Int64, nil, int64s(1, 2)}, s, c, v},
			"neither a timestamp nor text"},
		"no value": {[]columnOf{stampCol(schema.TimeUnitMicros, 1, 2), s, c}, `no column "value"`},
		"text value": {[]columnOf{stampCol(schema.TimeUnitMicros, 1, 2), s, c,
			{"value", parquet.Types.ByteArray, utf8, texts("1", "2")}}, "the column value is not a number"},
		"unsigned": {[]columnOf{stampCol(schema.TimeUnitMicros, 1768298400000000, 1768298401000000), s, c,
			{"value", parquet.Types.Int64, schema.NewIntLogicalType(64, false), int64s(7, -1)}},
			"q/c 1768298400000000 7/0 @1; 2 value "},
		"huge times": {[]columnOf{stampCol(schema.TimeUnitMillis, 1<<62, -1<<62), s, c, v},
			"1 time bad-time; 2 time bad-time"},
	} {
		l, err := decode(t, write(t, 1, nil, f.cols...))
		got := strings.Join(append(l.readings, l.rejects...), "; ")
		if err != nil {
			got = err.Error()
		}
		if !strings.Contains(got, f.want) {
			t.Errorf("%s: %s, want %s", name, got, f.want)
		}
	}
}

// TestDamage flips, cuts and zeroes bytes all over a file: never a panic, never
// an error of another kind.
func TestDamage(t *testing.T) {
	good := sample(t, 60)
	var fe *emit.FileError
	try := func(data []byte, what string) {
		if _, err := decode(t, data); err != nil && !errors.As(err, &fe) {
			t.Fatalf("%s: %v", what, err)
		}
	}
	for i := 0; i < len(good); i += 5 {
		bad := bytes.Clone(good)
		bad[i] ^= 0x55
		try(bad, fmt.Sprintf("byte %d flipped", i))
	}
	for i := 4; i < len(good); i += 41 {
		try(good[:i], fmt.Sprintf("cut at %d", i))
	}
}

func FuzzDecode(f *testing.F) {
	f.Add(sample(f, 3))
	f.Fuzz(func(t *testing.T, data []byte) {
		var fe *emit.FileError
		if _, err := decode(t, data); err != nil && !errors.As(err, &fe) {
			t.Fatal(err)
		}
	})
}
