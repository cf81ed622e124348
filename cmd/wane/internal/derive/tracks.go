package derive

import (
	"cmp"
	"errors"
	"slices"
	"sort"
	"time"

	"wane/ingest/archive"
	"wane/ingest/reading"
	"wane/transform/daily"
	"wane/transform/fleet"
	"wane/transform/parallel"
)

// tracks holds the readings of some days, a part of the archive at a time: a
// local month and its run-in lie in the parts of two or three UTC months.
type tracks struct {
	archive *archive.Archive
	wanted  wanted
	reg     *fleet.Register // for its decisions
	parts   []*partSeries   // in order of time
}

// wanted is the series that are read.
type wanted map[reading.Series]wish

// wish is how long before the first day a series can count, microseconds, and
// its place among those wanted.
type wish struct {
	before int64
	place  int
}

// add wants a series so long before a day, or as long as it was wanted already.
func (w wanted) add(s reading.Series, before int64) {
	had, ok := w[s]
	if !ok {
		had.place = len(w)
	}
	w[s] = wish{max(had.before, before), had.place}
}

// reach is how far back readings are needed: the run-in's start and the first
// day's, microseconds UTC.
type reach struct{ since, from int64 }

// floor is from when on a series is needed that counts so long before a day.
func (r reach) floor(before int64) int64 { return max(r.since, r.from-before) }

func newTracks(a *archive.Archive, reg *fleet.Register, wanted wanted) *tracks {
	return &tracks{archive: a, wanted: wanted, reg: reg}
}

// load makes readable what days from the moment from up to the moment to depend
// on, with a run-in since the moment since, and forgets what lies farther back.
func (t *tracks) load(since, from, to time.Time) error {
	back := reach{since.UnixMicro(), from.UnixMicro()}
	parts := readingsIn(t.archive, since, to)
	t.parts = slices.DeleteFunc(t.parts, func(h *partSeries) bool {
		return h.since > back.since || h.from > back.from || h.part.Last.Before(since)
	})
	for _, h := range t.parts { // before more is read, so that two months are never held
		h.forget(back)
	}
	parts = slices.DeleteFunc(parts, func(p archive.Part) bool {
		return slices.ContainsFunc(t.parts, func(h *partSeries) bool { return p.Path == h.part.Path })
	})
	slices.SortStableFunc(parts, func(a, b archive.Part) int {
		return cmp.Compare(b.Rows, a.Rows)
	}) // the longest first, to end together
	read := make([]*partSeries, len(parts))
	errs := make([]error, len(parts))
	parallel.For(len(parts), func(i int) { read[i], errs[i] = t.read(parts[i], back) })
	t.parts = append(t.parts, read...)
	slices.SortFunc(t.parts, func(a, b *partSeries) int { return cmp.Compare(a.part.Path, b.part.Path) })
	return errors.Join(errs...)
}

// readingsIn gives the parts of readings with something in [since, to).
func readingsIn(a *archive.Archive, since, to time.Time) []archive.Part {
	return slices.DeleteFunc(a.Parts(archive.Readings), func(p archive.Part) bool {
		return p.Last.Before(since) ||
			!p.First.Before(to)
	})
}

// span appends a series' readings in [from, to), times factor, to the track, and
// gives the moments of those in conflict. A series has one scale in a partition,
// so that the parts that it lies in follow each other in time.
func (t *tracks) span(into *daily.Track, s reading.Series, from, to int64, factor float64) (conflicts []int64) {
	wish, ok := t.wanted[s]
	if !ok {
		return nil
	}
	for _, p := range t.parts {
		if p.part.First.UnixMicro() >= to || p.part.Last.UnixMicro() < from {
			continue
		}
		in := p.series[wish.place]
		if in == nil {
			continue
		}
		lo, hi := in.within(from, to)
		in.appendTo(into, lo, hi, factor)
		lo, hi = between(in.conflicts, from, to)
		conflicts = append(conflicts, in.conflicts[lo:hi]...)
	}
	return conflicts
}

// between gives the indices of the times in [from, to).
func between(t []int64, from, to int64) (lo, hi int) {
	lo = sort.Search(len(t), func(i int) bool { return t[i] >= from })
	hi = sort.Search(len(t), func(i int) bool { return t[i] >= to })
	return lo, hi
}
