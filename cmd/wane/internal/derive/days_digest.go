package derive

import (
	"crypto/sha256"
	"encoding/binary"
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

// digestPart gives the digest of each day at loc on which the part has readings.
func digestPart(a *archive.Archive, p archive.Part, loc *time.Location) (map[int32]digest, error) {
	first, last := DayOf(p.First, loc), DayOf(p.Last, loc)
	ends := make([]int64, 0, last-first+1)
	for d := first; d <= last; d++ {
		ends = append(ends, Start(d+1, loc).UnixMicro())
	}
	unit := int64(1) // of a mantissa, in the last decimal that is kept
	for range reading.MaxDigits - p.Scale {
		unit *= 10
	}
	days := make([]digest, len(ends))
	err := a.ReadReadings(p, func(r *archive.Run) error {
		series := hashOf(r.Series)
		for lo := 0; lo < len(r.Time); {
			k := sort.Search(len(ends)-1, func(i int) bool { return ends[i] > r.Time[lo] })
			sum, hi := uint64(0), lo
			for ; hi < len(r.Time) && (r.Time[hi] < ends[k] || k == len(ends)-1); hi++ {
				sum += mix(series, r.Time[hi], r.Mantissa[hi]*unit, r.Conflict[hi])
			}
			days[k] = days[k].plus(digest{int64(hi - lo), sum})
			lo = hi
		}
		return nil
	})
	out := map[int32]digest{}
	for i, d := range days {
		if d.readings > 0 {
			out[first+int32(i)] = d
		}
	}
	return out, err
}

func hashOf(s reading.Series) uint64 {
	h := sha256.Sum256([]byte(s.Sensor + "\x00" + s.Channel))
	return binary.BigEndian.Uint64(h[:])
}

// mix hashes a reading: two rounds of SplitMix64 (Steele, Lea and Flood 2014).
func mix(series uint64, at, value int64, conflict bool) uint64 {
	x := finish(series + uint64(at)*0x9e3779b97f4a7c15)
	if conflict {
		x = ^x
	}
	return finish(x + uint64(value)*0x9e3779b97f4a7c15)
}

func finish(x uint64) uint64 {
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}
