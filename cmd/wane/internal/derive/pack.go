package derive

import (
	"encoding/binary"
	"fmt"
	"math"
	"slices"
	"sync"

	"github.com/klauspost/compress/zstd"

	"wane/transform/daily"
)

// packedRows is the days of one fixture, as hours and levels are made from them,
// in a tenth of the memory: the series of ten thousand fixtures over five years
// are gigabytes, and are wanted for one fixture at a time.
type packedRows struct {
	n       int
	sensors []string
	data    []byte
}

var (
	packer, _   = zstd.NewWriter(nil, zstd.WithEncoderLevel(zstd.SpeedFastest), zstd.WithEncoderConcurrency(1))
	unpacker, _ = zstd.NewReader(nil, zstd.WithDecoderConcurrency(0))
)

// packRooms is memory for the days of one fixture at a time.
var packRooms = sync.Pool{New: func() any { return new([]byte) }}

// packedNumbers are the columns that are packed, in their order.
var packedNumbers = [...]func(*DailyRow) *float64{
	func(r *DailyRow) *float64 { return &r.Hours }, func(r *DailyRow) *float64 { return &r.PPFD }, func(r *DailyRow) *float64 { return &r.Spread },
	func(r *DailyRow) *float64 { return &r.DimPct }, func(r *DailyRow) *float64 { return &r.SupplyV }, func(r *DailyRow) *float64 { return &r.AmbientC },
	func(r *DailyRow) *float64 { return &r.LitH }, func(r *DailyRow) *float64 { return &r.EdgeH }, func(r *DailyRow) *float64 { return &r.GapH },
	func(r *DailyRow) *float64 { return &r.Counter.First }, func(r *DailyRow) *float64 { return &r.Counter.Last },
}

// pack packs the rows of one fixture.
func pack(rows []DailyRow) *packedRows {
	p := &packedRows{n: len(rows)}
	var buf []byte
	at := map[string]uint64{}
	for i := range rows {
		r := &rows[i]
		k, ok := at[r.Sensor]
		if !ok {
			k = uint64(len(p.sensors))
			at[r.Sensor] = k
			p.sensors = append(p.sensors, r.Sensor)
		}
		buf = binary.AppendUvarint(buf, k)
	}
	before := int64(0)
	for i := range rows {
		r := &rows[i]
		buf = binary.AppendVarint(buf, int64(r.Day.Day)-before)
		before = int64(r.Day.Day)
		buf = binary.AppendUvarint(binary.AppendUvarint(buf, uint64(r.Readings)), uint64(r.Usable))
		buf = binary.AppendVarint(binary.AppendVarint(buf, r.Counter.FirstAt), r.Counter.LastAt)
	}
	for _, of := range packedNumbers {
		for i := range rows {
			buf = binary.LittleEndian.AppendUint64(buf, math.Float64bits(*of(&rows[i])))
		}
	}
	room := packRooms.Get().(*[]byte)
	*room = packer.EncodeAll(buf, (*room)[:0])
	p.data = slices.Clone(*room) // no longer than it need be
	packRooms.Put(room)
	return p
}

// rows unpacks them; what is not packed is not known.
func (p *packedRows) rows(fixture string) []DailyRow {
	buf, err := unpacker.DecodeAll(p.data, nil)
	if err != nil {
		panic(fmt.Sprintf("packed days of %s: %v", fixture, err)) // they never left this process's memory
	}
	out := make([]DailyRow, p.n)
	unsigned := func() uint64 {
		v, n := binary.Uvarint(buf)
		buf = buf[n:]
		return v
	}
	signed := func() int64 {
		v, n := binary.Varint(buf)
		buf = buf[n:]
		return v
	}
	for i := range out {
		out[i].Fixture, out[i].Sensor = fixture, p.sensors[unsigned()]
	}
	day := int64(0)
	for i := range out {
		r := &out[i]
		day += signed()
		r.Day = daily.Day{Day: int32(day), PowerW: math.NaN(), CurrentA: math.NaN()}
		r.Readings, r.Usable = int(unsigned()), int(unsigned())
		r.Counter.FirstAt, r.Counter.LastAt = signed(), signed()
	}
	for _, of := range packedNumbers {
		for i := range out {
			*of(&out[i]) = math.Float64frombits(binary.LittleEndian.Uint64(buf))
			buf = buf[8:]
		}
	}
	return out
}
