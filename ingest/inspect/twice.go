package inspect

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"wane/ingest/source"
)

// differences counts those between another full time and the stamp, in seconds. A date in
// the column and a clock in the next are one time.
func (t *table) differences(c int) map[int64]int {
	out := map[int64]int{}
	cols := []int{c}
	other, full := t.fullTime(cols...)
	if !full && c+1 < len(t.columns) && t.columns[c+1].Role == "other time" {
		cols = append(cols, c+1)
		other, full = t.fullTime(cols...)
	}
	own, reads := compiled(t.anyFormat())
	if !full || !reads {
		return out
	}
	both := own.format.OwnMoment() && other.format.OwnMoment() // then their offsets may differ
	for at, r := range t.moments() {
		text, _ := stampOf(r.cells, cols)
		b, fits := other.fits(text)
		if fits && both {
			s, _ := stampOf(r.cells, t.times)
			at, b = own.utc(s), other.utc(text)
		}
		if fits {
			out[b-at]++
		}
	}
	return out
}

// fullTime gives the pattern of columns that together say as much of the time as the stamp
// does: dates beside a stamp with a clock are less.
func (t *table) fullTime(cols ...int) (p pattern, ok bool) {
	own, _ := compiled(t.anyFormat())
	fit, n := fitting(t.stampsOf(t.dataLines(), cols))
	if n == 0 || !fit[0].clock && own.format.HasClock() {
		return p, false
	}
	same := max(0, slices.IndexFunc(fit, func(s shape) bool { return s.order == t.order }))
	return compiled(fit[same].pattern)
}

// proveColumns: the columns of an hour a line are series of their own, not minutes of the
// hour.
func (t *table) proveColumns() (string, Sure) {
	if t.days.count > 0 || t.cadence() != hour {
		return "", Certain
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
			t.ask("columns", fmt.Sprintf("there is a line an hour, and %d columns from %q on are named like its minutes: are "+
				"they parts of the hour, or series of their own?", n, t.columns[values[i]].Name))
			return "", Certain
		}
	}
	return "", Certain
}

// cadence is the most frequent step of the stamps in seconds, 0 where none is.
func (t *table) cadence() int64 {
	count := map[int64]int{}
	last, any := int64(0), false
	for at := range t.moments() {
		if any && at != last {
			count[max(at-last, last-at)]++
		}
		last, any = at, true
	}
	return mostOf(count)
}

// proveHours: hours that count from 0 are clock hours. Of those from 1 to 24 hour 1 is that
// from midnight on, and its value may be stored at its beginning or its end.
func (t *table) proveHours() (string, Sure) {
	f := t.anyFormat()
	if !strings.HasSuffix(f, " H") && !strings.HasSuffix(f, " HH") || len(t.times) < 2 {
		return "", Certain
	}
	c := t.times[len(t.times)-1]
	most := 0
	for r := range t.rows() {
		h, err := strconv.Atoi(r.cell(c))
		if err != nil || h == 0 {
			return "", Certain
		}
		most = max(most, h)
	}
	if most != 24 {
		return "", Certain
	}
	switch t.answers.Interval {
	case "begin":
		t.shift = "-1h"
	case "end":
	default:
		t.ask("interval", fmt.Sprintf("the hours of column %d run from 1 to 24: is the value of hour 1 stored at 00:00, "+
			"its beginning, or at 01:00, its end?", c+1), "time.shift: -1h", "as it stands")
	}
	return "", Certain
}

// proveUnits: a series has one unit, where a column states it row by row; and per cents are those of something.
func (t *table) proveUnits() (string, Sure) {
	for _, c := range t.withRole("value") {
		if name := t.columns[c].Name; strings.Contains(name, "%") && strings.Trim(name, "%()[]_ ") == "" {
			t.ask("columns", fmt.Sprintf("column %d holds per cents, and no name says of what: dim_pct, rh_pct, or something else?", c+1))
		}
	}
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
			t.ask("unit", fmt.Sprintf("column %d states units that change within a series (%s): export with one unit, or say "+
				"that column %d names the sensor", c+1, strings.Join(sortedKeys(entries), ", "), c+1))
		}
	}
	return "", Certain
}
