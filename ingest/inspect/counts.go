package inspect

import (
	"math"
	"strconv"

	"wane/ingest/decode/number"
)

// leaveCounts leaves out numbers of no known quantity that say nothing of the light: those
// that are one and the same within each series and another in the next, as addresses are,
// and those that go up by one from row to row of a series, as counters of messages do.
func (t *table) leaveCounts() {
	values := t.withRole("value")
	for _, c := range values {
		col := &t.columns[c]
		if col.Quantity != "" || col.Unit != "" || roleOf(col.Name) == "value" || len(t.withRole("value")) < 2 {
			continue
		}
		if t.runsWithClock(c) {
			col.Role, col.Channel, col.missing, col.Evidence = "other time", "", nil,
				"it goes on as the stamps do: the time since something"
			continue
		}
		switch still, steps := t.withinSeries(c); {
		case still:
			col.Role, col.Channel, col.missing, col.Evidence = "id", "", nil,
				"one whole number a series, another in each: an address or a code"
		case steps:
			col.Role, col.Channel, col.missing, col.Evidence = "record number", "", nil,
				"it goes up by one from row to row of a series"
		}
	}
}

// runsWithClock tells whether a column goes on from row to row by as much as the stamps do, in
// one of the units of time.
func (t *table) runsWithClock(c int) bool {
	p, ok := compiled(t.anyFormat())
	if !ok {
		return false
	}
	note := t.notation()
	var lastAt int64
	var last float64
	rows, pace := 0, map[float64]int{}
	for i, r := range t.recs {
		if i < t.first || !t.stamped[i] || c >= len(r.cells) {
			continue
		}
		s, _ := stampOf(r.cells, t.times)
		at, fits := p.fits(s)
		v, st := note.Parse([]byte(t.withoutUnit(r.cells[c])))
		if !fits || st != number.OK {
			continue
		}
		if at != lastAt && rows > 0 {
			pace[math.Round(1e6*(v.Float()-last)/float64(at-lastAt))/1e6]++
		}
		lastAt, last = at, v.Float()
		rows++
	}
	units := []float64{1, 1000, 1. / 60}
	if hasWord(t.columns[c].Name, []string{"elapsed*", "since", "rel*"}) { // meters count hours too
		units = append(units, 1./3600, 1./86400)
	}
	for _, unit := range units {
		if n := pace[math.Round(1e6*unit)/1e6]; n >= 10 && 20*n >= 19*(rows-1) {
			return true
		}
	}
	return false
}

// withinSeries tells of a column of whole numbers whether it never changes within a series
// and differs between them, or goes up by one in nearly every row of one.
func (t *table) withinSeries(c int) (still, steps bool) {
	labels := t.labels(nil)
	type run struct{ last, n, changes, ups int64 }
	runs := map[string]*run{}
	all, seen := int64(0), map[int64]bool{}
	for i, r := range t.recs[:min(len(t.recs), headLines)] { // those behind leave lines out
		if i < t.first || !t.stamped[i] || c >= len(r.cells) || r.cells[c] == "" {
			continue
		}
		v, err := strconv.ParseInt(r.cells[c], 10, 64)
		if err != nil {
			return false, false
		}
		key := ""
		for _, l := range labels {
			if l < len(r.cells) {
				key += r.cells[l] + "\x00"
			}
		}
		one := runs[key]
		if one == nil {
			one = &run{last: v}
			runs[key] = one
			seen[v] = true
		} else if v != one.last {
			one.changes++
			if v == one.last+1 || v == one.last-1 {
				one.ups++
			}
		}
		one.last = v
		one.n++
		all++
	}
	var changes, ups int64
	for _, r := range runs {
		changes += r.changes
		ups += r.ups
	}
	rows := all - int64(len(runs))
	still = changes == 0 && len(runs) > 1 && len(seen) == len(runs) && rows > 0
	return still, rows >= 10 && ups == changes && 100*ups >= 98*rows
}
