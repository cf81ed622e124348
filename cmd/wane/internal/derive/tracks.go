package derive

import (
	"cmp"
	"errors"
	"maps"
	"math"
	"slices"
	"sort"
	"time"

	"wane/ingest/archive"
	"wane/ingest/reading"
	"wane/transform/daily"
	"wane/transform/fleet"
)

// series is one channel's readings over some UTC months: raw values with
// conflicting readings taken out unless somebody decided which holds, and the
// moments of those that nobody decided about.
type series struct {
	compact
	conflicts []int64
	rivals    daily.Track // while the month is read: all readings in conflict
}

// tracks reads the archive a UTC month at a time and keeps the last few, since
// a local month and its run-in touch two or three.
type tracks struct {
	archive *archive.Archive
	wanted  wanted
	reg     *fleet.Register // for its decisions
	months  map[month]*loaded
	usual   int // readings of the longest series of the month read last
}

// wanted is how long before the first day each series can count, microseconds.
type wanted map[reading.Series]int64

// reach is how far back readings are needed: the run-in's start and the first
// day's, microseconds UTC.
type reach struct{ since, from int64 }

// floor is from when on a series is needed that counts so long before a day.
func (r reach) floor(before int64) int64 { return max(r.since, r.from-before) }

// loaded is what has been read of a UTC month: these parts, so far back.
type loaded struct {
	series map[reading.Series]*series
	parts  []string // paths
	reach
}

// has says whether the parts' readings are there, so far back.
func (l *loaded) has(parts []archive.Part, back reach) bool {
	if l == nil || l.since > back.since || l.from > back.from {
		return false
	}
	for _, p := range parts {
		if !slices.Contains(l.parts, p.Path) {
			return false
		}
	}
	return true
}

func newTracks(a *archive.Archive, reg *fleet.Register, wanted wanted) *tracks {
	return &tracks{archive: a, wanted: wanted, reg: reg, months: map[month]*loaded{}}
}

// load makes readable what days from the moment from up to the moment to depend
// on, with a run-in since the moment since, and forgets what lies in other months
// or farther back.
func (t *tracks) load(since, from, to time.Time) error {
	first, last := monthOf(since.UTC()), monthOf(to.Add(-time.Microsecond).UTC())
	for m := range t.months {
		if m < first || m > last {
			delete(t.months, m)
		}
	}
	back := reach{since.UnixMicro(), from.UnixMicro()}
	for m := first; m <= last; m++ {
		parts := partsOf(t.archive, m, since, to)
		if !t.months[m].has(parts, back) {
			delete(t.months, m)
			in, err := t.read(m, parts, back)
			if err != nil {
				return err
			}
			t.months[m] = in
		}
		if m == first { // before the next month is read, so that two are never held
			t.months[m].forget(back, t.wanted)
		}
	}
	return nil
}

// forget drops what lies farther back.
func (l *loaded) forget(back reach, before wanted) {
	if l.reach == back {
		return
	}
	l.reach = back
	for name, s := range l.series {
		floor := back.floor(before[name])
		s.forget(floor)
		lo, _ := between(s.conflicts, floor, math.MaxInt64)
		s.conflicts = s.conflicts[lo:]
	}
}

// partsOf gives the parts of readings that lie in the UTC month and have
// something from since on and before to.
func partsOf(a *archive.Archive, m month, since, to time.Time) []archive.Part {
	var out []archive.Part
	for _, p := range a.Parts(archive.Readings) {
		if monthOf(p.Last.UTC()) >= m && monthOf(p.First.UTC()) <= m && !p.Last.Before(since) && p.First.Before(to) {
			out = append(out, p)
		}
	}
	return out
}

func (t *tracks) read(m month, parts []archive.Part, back reach) (*loaded, error) {
	in := &loaded{reach: back}
	for _, p := range parts {
		in.parts = append(in.parts, p.Path)
	}
	// A series is in parts of one scale, but for the few whose decimals changed,
	// so that the scales can be read side by side and still in order of time.
	scales := byScale(parts)
	read := make([]map[reading.Series]*series, len(scales))
	errs := make([]error, len(scales))
	each(len(scales), func(i int) { read[i], errs[i] = t.readParts(m, scales[i], back) })
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	out := map[reading.Series]*series{}
	for _, of := range read {
		for name, s := range of {
			if out[name] == nil {
				out[name] = s
			} else {
				out[name].join(s)
			}
		}
	}
	t.usual = 0
	for _, s := range out {
		t.usual = max(t.usual, s.Len())
	}
	for name, s := range out {
		s.settle(name, t.reg)
	}
	for _, s := range out { // parts of different scales interleave
		if !s.sorted() {
			sort.Sort(&s.compact)
		}
		sort.Slice(s.conflicts, func(i, j int) bool { return s.conflicts[i] < s.conflicts[j] })
	}
	in.series = out
	return in, nil
}

// byScale gives the parts of each scale, in the order that they had; the scale
// with most rows first.
func byScale(parts []archive.Part) [][]archive.Part {
	of := map[int][]archive.Part{}
	rows := map[int]int64{}
	for _, p := range parts {
		of[p.Scale] = append(of[p.Scale], p)
		rows[p.Scale] += p.Rows
	}
	out := slices.Collect(maps.Values(of))
	slices.SortFunc(out, func(x, y []archive.Part) int {
		a, b := x[0].Scale, y[0].Scale
		return cmp.Or(cmp.Compare(rows[b], rows[a]), cmp.Compare(a, b))
	})
	return out
}

// readParts reads parts of one scale, each series in order of time.
func (t *tracks) readParts(m month, parts []archive.Part, back reach) (map[reading.Series]*series, error) {
	out := map[reading.Series]*series{}
	for i, p := range parts {
		last := p.Last.UnixMicro()
		want := func(s reading.Series) bool {
			before, ok := t.wanted[s]
			return ok && last >= back.floor(before)
		}
		err := t.archive.ReadWanted(p, want, func(r *archive.Run) error {
			lo, n := between(r.Time, back.floor(t.wanted[r.Series]), math.MaxInt64)
			if lo == n {
				return nil
			}
			s := out[r.Series]
			if s == nil {
				s = &series{compact: newCompact(m.first(time.UTC).UnixMicro(), max((n-lo)*partitions(parts[i:]), t.usual+t.usual/16))}
				out[r.Series] = s
			}
			at, mantissa, conflict := r.Time[lo:], r.Mantissa[lo:], r.Conflict[lo:]
			if !slices.Contains(conflict, true) {
				s.extend(at, mantissa, r.Scale)
				return nil
			}
			for i, at := range at {
				if conflict[i] {
					s.rivals.Time = append(s.rivals.Time, at)
					s.rivals.Value = append(s.rivals.Value, reading.Value{Mantissa: mantissa[i], Digits: uint8(r.Scale)}.Float())
					continue
				}
				s.add(at, mantissa[i], r.Scale)
			}
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}

// join puts what was read of a series in another scale after the rest.
func (s *series) join(o *series) {
	more := o.track(0, o.Len(), 1)
	for i, at := range more.Time {
		s.put(at, more.Value[i])
	}
	s.rivals.Time, s.rivals.Value = append(s.rivals.Time, o.rivals.Time...), append(s.rivals.Value, o.rivals.Value...)
}

// partitions counts the partitions that parts, which are in order, lie in: days
// that a series is likely to have as many readings in as in the first.
func partitions(parts []archive.Part) int {
	n, last := 0, ""
	for _, p := range parts {
		if p.Partition != last {
			n, last = n+1, p.Partition
		}
	}
	return n
}

// settle puts every value that somebody decided for among the readings, and
// notes the moments of what is still in conflict, once a reading.
func (s *series) settle(name reading.Series, reg *fleet.Register) {
	sort.Sort(byTime{s.rivals})
	at := s.rivals.Time
	for lo, hi := 0, 0; lo < len(at); lo = hi {
		for hi = lo; hi < len(at) && at[hi] == at[lo]; hi++ {
		}
		values := s.rivals.Value[lo:hi]
		sort.Float64s(values)
		v, kept, settled := reg.Decide(name.Sensor, name.Channel, time.UnixMicro(at[lo]), values)
		if kept {
			s.put(at[lo], v)
		}
		if !settled {
			s.conflicts = append(s.conflicts, at[lo:hi]...)
		}
	}
	s.rivals = daily.Track{}
}

type byTime struct{ daily.Track }

func (b byTime) Less(i, j int) bool { return b.Time[i] < b.Time[j] }
func (b byTime) Swap(i, j int) {
	b.Time[i], b.Time[j] = b.Time[j], b.Time[i]
	b.Value[i], b.Value[j] = b.Value[j], b.Value[i]
}

// span gives a series' readings in [from, to), times factor, and how many more
// there were in conflict.
func (t *tracks) span(s reading.Series, from, to int64, factor float64) (daily.Track, []int64) {
	var out daily.Track
	var conflicts []int64
	var months []month
	for m := range t.months {
		months = append(months, m)
	}
	sort.Slice(months, func(i, j int) bool { return months[i] < months[j] })
	for _, m := range months {
		in := t.months[m].series[s]
		if in == nil {
			continue
		}
		first, end := in.within(from, to)
		piece := in.track(first, end, factor)
		if out.Time == nil {
			out = piece
		} else {
			out.Time, out.Value = append(out.Time, piece.Time...), append(out.Value, piece.Value...)
		}
		lo, hi := between(in.conflicts, from, to)
		conflicts = append(conflicts, in.conflicts[lo:hi]...)
	}
	return out, conflicts
}

// between gives the indices of the times in [from, to).
func between(t []int64, from, to int64) (lo, hi int) {
	lo = sort.Search(len(t), func(i int) bool { return t[i] >= from })
	hi = sort.Search(len(t), func(i int) bool { return t[i] >= to })
	return lo, hi
}
