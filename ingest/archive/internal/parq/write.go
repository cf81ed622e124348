package parq

import (
	"fmt"
	"io"
	"slices"
	"unsafe"

	"github.com/apache/arrow/go/v15/parquet"
	"github.com/apache/arrow/go/v15/parquet/compress"
	"github.com/apache/arrow/go/v15/parquet/file"
	"github.com/apache/arrow/go/v15/parquet/schema"
)

// Codec is how pages are compressed.
type Codec uint8

// Snappy costs least to write; Zstd takes the least room.
const (
	Snappy Codec = iota
	Zstd
)

func (c Codec) compression() compress.Compression {
	if c == Zstd {
		return compress.Codecs.Zstd
	}
	return compress.Codecs.Snappy
}

// properties are the settings common to all files. The dictionary limit is far
// above what a row group can hold: where the library gives a dictionary up
// half-way it goes on with an encoder of the wrong type.
func properties(codec Codec, more ...parquet.WriterProperty) *parquet.WriterProperties {
	return parquet.NewWriterProperties(append([]parquet.WriterProperty{
		parquet.WithCreatedBy(CreatedBy),
		parquet.WithVersion(parquet.V2_LATEST),
		parquet.WithDataPageVersion(parquet.DataPageV1),
		parquet.WithCompression(codec.compression()),
		parquet.WithDictionaryDefault(false),
		parquet.WithDictionaryPageSizeLimit(1 << 40),
		parquet.WithDataPageSize(8 << 20),
		parquet.WithBatchSize(RowGroup),
		parquet.WithMaxRowGroupLength(RowGroup),
		parquet.WithStats(true),
	}, more...)...)
}

func node(c *Column) (schema.Node, error) {
	rep := parquet.Repetitions.Required
	if c.nullable() {
		rep = parquet.Repetitions.Optional
	}
	switch c.Type {
	case Int64:
		return schema.NewPrimitiveNodeLogical(c.Name, rep, schema.NewIntLogicalType(64, true), parquet.Types.Int64, 0, -1)
	case Int32:
		return schema.NewPrimitiveNodeLogical(c.Name, rep, schema.NewIntLogicalType(32, true), parquet.Types.Int32, 0, -1)
	case Date:
		return schema.NewPrimitiveNodeLogical(c.Name, rep, schema.DateLogicalType{}, parquet.Types.Int32, 0, -1)
	case Timestamp:
		return schema.NewPrimitiveNodeLogical(c.Name, rep, schema.NewTimestampLogicalType(true, schema.TimeUnitMicros),
			parquet.Types.Int64, 0, -1)
	case Float64:
		return schema.NewPrimitiveNode(c.Name, rep, parquet.Types.Double, -1, -1)
	case String:
		return schema.NewPrimitiveNodeLogical(c.Name, rep, schema.StringLogicalType{}, parquet.Types.ByteArray, 0, -1)
	case Bool:
		return schema.NewPrimitiveNode(c.Name, rep, parquet.Types.Boolean, -1, -1)
	}
	return nil, fmt.Errorf("column %s has the unknown type %d", c.Name, c.Type)
}

// tablePage is the size of a page of a table, bytes: small, so that a
// TableCursor on each of many parts holds little.
const tablePage = 32 << 10

// WriteTable writes the columns as one Parquet file. It refuses columns of
// unequal length and floats that are not finite.
func WriteTable(w io.Writer, codec Codec, cols []Column) (err error) {
	if len(cols) == 0 {
		return fmt.Errorf("a table without columns")
	}
	rows := cols[0].Len()
	var nodes schema.FieldList
	props := []parquet.WriterProperty{parquet.WithDataPageSize(tablePage), parquet.WithBatchSize(tablePage / 8)}
	for i := range cols {
		if err := cols[i].check(rows); err != nil {
			return err
		}
		n, err := node(&cols[i])
		if err != nil {
			return err
		}
		nodes = append(nodes, n)
		switch cols[i].Type {
		case String:
			props = append(props, parquet.WithDictionaryFor(cols[i].Name, true))
		case Int64, Int32, Date, Timestamp:
			if slices.Contains(cols[i].Valid, false) {
				continue // the library's delta encoder fails on a page without values
			}
			props = append(props, parquet.WithEncodingFor(cols[i].Name, parquet.Encodings.DeltaBinaryPacked))
		}
	}
	root, err := schema.NewGroupNode("table", parquet.Repetitions.Required, nodes, -1)
	if err != nil {
		return err
	}
	fw := file.NewParquetWriter(w, root, file.WithWriterProps(properties(codec, props...)))
	defer recoverInto(&err)
	for lo := 0; lo < rows; lo += RowGroup {
		hi := min(lo+RowGroup, rows)
		rg := fw.AppendRowGroup()
		for i := range cols {
			cw, err := rg.NextColumn()
			if err != nil {
				return err
			}
			if err := writeColumn(cw, &cols[i], lo, hi); err != nil {
				return fmt.Errorf("column %s: %w", cols[i].Name, err)
			}
			if err := cw.Close(); err != nil {
				return err
			}
		}
		if err := rg.Close(); err != nil {
			return err
		}
	}
	return fw.Close()
}

// recoverInto turns a panic of the Parquet library, which is how it reports
// some write errors, into an error.
func recoverInto(err *error) {
	switch r := recover().(type) {
	case nil:
	case error:
		*err = fmt.Errorf("write parquet: %w", r)
	default:
		*err = fmt.Errorf("write parquet: %v", r)
	}
}

// writeColumn writes rows lo to hi-1. The library takes the values that are
// there, and beside them a level for each row: 1 present, 0 null.
func writeColumn(cw file.ColumnChunkWriter, c *Column, lo, hi int) (err error) {
	var levels []int16
	if c.nullable() {
		levels = make([]int16, hi-lo)
		for i := range levels {
			if !c.isNull(lo + i) {
				levels[i] = 1
			}
		}
	}
	switch cw := cw.(type) {
	case *file.Int64ColumnChunkWriter:
		_, err = cw.WriteBatch(pick(c, c.Int[lo:hi], lo, func(v int64) int64 { return v }), levels, nil)
	case *file.Int32ColumnChunkWriter:
		_, err = cw.WriteBatch(pick(c, c.Int[lo:hi], lo, func(v int64) int32 { return int32(v) }), levels, nil)
	case *file.Float64ColumnChunkWriter:
		_, err = cw.WriteBatch(pick(c, c.Float[lo:hi], lo, func(v float64) float64 { return v }), levels, nil)
	case *file.ByteArrayColumnChunkWriter:
		_, err = cw.WriteBatch(pick(c, c.Text[lo:hi], lo, byteArray), levels, nil)
	case *file.BooleanColumnChunkWriter:
		_, err = cw.WriteBatch(pick(c, c.Flag[lo:hi], lo, func(v bool) bool { return v }), levels, nil)
	}
	return err
}

// pick gives the values that are not null.
func pick[A, B any](c *Column, in []A, lo int, to func(A) B) []B {
	out := make([]B, 0, len(in))
	for i, v := range in {
		if !c.isNull(lo + i) {
			out = append(out, to(v))
		}
	}
	return out
}

func byteArray(s string) parquet.ByteArray {
	return unsafe.Slice(unsafe.StringData(s), len(s))
}
