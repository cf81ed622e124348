package inspect

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"wane/ingest/decode/stamp"
)

// anyClock is a time of day in any spelling.
var anyClock = regexp.MustCompile(`^\d{1,2}[:h]\d{2}([:.]\d{2}([.,]\d+)?)?(\s*[\pL.]{1,5})?$`)

// looksTimed tells whether a text is a time of day or reads as a date.
func looksTimed(text string) bool {
	return anyClock.MatchString(text) || len(text) < 40 && !bareNumber.MatchString(text) && len(shapesOf(text, true)) > 0
}

// proveNames: what names a series is no moment. Columns and entries that read as times of day
// or dates are a part of the stamp.
func (t *table) proveNames() (string, Sure) {
	if t.days.count > 0 {
		return "", Certain
	}
	var timed []string
	values := t.withRole("value")
	for _, c := range values {
		if name := t.columns[c].Name; looksTimed(name) {
			timed = append(timed, name)
		}
	}
	if len(timed) >= 2 && 2*len(timed) >= len(values) {
		t.ask("columns", fmt.Sprintf("%d columns are named like moments (%s, %s, …): their values belong to those, and no "+
			"description says so yet (a day a line needs layout: days and all the times of the day); export a line a moment",
			len(timed), clip(timed[0]), clip(timed[1])))
	}
	named := slices.Clone(t.sensor.columns)
	if len(named) == 0 && t.sensor.column > 0 {
		named = []int{t.sensor.column}
	}
	for _, pos := range named {
		n, of := 0, 0
		for cell := range t.statsOf(pos - 1).values {
			of++
			if looksTimed(cell) {
				n++
			}
		}
		if of > 0 && 10*n >= 9*of {
			t.ask("time.columns", fmt.Sprintf("column %d would name the sensors, and its entries look like times: is "+
				"it a part of "+
				"the stamp, written in an unknown way?", pos))
		} else if unit := t.countsClock(pos - 1); unit != "" {
			t.ask("time.columns", fmt.Sprintf("column %d would name the sensors, and its numbers go evenly through %s: is it a "+
				"part of the stamp?", pos, unit))
		}
	}
	return "", Certain
}

// countsClock tells of what the numbers of a column are an even division that the stamps lack:
// minutes of the hour beside whole hours, hours or parts of the day beside dates; "" for none.
func (t *table) countsClock(c int) string {
	p, ok := compiled(t.anyFormat())
	if !ok || p.format.Form != stamp.Calendar || strings.Contains(p.text, "m") {
		return ""
	}
	var all []int
	for cell := range t.statsOf(c).values {
		n, err := strconv.Atoi(cell)
		if err != nil {
			return ""
		}
		all = append(all, n)
	}
	slices.Sort(all)
	if len(all) < 2 || all[0] < 0 {
		return ""
	}
	step := all[1] - all[0]
	for i := range all {
		if all[i] != all[0]+i*step {
			return ""
		}
	}
	whole := map[int]string{60: "an hour"}
	if !p.format.HasClock() {
		whole = map[int]string{24: "a day", 1440: "a day", 86400: "a day"}
	}
	if of, ok := whole[len(all)*step]; ok && all[0] <= step {
		return of
	}
	return ""
}

// proveStamp: the clock beside the date is the clock of the row, not that of its peak: no
// other clock there differs from it now by more and now by less, and it is named as a time or
// needed to part the rows of a day.
func (t *table) proveStamp() (string, Sure) {
	if len(t.times) != 2 || t.order == "" && t.format == "" {
		return "", Certain
	}
	date, clock := t.times[0], t.times[1]
	if alone, n := fitting(t.stampsOf(t.dataLines(), t.times[:1])); n == 0 || alone[0].clock {
		return "", Certain // the second column is the half of the day, or the zone
	}
	for _, c := range t.withRole("other time") {
		if !t.allCells(c, clockOnly.MatchString) {
			continue
		}
		if differ := t.clockGaps(clock, c); len(differ) > 2 {
			t.ask("time.columns", fmt.Sprintf("columns %d and %d are both times of day, and differ now by more and "+
				"now by less: "+
				"which one says when the values of a line were measured, if either does?", clock+1, c+1),
				fmt.Sprintf("time.columns: [%s]", t.ref(date)), fmt.Sprintf("time.columns: [%s, %s]", t.ref(date), t.ref(clock)),
				fmt.Sprintf("time.columns: [%s, %s]", t.ref(date), t.ref(c)))
			return "", Certain
		}
	}
	if s := t.statsOf(date); t.nameRow > 0 && len(s.values) == s.filled && s.filled > 3 && !t.namedAsTime(clock) {
		t.ask("time.columns", fmt.Sprintf("each line has a date of its own, and column %d (%s) is not named as a "+
			"time: is it "+
			"when the values were measured?", clock+1, clip(t.columns[clock].Name)),
			fmt.Sprintf("time.columns: [%s]", t.ref(date)), fmt.Sprintf("time.columns: [%s, %s]", t.ref(date), t.ref(clock)))
	}
	return "", Certain
}

// proveParts: of the parts of a stamp that stand in columns without names none is passed over. A constant number between the
// day and what goes up may be the hour, and that the minute.
func (t *table) proveParts() (string, Sure) {
	n := len(t.times)
	if t.nameRow > 0 || n < 3 || !strings.HasSuffix(t.format, " H") {
		return "", Certain
	}
	hour := t.times[n-1]
	for c := t.times[n-2] + 1; c < hour; c++ {
		if s := t.statsOf(c); s.still() && s.whole && s.min >= 0 && s.max < 24 {
			t.ask("time.columns", fmt.Sprintf("column %d is %s on all lines, and column %d goes up: is that the hour, or is the "+
				"first the hour and the second the minute?", c+1, trimFloat(s.min), hour+1),
				fmt.Sprintf("time: {columns: [%s], format: '%s m'}", t.refs(slices.Insert(slices.Clone(t.times), n-1, c)), t.format),
				fmt.Sprintf("time: {columns: [%s], format: '%s'}", t.refs(t.times), t.format))
			return "", Certain
		}
	}
	return "", Certain
}

// clockGaps counts the differences between two columns of times of day, in minutes round the
// clock.
func (t *table) clockGaps(a, b int) map[int]int {
	out := map[int]int{}
	for r := range t.rows() {
		m, _, ok := clockMinutes(r.cell(a))
		n, _, also := clockMinutes(r.cell(b))
		if ok && also {
			out[(n-m+1440)%1440]++
		}
	}
	return out
}

// zoneName is a zone by its IANA name.
var zoneName = regexp.MustCompile(`\b[A-Z][A-Za-z]+(?:/[A-Z][A-Za-z_-]+){1,2}\b`)

// namedZone finds a zone that a text names, by its IANA name.
func namedZone(text string) (name string, ok bool) {
	for _, name := range zoneName.FindAllString(text, -1) {
		if _, err := stamp.ZoneOf(name); err == nil {
			return name, true
		}
	}
	return "", false
}

// zoneInHead finds the zone that the name of a column of the stamp states, or else a title line.
func (t *table) zoneInHead() (name string, line int, own bool) {
	for i := range t.first {
		r := t.recs[i]
		if slices.Contains(t.block, i) {
			for _, c := range t.times {
				if c < len(r.cells) {
					if name, ok := namedZone(r.cells[c]); ok {
						return name, r.line, true
					}
				}
			}
		}
	}
	for i := range t.first {
		if r := t.recs[i]; !slices.Contains(t.block, i) {
			if name, ok := namedZone(r.text); ok {
				return name, r.line, false
			}
		}
	}
	return "", 0, false
}

// proveWords: an abbreviation of a zone in the name of the stamp's column, such as CET, holds
// for all stamps in the zone that was answered.
func (t *table) proveWords() (string, Sure) {
	zone, err := stamp.ZoneOf(t.zone)
	if err != nil || t.nameRow == 0 {
		return "", Certain
	}
	for _, c := range t.times {
		for _, word := range wordSplit.Split(t.columns[c].Name, -1) {
			if word != strings.ToUpper(word) || !stamp.IsZoneWord(word) {
				continue
			}
			hours, _ := stamp.ZoneOffset(word)
			for at, r := range t.moments() {
				if zone.Offset(at-hours) != hours {
					t.ask("zone", fmt.Sprintf("the name of column %d says %s, and on line %d the clocks of %s are not so: is the "+
						"logger's clock %s all the year, or does it follow daylight saving?", c+1, word, r.line, t.zone, word))
					return "", Certain
				}
			}
			return fmt.Sprintf("the name of column %d says %s, and so are the clocks of %s", c+1, word, t.zone), Certain
		}
	}
	return "", Certain
}
