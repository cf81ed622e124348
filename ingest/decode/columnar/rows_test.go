package columnar

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"io"
	"math"
	"strings"
	"testing"

	"github.com/apache/arrow/go/v15/parquet"
	"github.com/apache/arrow/go/v15/parquet/file"
	"github.com/apache/arrow/go/v15/parquet/schema"
	"github.com/google/go-cmp/cmp"

	"wane/ingest/decode/emit"
	"wane/ingest/decode/unwrap"
	"wane/ingest/source"
)

// cellsOf gives the rows of a file as text.
func cellsOf(data []byte, d *source.Description) (names, rows []string, err error) {
	r, err := NewRows(context.Background(), "x.parquet", bytes.NewReader(data), bufio.NewReader(bytes.NewReader(data)),
		unwrap.Default, d)
	if err != nil {
		return nil, nil, err
	}
	defer r.Close()
	for {
		cells, err := r.Next()
		if err == io.EOF {
			return r.Names(), rows, nil
		}
		if err != nil {
			return r.Names(), rows, err
		}
		rows = append(rows, strings.Join(cells, "|"))
	}
}

func TestOwnColumnsAsCells(t *testing.T) {
	ts := func(utc bool, u schema.TimeUnitType) schema.LogicalType {
		return schema.NewTimestampLogicalType(utc, u)
	}
	data := write(t, 1, nil,
		columnOf{"utc s", parquet.Types.Int64, ts(true, schema.TimeUnitMillis), int64s(1768298400000, math.MaxInt64, -1)},
		columnOf{"local us", parquet.Types.Int64, ts(false, schema.TimeUnitMicros),
			int64s(1768298400000000, 1768298400250000, -1)},
		columnOf{"utc ns", parquet.Types.Int64, ts(true, schema.TimeUnitNanos),
			int64s(1768298400000000001, math.MaxInt64, math.MinInt64)},
		columnOf{"day", parquet.Types.Int32, schema.DateLogicalType{}, int32s(20466, -1, math.MaxInt32)},
		columnOf{"plain", parquet.Types.Int64, nil, int64s(1768298400, math.MinInt64, 0)},
		columnOf{"unsigned", parquet.Types.Int64, schema.NewIntLogicalType(64, false), int64s(1, -1, 0)},
		columnOf{"money", parquet.Types.Int64, schema.NewDecimalLogicalType(18, 3), int64s(1234567, -5, 0)},
		columnOf{"float", parquet.Types.Float, nil, floats(813.1, float32(math.NaN()), 0.1)},
		columnOf{"double", parquet.Types.Double, nil, doubles(math.NaN(), math.Inf(1), 1e-7)},
		columnOf{"on", parquet.Types.Boolean, nil, bools(true, false, true)},
		columnOf{"text", parquet.Types.ByteArray, utf8, texts("a,b", "", "\xff")},
	)
	names, rows, err := cellsOf(data, nil)
	if err != nil {
		t.Fatal(err)
	}
	want := []string{
		"2026-01-13T10:00:00Z|2026-01-13 10:00:00|2026-01-13T10:00:00.000000001Z|2026-01-13|1768298400|1|1234.567|813.1||true|a,b",
		"9223372036854775807|2026-01-13 10:00:00.25|2262-04-11T23:47:16.854775807Z|1969-12-31|-9223372036854775808|18446744073709551615|-0.005||+Inf|false|",
		"1969-12-31T23:59:59.999Z|1969-12-31 23:59:59.999999|1677-09-21T00:12:43.145224192Z|185542587100800|0|0|0.000|0.1|1e-07|true|\xff",
	}
	if diff := cmp.Diff(want, rows); diff != "" || len(names) != 11 {
		t.Error(names, diff)
	}
}

// TestOnlyNamedColumnsAreRead: a wide file costs what is read of it.
func TestOnlyNamedColumnsAreRead(t *testing.T) {
	d, err := source.Load([]byte("name: x\nfiles: '*'\nformat: parquet\nsensor: s\ntime: {columns: [at], format: epoch-s}\ncolumns: [{match: '^v(.)$', channel: '{1}'}]\n"), "x")
	if err != nil {
		t.Fatal(err)
	}
	data := write(t, 2, nil, columnOf{"at", parquet.Types.Int64, nil, int64s(1, 2)},
		columnOf{"other", parquet.Types.Int64, nil, int64s(3, 4)}, columnOf{"va", parquet.Types.Int64, nil, int64s(5, 6)})
	_, rows, err := cellsOf(data, d)
	if diff := cmp.Diff([]string{"1||5", "2||6", "1||5", "2||6"}, rows); diff != "" || err != nil {
		t.Error(diff, err)
	}
}

func TestOldTimestampsSayNoZone(t *testing.T) {
	node := schema.Must(schema.NewPrimitiveNodeConverted("at", parquet.Repetitions.Required, parquet.Types.Int64,
		schema.ConvertedTypes.TimestampMillis, 0, 0, 0, -1))
	w := writer(schema.NewColumn(node.(*schema.PrimitiveNode), 0, 0))
	if got := w(&column{int64s: []int64{1768298400000}}, 0); got != "2026-01-13 10:00:00" {
		t.Errorf("%s: writers of old put local times there too, so that the zone is to be asked", got)
	}
}

func FuzzRows(f *testing.F) {
	f.Add(sample(f, 3))
	f.Fuzz(func(t *testing.T, data []byte) {
		var fe *emit.FileError
		if _, _, err := cellsOf(data, nil); err != nil && !errors.As(err, &fe) {
			t.Fatal(err)
		}
	})
}

func int32s(v ...int32) func(file.ColumnChunkWriter) error {
	return func(c file.ColumnChunkWriter) error {
		_, err := c.(*file.Int32ColumnChunkWriter).WriteBatch(v, levels(len(v)), nil)
		return err
	}
}

func floats(v ...float32) func(file.ColumnChunkWriter) error {
	return func(c file.ColumnChunkWriter) error {
		_, err := c.(*file.Float32ColumnChunkWriter).WriteBatch(v, levels(len(v)), nil)
		return err
	}
}

func bools(v ...bool) func(file.ColumnChunkWriter) error {
	return func(c file.ColumnChunkWriter) error {
		_, err := c.(*file.BooleanColumnChunkWriter).WriteBatch(v, levels(len(v)), nil)
		return err
	}
}
