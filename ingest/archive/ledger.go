package archive

import (
	"fmt"
	"slices"
	"sort"

	"wane/ingest/archive/internal/parq"
)

// ledger adds rows to a table that is partitioned by the time of import:
// Files, Coverage, Quarantine. Like readings, the latest month lies by day and
// earlier ones whole; rows are in order of sequence.
type ledger struct {
	name  string
	added map[int64][]Column // by time of import
}

func newLedger(name string) *ledger { return &ledger{name: name, added: map[int64][]Column{}} }

// at gives the columns to which rows imported at that time are appended.
func (l *ledger) at(importedAt int64) []Column {
	if l.added[importedAt] == nil {
		l.added[importedAt] = columnsOf(l.name)
	}
	return l.added[importedAt]
}

// room makes room for so many further rows imported at that time.
func (l *ledger) room(importedAt int64, rows int) {
	cols := l.at(importedAt)
	for i := range cols {
		if c := &cols[i]; c.Type == String {
			c.Text = slices.Grow(c.Text, rows)
		} else {
			c.Int = slices.Grow(c.Int, rows)
		}
	}
}

// write merges the new rows into the stored ones and gives all parts of the
// table as they are from now on.
func (l *ledger) write(w *writer, old *Archive) ([]Part, error) {
	parts, err := l.merge(w, old)
	if err != nil {
		return nil, fmt.Errorf("write table %s: %w", l.name, err)
	}
	return parts, nil
}

func (l *ledger) merge(w *writer, old *Archive) ([]Part, error) {
	parts := old.Parts(l.name)
	latest := int32(-1)
	held := map[partition][]Part{}
	for _, p := range parts {
		at, err := parsePartition(p.Partition)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", p.Path, err)
		}
		held[at] = append(held[at], p)
		latest = max(latest, at.month)
	}
	for at := range l.added {
		latest = max(latest, monthIndex(at))
	}
	// Where each partition's rows come from.
	from := map[partition][]Part{}
	touched := map[partition]bool{}
	for at, ps := range held {
		to := at
		if at.day > 0 && at.month < latest {
			to.day = 0
			touched[to] = true
		}
		from[to] = append(from[to], ps...)
	}
	fresh := map[partition][][]Column{}
	for at, cols := range l.added {
		if cols[0].Len() > 0 {
			to := partitionOf(at, latest)
			touched[to] = true
			fresh[to] = append(fresh[to], cols)
		}
	}
	var out []Part
	for at, ps := range from {
		if !touched[at] {
			out = append(out, ps...)
		}
	}
	for at := range touched {
		all := columnsOf(l.name)
		for _, p := range from[at] {
			cols, err := old.ReadTable(p)
			if err != nil {
				return nil, err
			}
			appendRows(all, cols)
		}
		for i, cols := range fresh[at] {
			if i == 0 && len(from[at]) == 0 {
				all = cols
				continue
			}
			appendRows(all, cols)
		}
		sortRows(all)
		codec := parq.Snappy
		if at.day == 0 {
			codec = parq.Zstd
		}
		p, err := w.table(Part{Table: l.name, Partition: at.hive()}, codec, all)
		if err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	return out, nil
}

func appendRows(to, from []Column) {
	for i := range to {
		to[i].Int = append(to[i].Int, from[i].Int...)
		to[i].Text = append(to[i].Text, from[i].Text...)
	}
}

// sortRows sorts by sequence, keeping the order within one.
func sortRows(cols []Column) {
	seq := cols[0].Int
	if slices.IsSorted(seq) {
		return
	}
	order := make([]int, len(seq))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return seq[order[a]] < seq[order[b]] })
	for c := range cols {
		cols[c].Int = reorder(cols[c].Int, order)
		cols[c].Text = reorder(cols[c].Text, order)
	}
}

func reorder[T any](v []T, order []int) []T {
	if len(v) == 0 {
		return v
	}
	out := make([]T, len(v))
	for i, from := range order {
		out[i] = v[from]
	}
	return out
}

func sortBy[T any](v []T, key func(T) int64) {
	slices.SortStableFunc(v, func(a, b T) int {
		switch x, y := key(a), key(b); {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
}
