package parq

import (
	"encoding/binary"
	"fmt"
	"slices"
	"strings"
	"sync"

	"github.com/apache/arrow/go/v15/parquet"
	"github.com/apache/arrow/go/v15/parquet/metadata"
	"github.com/golang/snappy"
	"github.com/klauspost/compress/zstd"

	"wane/ingest/reading"
)

// page is the one page of a column chunk.
type page struct {
	encoding      parquet.Encoding
	plain, packed []byte // before and after compression
	dict          []byte // names, encoded plain
	names         int    // how many; 0: the column has no dictionary
	stats         metadata.EncodedStatistics
}

// encode makes the pages of a row group whose numbers are packed.
func (r *room) encode(codec Codec) {
	for i := range r.pages {
		p := &r.pages[i]
		p.plain, p.dict, p.names = p.plain[:0], p.dict[:0], 0
		p.encoding = parquet.Encodings.DeltaBinaryPacked
		p.stats = metadata.EncodedStatistics{Signed: i == colTime || i == colValue, HasNullCount: true}
		switch i {
		case colSensor:
			p.series(r.runs, func(s reading.Series) string { return s.Sensor })
		case colChannel:
			p.series(r.runs, func(s reading.Series) string { return s.Channel })
		case colTime:
			p.numbers(&r.time)
		case colValue:
			p.numbers(&r.value)
		case colConflict:
			p.flags(r.clash, r.time.n)
		}
		if p.names > 0 {
			p.packed = Snappy.append(p.packed[:0], p.plain)
		} else {
			p.packed = codec.append(p.packed[:0], p.plain)
		}
	}
}

// flags encodes the flags of n rows; those beyond v are false.
func (p *page) flags(v []bool, n int) {
	p.encoding = parquet.Encodings.Plain
	p.plain = appendBits(p.plain, v)
	k, whole := len(p.plain), (n+7)/8
	p.plain = slices.Grow(p.plain, whole-k)[:whole]
	clear(p.plain[k:])
	p.stats.HasMin, p.stats.Min = true, flag(len(v) == n && !slices.Contains(v, false))
	p.stats.HasMax, p.stats.Max = true, flag(slices.Contains(v, true))
}

// series makes the dictionary of a column that is constant over each run, and
// encodes its indices.
func (p *page) series(runs []run, name func(reading.Series) string) {
	p.encoding = parquet.Encodings.RLEDict
	at := map[string]uint32{}
	index, length := make([]uint32, len(runs)), make([]int, len(runs))
	least, greatest := name(runs[0].series), name(runs[0].series)
	for i, r := range runs {
		s := name(r.series)
		x, ok := at[s]
		if !ok {
			x = uint32(len(at))
			at[s] = x
			p.dict = binary.LittleEndian.AppendUint32(p.dict, uint32(len(s)))
			p.dict = append(p.dict, s...)
			if strings.Compare(s, least) < 0 {
				least = s
			}
			if strings.Compare(s, greatest) > 0 {
				greatest = s
			}
		}
		index[i], length[i] = x, r.n
	}
	p.names = len(at)
	p.plain = appendRuns(p.plain, index, length, p.names)
	p.stats.HasMin, p.stats.Min, p.stats.HasMax, p.stats.Max = true, []byte(least), true, []byte(greatest)
}

// numbers takes what was packed as it came.
func (p *page) numbers(v *packer) {
	p.plain = v.finish()
	p.stats.HasMin, p.stats.Min = true, binary.LittleEndian.AppendUint64(nil, uint64(v.least))
	p.stats.HasMax, p.stats.Max = true, binary.LittleEndian.AppendUint64(nil, uint64(v.greatest))
}

func flag(b bool) []byte {
	if b {
		return []byte{1}
	}
	return []byte{0}
}

var encoders = sync.Pool{New: func() any {
	e, err := zstd.NewWriter(nil, zstd.WithEncoderConcurrency(1), zstd.WithEncoderLevel(zstd.SpeedDefault),
		zstd.WithEncoderCRC(false))
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
	room := snappyRooms.Get().(*[]byte)
	defer snappyRooms.Put(room)
	*room = slices.Grow((*room)[:0], snappy.MaxEncodedLen(len(src)))
	packed := snappy.Encode((*room)[:cap(*room)], src)
	return append(dst, packed...)
}

// snappyRooms hold the longest that a page could become, which is more than it
// takes to keep.
var snappyRooms = sync.Pool{New: func() any { return new([]byte) }}
