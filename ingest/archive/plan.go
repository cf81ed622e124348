package archive

import (
	"cmp"
	"fmt"
	"slices"
)

// work is one partition to be written.
type work struct {
	at     partition
	from   []Part
	pieces []piece
}

// plan sorts the pieces into partitions and tells which stored parts each
// partition takes up. The parts that no partition touches stay as they are.
func (t *Import) plan() (jobs []*work, untouched []Part, err error) {
	latest := int32(-1)
	held := map[partition][]Part{}
	for _, p := range t.old.Parts {
		if p.Table != Readings {
			continue
		}
		at, err := parsePartition(p.Partition)
		if err != nil {
			return nil, nil, fmt.Errorf("%s: %w", p.Path, err)
		}
		held[at] = append(held[at], p)
		latest = max(latest, at.month)
	}
	pieces := t.pieces()
	end := int64(-1)
	for i := range pieces {
		end = max(end, pieces[i].last)
	}
	if end >= 0 {
		latest = max(latest, monthIndex(end))
	}
	by := map[partition]*work{}
	touch := func(at partition) *work {
		if by[at] == nil {
			by[at] = &work{at: at}
			jobs = append(jobs, by[at])
		}
		return by[at]
	}
	var first, last partition
	days := [2]int64{-1, -1} // that first and last were worked out for
	for _, p := range pieces {
		if d := [2]int64{p.first / dayMicros, p.last / dayMicros}; d != days {
			days = d
			first, last = partitionOf(p.first, latest), partitionOf(p.last, latest)
		}
		for at := first; at.day <= last.day; at.day++ {
			w := touch(at)
			w.pieces = append(w.pieces, p)
		}
	}
	for at, ps := range held {
		to := at
		if at.month < latest {
			to.day = 0
		}
		if to != at {
			touch(to)
		}
		if w := by[to]; w != nil {
			w.from = append(w.from, ps...)
		} else {
			untouched = append(untouched, ps...)
		}
	}
	slices.SortFunc(jobs, func(a, b *work) int {
		return cmp.Or(cmp.Compare(a.at.month, b.at.month), cmp.Compare(a.at.day, b.at.day))
	})
	return jobs, untouched, nil
}

// pieces lists what the files hold, by series, then file. Each file's series are
// in order, and those of one logger mostly follow those of another, so that
// putting the files in order puts their series in order.
func (t *Import) pieces() []piece {
	files, n := make([]int, 0, len(t.sinks)), 0
	for i, s := range t.sinks {
		if len(s.sorted) > 0 {
			files = append(files, i)
		}
		for _, c := range s.sorted {
			n += len(c.chunks)
		}
	}
	slices.SortStableFunc(files, func(a, b int) int {
		return compareSeries(t.sinks[a].sorted[0].series, t.sinks[b].sorted[0].series)
	})
	all := make([]piece, 0, n)
	for _, i := range files {
		for _, c := range t.sinks[i].sorted {
			for _, k := range c.chunks {
				all = append(all, piece{c.series, i, k})
			}
		}
	}
	inOrder := func(a, b piece) int { return cmp.Or(compareSeries(a.series, b.series), cmp.Compare(a.file, b.file)) }
	if !slices.IsSortedFunc(all, inOrder) {
		slices.SortStableFunc(all, inOrder)
	}
	return all
}
