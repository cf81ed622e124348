package parq

import (
	"fmt"
	"io"

	"github.com/apache/arrow/go/v15/arrow"
	"github.com/apache/arrow/go/v15/arrow/array"
	"github.com/apache/arrow/go/v15/arrow/memory"
	"github.com/apache/arrow/go/v15/parquet"
	"github.com/apache/arrow/go/v15/parquet/file"
	"github.com/apache/arrow/go/v15/parquet/metadata"
	"github.com/apache/arrow/go/v15/parquet/schema"

	"wane/ingest/reading"
)

// Precision is the number of digits that a value may have in all.
const Precision = 18

// The columns of a readings file, in order.
const (
	colSensor = iota
	colChannel
	colTime
	colValue
	colConflict
)

func readingsSchema(scale int) *schema.GroupNode {
	required := parquet.Repetitions.Required
	str := schema.StringLogicalType{}
	return schema.MustGroup(schema.NewGroupNode("reading", required, schema.FieldList{
		schema.MustPrimitive(schema.NewPrimitiveNodeLogical("sensor", required, str, parquet.Types.ByteArray, 0, -1)),
		schema.MustPrimitive(schema.NewPrimitiveNodeLogical("channel", required, str, parquet.Types.ByteArray, 0, -1)),
		schema.MustPrimitive(schema.NewPrimitiveNodeLogical("time", required, schema.NewTimestampLogicalType(true, schema.TimeUnitMicros), parquet.Types.Int64, 0, -1)),
		schema.MustPrimitive(schema.NewPrimitiveNodeLogical("value", required, schema.NewDecimalLogicalType(Precision, int32(scale)), parquet.Types.Int64, 0, -1)),
		schema.MustPrimitive(schema.NewPrimitiveNode("conflict", required, parquet.Types.Boolean, -1, -1)),
	}, -1))
}

// Readings writes a file of readings, all of one scale. They come sorted by
// sensor, channel, time and value.
type Readings struct {
	fw    *file.Writer
	rows  int64
	runs  []run
	time  []int64
	value []int64
	clash []bool
	index []int32 // scratch
}

// run is a stretch of one series in the row group being filled.
type run struct {
	series reading.Series
	n      int
}

// NewReadings starts a file whose values have scale decimals.
func NewReadings(w io.Writer, codec Codec, scale int) *Readings {
	props := properties(codec,
		parquet.WithDictionaryFor("sensor", true), parquet.WithDictionaryFor("channel", true),
		parquet.WithEncodingFor("time", parquet.Encodings.DeltaBinaryPacked),
		parquet.WithEncodingFor("value", parquet.Encodings.DeltaBinaryPacked),
	)
	return &Readings{fw: file.NewParquetWriter(w, readingsSchema(scale), file.WithWriterProps(props))}
}

// Rows is the number of readings added.
func (w *Readings) Rows() int64 { return w.rows }

// Add appends readings of one series. The value of a reading is its mantissa
// over ten to the power of the scale. conflict may be nil: none.
func (w *Readings) Add(s reading.Series, time, mantissa []int64, conflict []bool) error {
	for len(time) > 0 {
		n := min(len(time), RowGroup-len(w.time))
		w.time = append(w.time, time[:n]...)
		w.value = append(w.value, mantissa[:n]...)
		if conflict != nil {
			w.clash = append(w.clash, conflict[:n]...)
			conflict = conflict[n:]
		} else {
			w.clash = append(w.clash, make([]bool, n)...)
		}
		if k := len(w.runs); k > 0 && w.runs[k-1].series == s {
			w.runs[k-1].n += n
		} else {
			w.runs = append(w.runs, run{s, n})
		}
		w.rows += int64(n)
		time, mantissa = time[n:], mantissa[n:]
		if len(w.time) == RowGroup {
			if err := w.flush(); err != nil {
				return err
			}
		}
	}
	return nil
}

// Close writes what is left and the footer.
func (w *Readings) Close() (err error) {
	defer recoverInto(&err)
	if err := w.flush(); err != nil {
		return err
	}
	return w.fw.Close()
}

func (w *Readings) flush() (err error) {
	if len(w.time) == 0 {
		return nil
	}
	defer recoverInto(&err)
	rg := w.fw.AppendRowGroup()
	for i := range colConflict + 1 {
		cw, err := rg.NextColumn()
		if err != nil {
			return err
		}
		switch i {
		case colSensor:
			err = w.writeNames(cw.(*file.ByteArrayColumnChunkWriter), func(s reading.Series) string { return s.Sensor })
		case colChannel:
			err = w.writeNames(cw.(*file.ByteArrayColumnChunkWriter), func(s reading.Series) string { return s.Channel })
		case colTime:
			_, err = cw.(*file.Int64ColumnChunkWriter).WriteBatch(w.time, nil, nil)
		case colValue:
			_, err = cw.(*file.Int64ColumnChunkWriter).WriteBatch(w.value, nil, nil)
		case colConflict:
			_, err = cw.(*file.BooleanColumnChunkWriter).WriteBatch(w.clash, nil, nil)
		}
		if err != nil {
			return err
		}
		if err := cw.Close(); err != nil {
			return err
		}
	}
	w.runs, w.time, w.value, w.clash = w.runs[:0], w.time[:0], w.value[:0], w.clash[:0]
	return rg.Close()
}

// writeNames writes a column that is constant over each run: it hands the
// library the dictionary and the index of every row, which spares it a look-up
// a row, and the statistics, which it does not keep on this path.
func (w *Readings) writeNames(cw *file.ByteArrayColumnChunkWriter, name func(reading.Series) string) error {
	var names []string
	at := map[string]int32{}
	w.index = w.index[:0]
	for _, r := range w.runs {
		s := name(r.series)
		i, ok := at[s]
		if !ok {
			i = int32(len(names))
			at[s] = i
			names = append(names, s)
		}
		for range r.n {
			w.index = append(w.index, i)
		}
	}
	build := array.NewStringBuilder(memory.DefaultAllocator)
	defer build.Release()
	bounds := make([]parquet.ByteArray, len(names))
	for i, s := range names {
		build.Append(s)
		bounds[i] = byteArray(s)
	}
	dict := build.NewStringArray()
	defer dict.Release()
	enc, ok := cw.CurrentEncoder().(interface{ PutDictionary(arrow.Array) error })
	if !ok {
		return fmt.Errorf("the parquet library has no dictionary for names")
	}
	if err := enc.PutDictionary(dict); err != nil {
		return err
	}
	if st, ok := cw.PageStatistics().(*metadata.ByteArrayStatistics); ok {
		st.Update(bounds, 0)
	}
	data := array.NewData(arrow.PrimitiveTypes.Int32, len(w.index),
		[]*memory.Buffer{nil, memory.NewBufferBytes(arrow.Int32Traits.CastToBytes(w.index))}, nil, 0, 0)
	defer data.Release()
	idx := array.NewInt32Data(data)
	defer idx.Release()
	return cw.WriteDictIndices(idx, nil, nil)
}
