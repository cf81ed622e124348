package derive

import (
	"crypto/sha256"
	"encoding/binary"
	"math/bits"
	"sort"
	"time"

	"wane/ingest/archive"
	"wane/ingest/reading"
)

// digest stands for a set of readings: how many, and the sum of a hash of each.
// It depends neither on their order nor on how they lie in parts, and two sets'
// digests add up to that of both.
type digest struct {
	readings int64
	sum      uint64
}

func (d digest) plus(e digest) digest { return digest{d.readings + e.readings, d.sum + e.sum} }

// digester sums up the readings of a part by their local day.
type digester struct {
	first int32   // day
	ends  []int64 // of the days, microseconds
	unit  int64   // of a mantissa, in the last decimal that is kept
	days  []digest
}

func newDigester(p archive.Part, loc *time.Location) *digester {
	first, last := DayOf(p.First, loc), DayOf(p.Last, loc)
	g := &digester{first: first, days: make([]digest, last-first+1), unit: 1}
	for d := first; d <= last; d++ {
		g.ends = append(g.ends, Start(d+1, loc).UnixMicro())
	}
	for range reading.MaxDigits - p.Scale {
		g.unit *= 10
	}
	return g
}

func (g *digester) add(r *archive.Run) {
	series := hashOf(r.Series)
	for lo := 0; lo < len(r.Time); {
		k := sort.Search(len(g.ends)-1, func(i int) bool { return g.ends[i] > r.Time[lo] })
		hi := len(r.Time)
		if k < len(g.ends)-1 {
			hi = lo + sort.Search(hi-lo, func(i int) bool { return r.Time[lo+i] >= g.ends[k] })
		}
		sum, clash := uint64(0), r.Conflict[lo:hi]
		for i, at := range r.Time[lo:hi] {
			sum += mix(series, at, r.Mantissa[lo+i]*g.unit, clash[i])
		}
		g.days[k] = g.days[k].plus(digest{int64(hi - lo), sum})
		lo = hi
	}
}

// rows gives the days on which the part has readings.
func (g *digester) rows(p archive.Part) (out []partDay) {
	for i, d := range g.days {
		if d.readings > 0 {
			out = append(out, partDay{p.SHA256, g.first + int32(i), d})
		}
	}
	return out
}

func hashOf(s reading.Series) uint64 {
	h := sha256.Sum256([]byte(s.Sensor + "\x00" + s.Channel))
	return binary.BigEndian.Uint64(h[:])
}

// mix hashes a reading: the factors of a product of 128 bits hold the moment and
// the value, and its halves are folded into one, twice, as in wyhash (Wang Yi
// 2019). A product alone would not do: the sum over three readings a minute
// apart hardly changes when the middle one rises twice as far as the others fall.
func mix(series uint64, at, value int64, conflict bool) uint64 {
	x := series ^ uint64(at)
	if conflict {
		x = ^x
	}
	return fold(fold(x, uint64(value)^0xa0761d6478bd642f)^series, 0xe7037ed1a0b428db)
}

func fold(x, y uint64) uint64 {
	hi, lo := bits.Mul64(x, y)
	return hi ^ lo
}
