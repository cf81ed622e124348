package inspect

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"wane/ingest/source"
)

// askOfTimes asks where a table can be read two ways though each line has a stamp
// that reads.
func (t *table) askOfTimes() {
	t.askOfPairs()
	t.askOfMinutes()
	t.askOfHours()
	t.askOfUnits()
}

// askOfPairs asks of a second time with values of its own: "Time A, Value A, Time
// B, Value B".
func (t *table) askOfPairs() {
	main := t.times[len(t.times)-1]
	follows := func(c int) bool { return c+1 < len(t.columns) && t.columns[c+1].Role == "value" }
	if !follows(main) {
		return
	}
	for _, c := range t.withRole("other time") {
		if c == main+1 || !follows(c) || t.columns[c].Evidence != "another time" {
			continue
		}
		differ := t.differences(c)
		if len(differ) > 2 {
			t.ask("times", fmt.Sprintf("column %d is a time too, and values follow it: do these belong to it, or to the time in column %d? Describe the file once for each time, with its own columns", c+1, main+1))
			return
		}
	}
}

// differences are those between another time and the stamp, in seconds.
func (t *table) differences(c int) map[int64]bool {
	out := map[int64]bool{}
	own, ok := compiled(t.anyFormat())
	fit, n := fitting(t.stampsOf(t.dataLines(), []int{c}))
	if !ok || n == 0 {
		return out
	}
	same := max(0, slices.IndexFunc(fit, func(s shape) bool { return s.order == t.order }))
	other, ok := compiled(fit[same].pattern)
	for i, r := range t.recs {
		if i < t.first || !ok || !t.stamped[i] || c >= len(r.cells) {
			continue
		}
		s, _ := stampOf(r.cells, t.times)
		a, fits := own.fits(s)
		if b, also := other.fits(r.cells[c]); fits && also {
			out[b-a] = true
		}
	}
	return out
}

// askOfMinutes asks of an hour a line whose columns are minutes of the hour.
func (t *table) askOfMinutes() {
	if t.days.count > 0 || t.cadence() != hour {
		return
	}
	values := t.withRole("value")
	for i := range values {
		step, n := 0, 0
		for _, c := range values[i:] {
			found := numberLabel.FindAllString(t.columns[c].Name, -1)
			if len(found) == 0 {
				break
			}
			m, _ := strconv.Atoi(found[len(found)-1])
			if len(found) == 2 && strings.Contains(t.columns[c].Name, "-") { // 00-15
				m, _ = strconv.Atoi(found[0])
			}
			if n == 1 {
				step = m
			}
			if m != n*step {
				break
			}
			n++
		}
		if n >= 2 && step > 1 && n*step == 60 {
			t.ask("columns", fmt.Sprintf("there is a line an hour, and %d columns from %q on are named like its minutes: are they parts of the hour, or series of their own?", n, t.columns[values[i]].Name))
			return
		}
	}
}

// cadence is the most frequent step of the stamps in seconds, 0 where none is.
func (t *table) cadence() int64 {
	p, ok := compiled(t.anyFormat())
	if !ok {
		return 0
	}
	count := map[int64]int{}
	last, any := int64(0), false
	for i, r := range t.recs {
		if i < t.first || !t.stamped[i] {
			continue
		}
		s, _ := stampOf(r.cells, t.times)
		at, ok := p.fits(s)
		if !ok {
			continue
		}
		if any && at != last {
			count[max(at-last, last-at)]++
		}
		last, any = at, true
	}
	best := int64(0)
	for step, n := range count {
		if n > count[best] || n == count[best] && step < best {
			best = step
		}
	}
	return best
}

// askOfHours asks of hours that count from 1 to 24: hour 1 is that from midnight
// on, and its value may be stored at its beginning or its end.
func (t *table) askOfHours() {
	f := t.anyFormat()
	if !strings.HasSuffix(f, " H") && !strings.HasSuffix(f, " HH") || len(t.times) < 2 {
		return
	}
	c := t.times[len(t.times)-1]
	most := 0
	for i, r := range t.recs {
		if i < t.first || !t.stamped[i] || c >= len(r.cells) {
			continue
		}
		h, err := strconv.Atoi(r.cells[c])
		if err != nil || h == 0 {
			return
		}
		most = max(most, h)
	}
	if most != 24 {
		return
	}
	switch t.answers.Interval {
	case "begin":
		t.shift = "-1h"
	case "end":
	default:
		t.ask("interval", fmt.Sprintf("the hours of column %d run from 1 to 24: is the value of hour 1 stored at 00:00, its beginning, or at 01:00, its end?", c+1), "time.shift: -1h", "as it stands")
	}
}

// askOfUnits asks of units that change from row to row within a series.
func (t *table) askOfUnits() {
	for _, c := range t.withRole("text") {
		entries := t.statsOf(c).values
		if len(entries) < 2 || len(entries) > 20 {
			continue
		}
		units := true
		for e := range entries {
			_, known := source.CanonicalUnit(e)
			units = units && known
		}
		var by []int
		if t.long {
			by = t.withRole("channel")
		}
		by = append(by, t.withRole("sensor")...)
		if units && t.kinds(append(slices.Clone(by), c)...) > t.kinds(by...) {
			t.ask("unit", fmt.Sprintf("column %d states units that change within a series (%s): export with one unit, or say that column %d names the sensor", c+1, strings.Join(sortedKeys(entries), ", "), c+1))
		}
	}
}
