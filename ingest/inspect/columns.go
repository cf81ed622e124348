package inspect

import (
	"fmt"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"wane/ingest/decode/number"
	"wane/ingest/source"
)

// stats is what a column's data cells look like.
type stats struct {
	filled, numbers int
	texts           map[string]int // cells that are no number
	values          map[string]int // all cells, up to a bound
	min, max        float64
	steps           bool // whole numbers that go up by one
	codes           []string
}

const manyValues = 2000

func (t *table) statsOf(c int) stats {
	s := stats{texts: map[string]int{}, values: map[string]int{}, steps: true}
	note := number.Notation{Decimal: t.decimal, Group: t.group}
	var last float64
	var all []float64
	for i, r := range t.recs {
		if i < t.first || c >= len(r.cells) || r.cells[c] == "" || !t.stamped[i] {
			continue
		}
		cell := r.cells[c]
		s.filled++
		if len(s.values) < manyValues {
			s.values[cell]++
		}
		v, st := note.Parse([]byte(cell))
		if st != number.OK {
			s.texts[cell]++
			s.steps = false
			continue
		}
		x := v.Float()
		if s.numbers > 0 && (x != last+1 || v.Digits > 0) {
			s.steps = false
		}
		last = x
		s.numbers++
		all = append(all, x)
	}
	s.steps = s.steps && s.numbers > 1
	s.codesAmong(all)
	return s
}

// codesAmong finds known missing codes that stand apart from the other values,
// and the range of the rest.
func (s *stats) codesAmong(all []float64) {
	for _, text := range missingNumbers {
		code, _ := strconv.ParseFloat(text, 64)
		n, below, above := 0, 0, 0
		for _, x := range all {
			switch {
			case x == code:
				n++
			case x > code/3 && code > 0 || x < code/3 && code < 0:
				above++
			default:
				below++
			}
		}
		if n > 0 && above <= len(all)/100 && !slices.Contains(s.codes, text) {
			s.codes = append(s.codes, text)
		}
	}
	first := true
	for _, x := range all {
		if slices.ContainsFunc(s.codes, func(c string) bool { f, _ := strconv.ParseFloat(c, 64); return f == x }) {
			continue
		}
		if first || x < s.min {
			s.min = x
		}
		if first || x > s.max {
			s.max = x
		}
		first = false
	}
}

// findColumns gives every column its role.
func (t *table) findColumns() {
	taken := map[string]bool{}
	names, units := t.names(), t.units()
	t.nameCount = map[string]int{}
	for _, n := range names {
		t.nameCount[n]++
	}
	for c := range t.width {
		col := Column{Position: c + 1, Name: names[c], Sure: Likely}
		s := t.statsOf(c)
		role := roleOf(col.Name)
		numeric := s.numbers > 0 && float64(s.numbers) >= 0.5*float64(s.filled)
		bare, inName := unitIn(col.Name)
		q := quantityOf(bare)
		switch {
		case t.isTimeColumn(c):
			col.Role, col.Sure, col.Evidence = "time", Certain, "part of the time stamp"
		case s.filled == 0 && q.id == "" && units[c] == "":
			col.Role, col.Evidence = "empty", "no cell is filled"
		case s.filled == 0:
			col.Role = "value"
			t.measure(&col, bare, inName, units[c], q, s)
		case role == "record number" && s.steps, s.steps && c == 0 && q.id == "":
			col.Role, col.Sure, col.Evidence = "record number", sureIf(role != ""), "whole numbers that go up by one"
		case role != "" && role != "value" && role != "record number" && q.id == "" && (role != "channel" && role != "sensor" || !numeric || len(s.values)*2 < s.filled):
			col.Role, col.Evidence = role, fmt.Sprintf("its name, and %d different entries", len(s.values))
		case !numeric && !t.missingOnly(s):
			col.Role, col.Evidence = "text", "its cells are no numbers"
		default:
			col.Role = "value"
			t.measure(&col, bare, inName, units[c], q, s)
		}
		if col.Role == "value" {
			col.Channel = unique(channelOf(col, bare), taken, col.Position)
		}
		t.columns = append(t.columns, col)
	}
}

// missingOnly tells whether all cells that are no number are missing codes.
func (t *table) missingOnly(s stats) bool {
	for text := range s.texts {
		if !slices.Contains(missingTexts, strings.ToLower(text)) {
			return false
		}
	}
	return true
}

// measure guesses the quantity and unit of a value column, and its missing
// codes.
func (t *table) measure(col *Column, bare, inName, inRow string, q quantity, s stats) {
	unit, from := "", ""
	if u, ok := source.CanonicalUnit(strings.Trim(inRow, "()[]")); ok {
		unit, from = u, "the unit line"
	} else if inName != "" {
		unit, from = inName, "the name"
	}
	col.Unit = written(unit)
	byUnit := quantityByUnit(unit)
	switch why, other := otherUnits[unit]; {
	case other:
		col.Quantity, col.Sure, col.Evidence = q.id, Asked, why
		if unit == "lx" || unit == "fc" {
			col.Quantity = ""
		}
	case q.id != "" && unit != "" && slices.Contains(q.units, unit):
		col.Quantity, col.Sure, col.Evidence = q.id, Certain, "its name and its unit in "+from
	case byUnit.id != "":
		col.Quantity, col.Sure, col.Evidence = byUnit.id, Likely, "its unit in "+from
		if q.id != "" && q.id != byUnit.id {
			col.Sure, col.Evidence = Asked, fmt.Sprintf("its name sounds like %s, its unit like %s", q.id, byUnit.id)
		}
	case q.id != "":
		col.Quantity, col.Sure, col.Evidence = q.id, Likely, "its name; no unit is stated"
	default:
		col.Sure, col.Evidence = Asked, "neither its name nor a unit tells what it measures"
	}
	if s.numbers > len(s.codes) {
		col.Evidence += fmt.Sprintf("; values from %s to %s", trimFloat(s.min), trimFloat(s.max))
	}
	texts := make([]string, 0, len(s.texts))
	for text := range s.texts {
		if slices.Contains(missingTexts, strings.ToLower(text)) {
			texts = append(texts, text)
		}
	}
	slices.Sort(texts)
	col.missing = append(texts, s.codes...)
	if len(col.missing) > 0 {
		col.Evidence += "; missing codes " + strings.Join(col.missing, ", ")
	}
}

func trimFloat(f float64) string { return strconv.FormatFloat(f, 'f', -1, 64) }

// channelOf proposes a channel's name: the quantity where the name says no more.
func channelOf(col Column, bare string) string {
	if col.Quantity != "" && !strings.ContainsAny(bare, "0123456789") {
		return col.Quantity
	}
	if s := slug(bare); s != "" {
		return s
	}
	return fmt.Sprintf("column_%d", col.Position)
}

func unique(name string, taken map[string]bool, position int) string {
	if taken[name] {
		name = fmt.Sprintf("%s_%d", name, position)
	}
	taken[name] = true
	return name
}

// names gives the column names, "" where there are none.
func (t *table) names() []string {
	out := make([]string, t.width)
	if t.nameRow > 0 {
		for c, cell := range t.recs[t.block[t.nameRow-1]].cells {
			if c < t.width {
				out[c] = strings.Join(strings.Fields(cell), " ")
			}
		}
	}
	return out
}

func (t *table) units() []string {
	out := make([]string, t.width)
	if t.unitRow > 0 {
		copy(out, t.recs[t.block[t.unitRow-1]].cells)
	}
	return out
}

// decideLayout tells wide from long.
func (t *table) decideLayout() {
	if t.long = t.isLong(-1); t.long {
		t.dropFlaggedCodes()
		t.report.add(Finding{"layout", "long", Certain, "one column of channels, one of values"})
		return
	}
	t.report.add(Finding{"layout", "wide", sureIf(len(t.withRole("channel")) == 0), fmt.Sprintf("%d columns of values", len(t.withRole("value")))})
}

// dropFlaggedCodes takes back missing codes that stand only where the status
// already tells that the value is no good.
func (t *table) dropFlaggedCodes() {
	flag := slices.IndexFunc(t.columns, func(c Column) bool { return c.Role == "flag" })
	if flag < 0 {
		return
	}
	good := t.goodFlags(flag)
	for i := range t.columns {
		c := &t.columns[i]
		c.missing = slices.DeleteFunc(c.missing, func(code string) bool {
			for _, r := range t.recs[t.first:] {
				if i < len(r.cells) && flag < len(r.cells) && r.cells[i] == code && slices.Contains(good, r.cells[flag]) {
					return false
				}
			}
			return true
		})
	}
}

// sensorAt is where the sensor's name comes from.
type sensorAt struct {
	constant string
	header   string // pattern
	column   int    // 1 = first; 0 for none
}

var titleSensor = regexp.MustCompile(`(?i)^["#\s]*(serial(?: no\.?| number)?|s/n|logger(?: id| name)?|device(?: id| name)?|unit|station|sensor)\s*[:=]\s*"?([A-Za-z0-9][\w.-]*)`)

// dateRun is a date, or a run of digits as long as one, in a file name.
var dateRun = regexp.MustCompile(`\d{4}[-_.]\d{2}[-_.]\d{2}([-_T]?\d{4,6})?|\d{6,}|\d{4}[-_]\d{2}`)

// findSensor finds the name of the sensor: a column, a title line, or else what
// the file name holds beside dates.
func (t *table) findSensor() {
	if len(t.sensorOpen) > 0 {
		t.report.add(Finding{"sensor", "", Asked, "more than one column could name it"})
		return
	}
	if t.sensor.column > 0 {
		t.report.add(Finding{"sensor", "column " + strconv.Itoa(t.sensor.column), Likely, t.columns[t.sensor.column-1].Evidence})
		return
	}
	for _, c := range t.columns {
		if c.Role == "sensor" {
			t.sensor.column = c.Position
			t.report.add(Finding{"sensor", "column " + strconv.Itoa(c.Position), Likely, "the column " + strconv.Quote(c.Name)})
			return
		}
	}
	for i := range t.first {
		if m := titleSensor.FindStringSubmatch(t.recs[i].text); m != nil {
			t.sensor.header = `^["#\s]*` + regexp.QuoteMeta(m[1]) + `\s*[:=]\s*"?([A-Za-z0-9][\w.-]*)`
			t.report.add(Finding{"sensor", m[2], Likely, fmt.Sprintf("line %d names it", t.recs[i].line)})
			return
		}
	}
	t.sensor.constant = t.stem()
	t.report.add(Finding{"sensor", t.sensor.constant, Likely, "the file's name, since neither a column nor a title line names it"})
}

// stem is the file's name without suffix and dates, as a plain word.
func (t *table) stem() string {
	base := strings.TrimSuffix(t.member, path.Ext(t.member))
	if s := slug(dateRun.ReplaceAllString(base, "")); s != "" {
		return s
	}
	return "logger"
}

// globOf makes a pattern of the file's name: dates become *.
func (t *table) globOf() string {
	name := dateRun.ReplaceAllString(t.member, "\x00")
	name = regexp.MustCompile(`[*?\[\]\\]`).ReplaceAllString(name, "?")
	name = strings.ReplaceAll(name, "\x00", "*")
	if strings.HasSuffix(strings.ToLower(t.name), ".zip") { // the zip's own name is what ingest matches
		name = regexp.MustCompile(`[*?\[\]\\]`).ReplaceAllString(path.Base(strings.ReplaceAll(t.name, `\`, "/")), "?")
	}
	return name
}
