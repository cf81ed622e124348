package inspect

import (
	"fmt"
	"iter"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"wane/ingest/decode/stamp"
	"wane/ingest/source"
)

// A claim is one thing that a table's description takes for granted. Each is proven by the
// file, with its evidence, or it becomes a question: no claim passes because nothing spoke
// against it. What a description claims besides stands where it is found: the order of the
// date (order.go), the zone (inspect.go), the decimal sign (dialect.go), the width of the
// lines (width.go), the columns that tell series apart (series.go).
type claim struct {
	what string
	// prove gives the evidence, "" where the table claims nothing of the kind; what is open
	// it asks.
	prove func(*table) (evidence string, sure Sure)
}

func claims() []claim {
	return []claim{
		{"one table", (*table).proveOneTable},
		{"moment", (*table).proveMoment},
		{"zone", (*table).proveZone},
		{"sensor", (*table).proveSensor},
		{"hours", (*table).proveHours},
		{"columns", (*table).proveColumns},
		{"units", (*table).proveUnits},
		{"left out", (*table).proveLeftOut},
		{"scale", (*table).proveScale},
		{"flags", (*table).proveFlags},
		{"names", (*table).proveNames},
		{"stamp", (*table).proveStamp},
		{"parts", (*table).proveParts},
		{"zone's word", (*table).proveWords},
	}
}

// prove goes through the claims and notes what is proven.
func (t *table) prove() {
	for _, c := range claims() {
		if evidence, sure := c.prove(t); evidence != "" {
			t.report.add(Finding{c.what, "", sure, evidence})
		}
	}
}

// proveOneTable: the lines below the header are all of the table that it names. A line of
// names further down must be the header again, under the same title: otherwise other
// columns, or another sensor, begin there.
func (t *table) proveOneTable() (string, Sure) {
	if t.nameRow == 0 || t.as != nil && t.as.refs != nil {
		return "", Certain
	}
	head := t.recs[t.block[t.nameRow-1]]
	again, moved := 0, 0
	titles := map[string]int{} // of the headers that come again, and the line of the last
	for i := t.first; i < len(t.recs); i++ {
		r := t.recs[i]
		if t.stamped[i] || t.isComment(r) || len(r.cells) < t.width-1 || len(r.cells) < 2 || !nameLike(r.cells) ||
			!t.followed(i) {
			continue
		}
		if a, b := trimmedCells(r.cells), trimmedCells(head.cells); !slices.Equal(a, b) {
			if t.sameNames(a, b) {
				moved++
				continue
			}
			if i+1 < len(t.recs) && slices.Equal(trimmedCells(t.recs[i+1].cells), b) {
				continue // a title above the header
			}
			t.ask("columns", fmt.Sprintf("line %d names other columns than line %d (%s): cut the file there and describe its "+
				"parts one by one", r.line, head.line, clip(r.text)))
			return "", Certain
		}
		titles[t.titleAbove(i)] = r.line
		again++
	}
	own := t.titleAbove(t.block[t.nameRow-1])
	for _, title := range sortedKeys(titles) { // the same words between pages name no sensor
		if title != own && title != "" && (own != "" || len(titles) > 1 || again == 1) {
			t.ask("sensor", fmt.Sprintf("another block of lines begins at line %d under the title %s: cut the file into one a "+
				"sensor", titles[title], clip(title)))
			return "", Certain
		}
	}
	if again+moved == 0 {
		return "", Certain
	}
	return fmt.Sprintf("the header stands %d times more, %d times with its columns in another order, which are found "+
		"by name", again+moved, moved), Certain
}

// sameNames tells whether two headers have the same names in another order, and the
// description finds columns by their names.
func (t *table) sameNames(a, b []string) bool {
	for c := range t.columns {
		if t.columns[c].Role != "empty" && t.ref(c) == strconv.Itoa(c+1) {
			return false
		}
	}
	return slices.Equal(slices.Sorted(slices.Values(a)), slices.Sorted(slices.Values(b)))
}

// followed tells whether a line with a stamp comes next, blank lines and units aside.
func (t *table) followed(i int) bool {
	for k := i + 1; k < min(len(t.recs), i+4); k++ {
		if t.stamped[k] {
			return true
		}
	}
	return false
}

// titleAbove is the line above a header, "" where that is blank or data.
func (t *table) titleAbove(i int) string {
	if i == 0 || t.stamped[i-1] || t.isComment(t.recs[i-1]) {
		return ""
	}
	return pageNumber.ReplaceAllString(strings.TrimSpace(t.recs[i-1].text), "")
}

// pageNumber counts the pages of a report, which are no blocks of their own.
var pageNumber = regexp.MustCompile(`(?i)\b(page|seite|pagina|página|blad|side)\s*\d+(\s*\S{1,3}\s*\d+)?`)

func trimmedCells(cells []string) []string {
	out := slices.Clone(cells)
	for len(out) > 0 && out[len(out)-1] == "" {
		out = out[:len(out)-1]
	}
	return out
}

// carried head times at which readings were handed on, as against taken.
var carried = []string{"received*", "stored", "inserted*", "uploaded*", "processed*", "synced*", "ingest*", "arrived*",
	"server*", "created*", "modified*", "updated*", "last_updated", "published*", "sent*", "logged*", "empfangen", "revis*"}

// proveMoment: the stamp is the moment of all values of its line. Any other full time there
// must be the same moment on another clock, the other end of the interval, or by its name
// the time at which the line was handed on.
func (t *table) proveMoment() (string, Sure) {
	step := t.cadence()
	own := t.columns[t.times[0]].Name
	var seen []string
	for _, c := range t.withRole("other time") {
		differ := t.differences(c)
		name := fmt.Sprintf("column %d", c+1)
		switch {
		case len(differ) == 0: // no full time
		case t.kinds(append(t.labels(nil), c)...) == t.kinds(t.labels(nil)...):
			seen = append(seen, name+" is the same on all lines")
		case len(differ) == 1 && differ[0] > 0:
			seen = append(seen, name+" is the same moment again")
		case sameOnOtherClock(differ, step) && hasWord(t.columns[c].Name+" "+own,
			append(utcWords, "local", "lst")):
			seen = append(seen, name+" is the same moment on another clock, by its name")
		case t.samePairs(c):
			t.ask("times", fmt.Sprintf("column %d is a time too, and values follow it: do these belong to it, or to the time "+
				"in column %d? Describe the file once for each time, with its own columns", c+1, t.times[0]+1))
		case sameOnOtherClock(differ, step):
			seen = append(seen, name+" is the same moment on another clock")
		case oneEnd(differ, step):
			seen = append(seen, name+" is the other end of the interval")
		case hasWord(t.columns[c].Name, carried) && !hasWord(own, carried):
			seen = append(seen, name+" is named for when the line was handed on")
		default:
			t.ask("times", fmt.Sprintf("columns %d and %d are both times, and differ now by more and now by less: which one "+
				"says when the values were measured?", t.times[0]+1, c+1),
				fmt.Sprintf("time.columns: [%s]", t.ref(t.times[0])), fmt.Sprintf("time.columns: [%s]", t.ref(c)))
		}
	}
	return strings.Join(seen, "; "), Certain
}

// samePairs tells whether values stand both between the stamp and another time and behind
// that: "Time A, Value A, Time B, Value B".
func (t *table) samePairs(c int) bool {
	follows := func(c int) bool { return c+1 < len(t.columns) && t.columns[c+1].Role == "value" }
	return follows(t.times[len(t.times)-1]) && follows(c)
}

const quarter = 900 // seconds: zones differ by quarters of an hour

// sameOnOtherClock tells whether differences are those between two zones: one, or two not
// more than an hour apart where one of them changes its clocks, and another than an interval,
// which the end of one may be.
func sameOnOtherClock(differ map[int64]int, step int64) bool {
	for d := range differ {
		if d%quarter != 0 || max(d, -d) > 14*hour || len(differ) == 1 && d == step {
			return false
		}
	}
	both := slices.Sorted(maps.Keys(differ))
	return len(both) <= 2 && both[len(both)-1]-both[0] <= hour
}

// oneEnd tells whether another time is the other end of the line's interval: as long after
// it, or before, on every line, and not longer than one line is from the next. Where clocks
// change within an interval its ends are an hour further apart.
func oneEnd(differ map[int64]int, step int64) bool {
	usual := mostOf(differ)
	if length := max(usual, -usual); length == 0 || length > step && length%(24*hour) != 0 {
		return false
	}
	for d, n := range differ {
		if d != usual && (max(d-usual, usual-d) != hour || 10*n > differ[usual]) {
			return false
		}
	}
	return true
}

// proveZone: what the file says of its clock beside the stamps is true of the zone that was
// answered: offsets from UTC in a column, or the same moment in UTC.
func (t *table) proveZone() (string, Sure) {
	if t.zone == "" || t.zone == source.ZoneFromHeader {
		return "", Certain
	}
	zone, err := stamp.ZoneOf(t.zone)
	if err != nil {
		return "", Certain
	}
	var seen []string
	good, bad, agree := make([]int, len(t.columns)), make([]int, len(t.columns)), false
	for c := range t.columns {
		for own, said := range t.saidOffsets(c) {
			if zone.Offset(own-said) == said {
				good[c]++
			} else {
				bad[c]++
			}
		}
		agree = agree || bad[c] == 0 && good[c] > 0 && t.columns[c].Role == "zone"
	}
	for c, bad := range bad {
		good := good[c]
		if bad > 0 && agree && t.columns[c].Role == "zone" {
			continue // the zone of summer stands beside that of winter
		}
		if bad > 0 {
			t.ask("zone", fmt.Sprintf("%d lines say in column %d how far their clock is from UTC, and the clocks of %s are "+
				"not so then: are the stamps of column %d in another zone?", bad, c+1, t.zone, t.times[0]+1))
		} else if good > 0 {
			seen = append(seen, fmt.Sprintf("column %d says the same of the clock", c+1))
		}
	}
	return strings.Join(seen, "; "), Certain
}

// saidOffsets gives for each line whose clock column c speaks of what the clock shows, and
// how far it is from UTC by that column, in seconds.
func (t *table) saidOffsets(c int) iter.Seq2[int64, int64] {
	return func(yield func(int64, int64) bool) {
		ok := true
		var other pattern
		switch t.columns[c].Role {
		case "zone":
		case "other time":
			if ok = hasWord(t.columns[c].Name, utcWords); ok {
				other, ok = t.fullTime(c)
			}
		default:
			return
		}
		for at, r := range t.moments() {
			cell := r.cell(c)
			said, says := offsetOf(cell)
			if !says && cell != "" && cell != t.zone && other.format == nil {
				said, says = unknownOffset, true
			}
			if other.format != nil {
				var utc int64
				utc, says = other.fits(cell)
				said = at - utc
			}
			if ok && says && !yield(at, said) {
				return
			}
		}
	}
}

// unknownOffset is what a zone says that has no known offset: no clock has it.
const unknownOffset = 100 * hour

var utcWords = []string{"utc", "gmt", "zulu"}

var offsetText = regexp.MustCompile(`^(?:UTC|GMT)?([+-]?)(\d{1,2})(?::?(\d{2})|\.(\d+))?$`)

// offsetOf reads an offset in hours, as +01:00, or in minutes, in seconds. Three digits are
// minutes: hours and minutes in one are written with four.
func offsetOf(cell string) (int64, bool) {
	if off, ok := stamp.ParseOffset(cell); ok && (len(cell) != len("-300") || !isDigitText(cell[1:])) {
		return int64(off), true
	}
	if n, err := strconv.Atoi(cell); err == nil && (n > 14 || n < -12) {
		return int64(n) * 60, n <= 14*60 && n >= -12*60
	}
	m := offsetText.FindStringSubmatch(cell)
	if m == nil {
		return 0, false
	}
	h, _ := strconv.ParseFloat(m[2]+"."+m[4]+"0", 64)
	minutes, _ := strconv.Atoi("0" + m[3])
	sec := int64(h*3600) + int64(minutes)*60
	if m[1] == "-" {
		sec = -sec
	}
	return sec, true
}

// proveSensor: a column of numbers names the sensor only where it must, to tell rows of one
// moment apart; else it may be a measurement with an unlucky name.
func (t *table) proveSensor() (string, Sure) {
	if len(t.sensorOpen) > 0 || t.sensor.column == 0 {
		return "", Certain
	}
	c := t.sensor.column - 1
	s := t.statsOf(c)
	if s.numbers < s.filled || len(s.values) < 2 {
		return "", Certain
	}
	var others []int
	for _, k := range t.labels(nil) {
		if k != c && !slices.Contains(t.sensor.columns, k+1) {
			others = append(others, k)
		}
	}
	r := t.repeats(others)
	if p, ok := compiled(t.anyFormat()); ok && s.whole && len(s.values) > 7 && r.repeated > 0 && !p.format.HasClock() {
		t.ask("time.columns", fmt.Sprintf("the stamps are dates without a time of day, and column %d counts %d numbers on "+
			"each: is it the time of day, in some unit, or does it name the sensor?", c+1, len(s.values)))
		return "", Certain
	}
	if r.repeated > 0 {
		return fmt.Sprintf("%d rows are of a moment that another row has with another number in column %d", r.repeated, c+1),
			Certain
	}
	t.ask("sensor", fmt.Sprintf("column %d is named like a sensor and holds numbers, and no two rows share a moment: "+
		"does it name the sensor, or is it measured?", c+1),
		fmt.Sprintf("sensorFrom: {column: %s}", t.ref(c)), "a value column")
	return "", Certain
}
