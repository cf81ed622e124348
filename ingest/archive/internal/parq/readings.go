package parq

import (
	"encoding/binary"
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"

	"github.com/apache/arrow/go/v15/arrow/memory"
	"github.com/apache/arrow/go/v15/parquet"
	"github.com/apache/arrow/go/v15/parquet/compress"
	"github.com/apache/arrow/go/v15/parquet/file"
	"github.com/apache/arrow/go/v15/parquet/metadata"
	"github.com/apache/arrow/go/v15/parquet/schema"
	"github.com/golang/snappy"
	"github.com/klauspost/compress/zstd"

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
// sensor, channel, time and value. The pages are encoded here, the headers and
// the footer are the Parquet library's.
type Readings struct {
	sink   *telling
	props  *parquet.WriterProperties
	codec  Codec
	footer *metadata.FileMetaDataBuilder
	groups int16
	err    error

	rows int64
	*room
}

// room is the row group being filled, and scratch: a page before and after
// compression. It goes from file to file, since fresh memory is dear.
type room struct {
	runs          []run
	time          []int64
	value         []int64
	clash         []bool
	plain, packed []byte
}

var rooms = sync.Pool{New: func() any { return new(room) }}

// run is a stretch of one series in the row group being filled.
type run struct {
	series reading.Series
	n      int
}

// telling is a writer that knows how far it is.
type telling struct {
	w io.Writer
	n int64
}

func (t *telling) Write(p []byte) (int, error) {
	n, err := t.w.Write(p)
	t.n += int64(n)
	return n, err
}

func (t *telling) Tell() int64 { return t.n }

var magic = []byte("PAR1")

// NewReadings starts a file whose values have scale decimals.
func NewReadings(w io.Writer, codec Codec, scale int) *Readings {
	props := properties(codec,
		parquet.WithDictionaryFor("sensor", true), parquet.WithDictionaryFor("channel", true),
		// A dictionary page is compressed by the library, which makes a new
		// Zstandard encoder for each; names take no room worth it.
		parquet.WithCompressionFor("sensor", compress.Codecs.Snappy), parquet.WithCompressionFor("channel", compress.Codecs.Snappy),
		parquet.WithEncodingFor("time", parquet.Encodings.DeltaBinaryPacked),
		parquet.WithEncodingFor("value", parquet.Encodings.DeltaBinaryPacked),
	)
	r := &Readings{sink: &telling{w: w}, props: props, codec: codec, room: rooms.Get().(*room)}
	r.footer = metadata.NewFileMetadataBuilder(schema.NewSchema(readingsSchema(scale)), props, nil)
	_, r.err = r.sink.Write(magic)
	return r
}

// Rows is the number of readings added.
func (w *Readings) Rows() int64 { return w.rows }

// Add appends readings of one series. The value of a reading is its mantissa
// over ten to the power of the scale. conflict may be nil: none.
func (w *Readings) Add(s reading.Series, time, mantissa []int64, conflict []bool) error {
	for len(time) > 0 && w.err == nil {
		n := min(len(time), RowGroup-len(w.time))
		w.time = append(w.time, time[:n]...)
		w.value = append(w.value, mantissa[:n]...)
		if conflict != nil {
			w.clash = append(w.clash, conflict[:n]...)
			conflict = conflict[n:]
		} else {
			k := len(w.clash)
			w.clash = slices.Grow(w.clash, n)[:k+n]
			clear(w.clash[k:])
		}
		if k := len(w.runs); k > 0 && w.runs[k-1].series == s {
			w.runs[k-1].n += n
		} else {
			w.runs = append(w.runs, run{s, n})
		}
		w.rows += int64(n)
		time, mantissa = time[n:], mantissa[n:]
		if len(w.time) == RowGroup {
			w.err = w.flush()
		}
	}
	return w.err
}

// Close writes what is left and the footer. It is called once, also after an
// error, and nothing but Rows after it.
func (w *Readings) Close() (err error) {
	defer recoverInto(&err)
	defer func() {
		r := w.room
		w.room = nil
		r.runs, r.time, r.value, r.clash = r.runs[:0], r.time[:0], r.value[:0], r.clash[:0]
		rooms.Put(r)
	}()
	if w.err == nil {
		w.err = w.flush()
	}
	if w.err != nil {
		return w.err
	}
	m, err := w.footer.Finish()
	if err != nil {
		return err
	}
	before := w.sink.Tell()
	if _, err := m.WriteTo(w.sink, nil); err != nil {
		return err
	}
	tail := binary.LittleEndian.AppendUint32(nil, uint32(w.sink.Tell()-before))
	_, err = w.sink.Write(append(tail, magic...))
	return err
}

// flush writes a row group.
func (w *Readings) flush() (err error) {
	if len(w.time) == 0 {
		return nil
	}
	defer recoverInto(&err)
	group := w.footer.AppendRowGroup()
	group.SetNumRows(len(w.time))
	size := int64(0)
	for i := range colConflict + 1 {
		n, err := w.column(i, group.NextColumnChunk())
		if err != nil {
			return err
		}
		size += n
	}
	w.runs, w.time, w.value, w.clash = w.runs[:0], w.time[:0], w.value[:0], w.clash[:0]
	w.groups++
	return group.Finish(size, w.groups-1)
}

// column writes one column chunk of one page, and gives its size uncompressed.
func (w *Readings) column(i int, meta *metadata.ColumnChunkMetaDataBuilder) (int64, error) {
	path := meta.Descr().Path()
	pager, err := file.NewPageWriter(w.sink, w.props.CompressionFor(path), w.props.CompressionLevelFor(path), meta, w.groups, int16(i), memory.DefaultAllocator, false, nil, nil)
	if err != nil {
		return 0, err
	}
	stats := metadata.EncodedStatistics{Signed: i == colTime || i == colValue, HasNullCount: true}
	encoding, dictionary, codec := parquet.Encodings.DeltaBinaryPacked, false, w.codec
	w.plain = w.plain[:0]
	switch i {
	case colSensor, colChannel:
		encoding, dictionary, codec = parquet.Encodings.RLEDict, true, Snappy
		err = w.names(pager, &stats, func(s reading.Series) string {
			if i == colSensor {
				return s.Sensor
			}
			return s.Channel
		})
	case colTime:
		w.plain = appendDelta(w.plain, w.time)
		bounds(&stats, w.time)
	case colValue:
		w.plain = appendDelta(w.plain, w.value)
		bounds(&stats, w.value)
	case colConflict:
		encoding = parquet.Encodings.Plain
		w.plain = appendBits(w.plain, w.clash)
		stats.HasMin, stats.Min = true, flag(!slices.Contains(w.clash, false))
		stats.HasMax, stats.Max = true, flag(slices.Contains(w.clash, true))
	}
	if err != nil {
		return 0, err
	}
	w.packed = codec.append(w.packed[:0], w.plain)
	page := file.NewDataPageV1(memory.NewBufferBytes(w.packed), int32(len(w.time)), encoding, parquet.Encodings.RLE, parquet.Encodings.RLE, int32(len(w.plain)))
	if _, err := pager.WriteDataPage(page); err != nil {
		return 0, err
	}
	meta.SetStats(stats)
	if err := pager.Close(dictionary, false); err != nil {
		return 0, err
	}
	return meta.Contents().MetaData.GetTotalUncompressedSize(), nil
}

// names writes the dictionary of a column that is constant over each run, and
// encodes its indices.
func (w *Readings) names(pager file.PageWriter, stats *metadata.EncodedStatistics, name func(reading.Series) string) error {
	var dict []byte
	at := map[string]uint32{}
	index, length := make([]uint32, len(w.runs)), make([]int, len(w.runs))
	least, greatest := name(w.runs[0].series), name(w.runs[0].series)
	for i, r := range w.runs {
		s := name(r.series)
		x, ok := at[s]
		if !ok {
			x = uint32(len(at))
			at[s] = x
			dict = binary.LittleEndian.AppendUint32(dict, uint32(len(s)))
			dict = append(dict, s...)
			if strings.Compare(s, least) < 0 {
				least = s
			}
			if strings.Compare(s, greatest) > 0 {
				greatest = s
			}
		}
		index[i], length[i] = x, r.n
	}
	w.plain = appendRuns(w.plain, index, length, len(at))
	stats.HasMin, stats.Min, stats.HasMax, stats.Max = true, []byte(least), true, []byte(greatest)
	_, err := pager.WriteDictionaryPage(file.NewDictionaryPage(memory.NewBufferBytes(dict), int32(len(at)), parquet.Encodings.Plain))
	return err
}

func bounds(stats *metadata.EncodedStatistics, v []int64) {
	least, greatest := v[0], v[0]
	for _, x := range v {
		if x < least {
			least = x
		}
		if x > greatest {
			greatest = x
		}
	}
	stats.HasMin, stats.Min = true, binary.LittleEndian.AppendUint64(nil, uint64(least))
	stats.HasMax, stats.Max = true, binary.LittleEndian.AppendUint64(nil, uint64(greatest))
}

func flag(b bool) []byte {
	if b {
		return []byte{1}
	}
	return []byte{0}
}

var encoders = sync.Pool{New: func() any {
	e, err := zstd.NewWriter(nil, zstd.WithEncoderConcurrency(1), zstd.WithEncoderLevel(zstd.SpeedDefault), zstd.WithEncoderCRC(false))
	if err != nil {
		panic(fmt.Sprintf("zstd with fixed options: %v", err))
	}
	return e
}}

// append compresses src.
func (c Codec) append(dst, src []byte) []byte {
	if c == Zstd {
		e := encoders.Get().(*zstd.Encoder)
		defer encoders.Put(e)
		return e.EncodeAll(src, dst)
	}
	return snappy.Encode(dst[:cap(dst)], src)
}
