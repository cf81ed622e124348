package parq

import (
	"encoding/binary"
	"io"
	"slices"
	"sync"

	"github.com/apache/arrow/go/v15/arrow/memory"
	"github.com/apache/arrow/go/v15/parquet"
	"github.com/apache/arrow/go/v15/parquet/compress"
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
		schema.MustPrimitive(schema.NewPrimitiveNodeLogical("time", required,
			schema.NewTimestampLogicalType(true, schema.TimeUnitMicros), parquet.Types.Int64, 0, -1)),
		schema.MustPrimitive(schema.NewPrimitiveNodeLogical("value", required,
			schema.NewDecimalLogicalType(Precision, int32(scale)), parquet.Types.Int64, 0, -1)),
		schema.MustPrimitive(schema.NewPrimitiveNode("conflict", required, parquet.Types.Boolean, -1, -1)),
	}, -1))
}

// Readings writes a file of readings, all of one scale. They come sorted by
// sensor, channel, time and value. The pages are encoded here, the headers and
// the footer are the Parquet library's. A row group is encoded while the next
// one is filled.
type Readings struct {
	sink   *telling
	props  *parquet.WriterProperties
	codec  Codec
	footer *metadata.FileMetaDataBuilder
	groups int16
	err    error

	rows int64
	*room
	waiting []*room // being encoded, in order
}

// atOnce is how many row groups of a file are encoded while another is filled.
// The scales of a partition have files of their own, so that one each is enough.
const atOnce = 1

// room is a row group: the readings that fill it, packed as they come, and its
// pages. It goes from file to file, since fresh memory is dear.
type room struct {
	runs    []run
	time    packer
	value   packer
	clash   []bool // as far as there is one, false beyond
	pages   [colConflict + 1]page
	encoded chan struct{}
}

var rooms = sync.Pool{New: func() any {
	r := &room{encoded: make(chan struct{}, 1)}
	r.empty()
	return r
}}

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
		parquet.WithCompressionFor("sensor", compress.Codecs.Snappy),
		parquet.WithCompressionFor("channel", compress.Codecs.Snappy),
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
		n := min(len(time), RowGroup-w.time.n)
		if conflict != nil {
			w.clash = append(w.noClash(w.time.n), conflict[:n]...)
			conflict = conflict[n:]
		}
		w.time.add(time[:n])
		w.value.add(mantissa[:n])
		if k := len(w.runs); k > 0 && w.runs[k-1].series == s {
			w.runs[k-1].n += n
		} else {
			w.runs = append(w.runs, run{s, n})
		}
		w.rows += int64(n)
		time, mantissa = time[n:], mantissa[n:]
		if w.time.n == RowGroup {
			w.err = w.flush()
		}
	}
	return w.err
}

// Close writes what is left and the footer. It is called once, also after an
// error, and nothing but Rows after it.
func (w *Readings) Close() (err error) {
	defer recoverInto(&err)
	if w.err == nil {
		w.err = w.flush()
	}
	for len(w.waiting) > 0 {
		if err := w.write(); w.err == nil {
			w.err = err
		}
	}
	w.room.leave()
	w.room = nil
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

// leave gives a room up.
func (r *room) leave() {
	r.empty()
	rooms.Put(r)
}

func (r *room) empty() {
	r.runs, r.clash = r.runs[:0], r.clash[:0]
	r.time.reset()
	r.value.reset()
}

// noClash gives the flags of the first n readings, where there were none yet.
func (r *room) noClash(n int) []bool {
	k := len(r.clash)
	r.clash = slices.Grow(r.clash, n-k)[:n]
	clear(r.clash[k:])
	return r.clash
}

// flush has the row group encoded and goes on in another room.
func (w *Readings) flush() error {
	if w.time.n == 0 {
		return nil
	}
	full := w.room
	w.room = rooms.Get().(*room)
	w.waiting = append(w.waiting, full)
	go func() {
		full.encode(w.codec)
		full.encoded <- struct{}{}
	}()
	if len(w.waiting) > atOnce {
		return w.write()
	}
	return nil
}

// write writes the row group that has waited longest.
func (w *Readings) write() (err error) {
	r := w.waiting[0]
	w.waiting = w.waiting[1:]
	<-r.encoded
	defer r.leave()
	if w.err != nil {
		return nil // it is known
	}
	defer recoverInto(&err)
	group := w.footer.AppendRowGroup()
	group.SetNumRows(r.time.n)
	size := int64(0)
	for i := range r.pages {
		n, err := w.column(i, &r.pages[i], r.time.n, group.NextColumnChunk())
		if err != nil {
			return err
		}
		size += n
	}
	w.groups++
	return group.Finish(size, w.groups-1)
}

// column writes one column chunk of one page, and gives its size uncompressed.
func (w *Readings) column(i int, p *page, rows int, meta *metadata.ColumnChunkMetaDataBuilder) (int64, error) {
	path := meta.Descr().Path()
	pager, err := file.NewPageWriter(w.sink, w.props.CompressionFor(path), w.props.CompressionLevelFor(path), meta,
		w.groups, int16(i), memory.DefaultAllocator, false, nil, nil)
	if err != nil {
		return 0, err
	}
	if p.names > 0 {
		if _, err := pager.WriteDictionaryPage(file.NewDictionaryPage(memory.NewBufferBytes(p.dict), int32(p.names),
			parquet.Encodings.Plain)); err != nil {
			return 0, err
		}
	}
	data := file.NewDataPageV1(memory.NewBufferBytes(p.packed), int32(rows), p.encoding, parquet.Encodings.RLE,
		parquet.Encodings.RLE, int32(len(p.plain)))
	if _, err := pager.WriteDataPage(data); err != nil {
		return 0, err
	}
	meta.SetStats(p.stats)
	if err := pager.Close(p.names > 0, false); err != nil {
		return 0, err
	}
	return meta.Contents().MetaData.GetTotalUncompressedSize(), nil
}
