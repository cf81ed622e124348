package derive

import (
	"math"
	"slices"
	"sort"
	"time"

	"wane/ingest/archive"
	"wane/ingest/reading"
	"wane/transform/calendar"
	"wane/transform/daily"
	"wane/transform/fleet"
)

// partSeries is what has been read of a part of the readings: the series wanted,
// so far back.
type partSeries struct {
	part   archive.Part
	series []*series // by place among those wanted; nil: none
	reach
}

// series is one channel's readings in a part: raw values with conflicting
// readings taken out unless somebody decided which holds, and the moments of
// those that nobody decided about.
type series struct {
	name   reading.Series
	before int64 // a day it counts so long
	compact
	conflicts []int64
	rivals    daily.Track // while the part is read: all readings in conflict
}

// read reads a part: what the wanted series have of it since as far back as they
// are needed.
func (t *tracks) read(p archive.Part, back reach) (*partSeries, error) {
	out := &partSeries{part: p, series: make([]*series, len(t.wanted)), reach: back}
	last := p.Last.UnixMicro()
	want := func(s reading.Series) bool {
		wish, ok := t.wanted[s]
		return ok && last >= back.floor(wish.before)
	}
	base := calendar.Start(calendar.DayOf(p.First, time.UTC), time.UTC).UnixMicro()
	var memory room
	var seconds []int32 // of the series before
	err := t.archive.ReadWanted(p, want, func(r *archive.Run) error {
		wish := t.wanted[r.Series]
		lo, floor := 0, back.floor(wish.before)
		if r.Time[0] < floor {
			lo, _ = between(r.Time, floor, math.MaxInt64)
		}
		if lo == len(r.Time) {
			return nil
		}
		s := out.series[wish.place]
		if s == nil {
			at := r.Time[lo:]
			n := len(at) + r.More
			s = &series{name: r.Series, before: wish.before, compact: compact{base: base, mant: memory.take(n),
				scale: -1}}
			out.series[wish.place] = s
			if r.More == 0 && !slices.Contains(r.Conflict[lo:], true) {
				if sec := sameEnd(base, at, seconds); sec != nil && s.alike(sec, r.Mantissa[lo:], r.Scale) {
					return nil
				}
			}
			s.sec = memory.take(n)
		}
		s.read(r, lo)
		seconds = s.sec
		return nil
	})
	for _, s := range out.series {
		if s != nil {
			s.settle(t.reg)
		}
	}
	return out, err
}

// read adds the readings of a run from the one at lo on.
func (s *series) read(r *archive.Run, lo int) {
	at, mantissa, conflict := r.Time[lo:], r.Mantissa[lo:], r.Conflict[lo:]
	if !slices.Contains(conflict, true) {
		s.extend(at, mantissa, r.Scale)
		return
	}
	for i, at := range at {
		if conflict[i] {
			s.rivals.Time = append(s.rivals.Time, at)
			s.rivals.Value = append(s.rivals.Value, reading.Value{Mantissa: mantissa[i],
				Digits: uint8(r.Scale)}.Float())
			continue
		}
		s.add(at, mantissa[i], r.Scale)
	}
}

// settle puts every value that somebody decided for among the readings, and
// notes the moments of what is still in conflict, once a reading.
func (s *series) settle(reg *fleet.Register) {
	at := s.rivals.Time
	if len(at) == 0 {
		return
	}
	sort.Sort(byTime{s.rivals})
	for lo, hi := 0, 0; lo < len(at); lo = hi {
		for hi = lo; hi < len(at) && at[hi] == at[lo]; hi++ {
		}
		values := s.rivals.Value[lo:hi]
		sort.Float64s(values)
		v, kept, settled := reg.Decide(s.name.Sensor, s.name.Channel, time.UnixMicro(at[lo]), values)
		if kept {
			s.put(at[lo], v)
		}
		if !settled {
			s.conflicts = append(s.conflicts, at[lo:hi]...)
		}
	}
	s.rivals = daily.Track{}
	s.sort()
}

type byTime struct{ daily.Track }

func (b byTime) Less(i, j int) bool { return b.Time[i] < b.Time[j] }
func (b byTime) Swap(i, j int) {
	b.Time[i], b.Time[j] = b.Time[j], b.Time[i]
	b.Value[i], b.Value[j] = b.Value[j], b.Value[i]
}

// forget drops what lies farther back.
func (h *partSeries) forget(back reach) {
	if h.reach == back {
		return
	}
	h.reach = back
	var memory room
	for _, s := range h.series {
		if s != nil {
			floor := back.floor(s.before)
			s.forget(floor, &memory)
			lo, _ := between(s.conflicts, floor, math.MaxInt64)
			s.conflicts = s.conflicts[lo:]
		}
	}
}

// room gives slices out of long ones, since a day has many short series.
type room struct{ free []int32 }

const roomSize = 1 << 16

// take gives an empty slice with room for n.
func (r *room) take(n int) []int32 {
	if n > roomSize/16 {
		return make([]int32, 0, n)
	}
	if len(r.free) < n {
		r.free = make([]int32, roomSize)
	}
	out := r.free[:0:n]
	r.free = r.free[n:]
	return out
}
