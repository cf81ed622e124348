package inspect

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"wane/ingest/decode/stamp"
	"wane/ingest/source"
)

// findColumns gives every column its role.
func (t *table) findColumns() {
	names, units := t.names(), t.units()
	t.nameCount = map[string]int{}
	for _, n := range names {
		t.nameCount[n]++
	}
	for c := range t.width {
		col := Column{Position: c + 1, Name: names[c], Sure: Likely}
		t.roleFor(&col, t.statsOf(c), units[c])
		t.columns = append(t.columns, col)
	}
	t.channelsInWords()
	t.findKinds()
}

// channelsInWords takes a column of numbers for that of channels only where it must tell rows of one moment apart.
func (t *table) channelsInWords() {
	for _, c := range t.withRole("channel") {
		if s := t.statsOf(c); s.numbers == s.filled && t.repeats(nil).repeated == 0 {
			col := &t.columns[c]
			col.Role = "value"
			t.measure(col, "", "", t.units()[c], quantity{}, s)
		}
	}
}

// findKinds takes a column of words for that of channels, under whatever name, where each of
// its entries says what is measured and one column holds the values.
func (t *table) findKinds() {
	if len(t.withRole("channel")) > 0 || len(t.withRole("value")) != 1 {
		return
	}
	for _, c := range t.withRole("text") {
		if s := t.statsOf(c); len(s.values) > 1 && len(s.values) <= 50 && t.measures(c) == 1 {
			t.columns[c].Role, t.columns[c].Evidence = "channel", "each of its entries says what is measured"
			return
		}
	}
}

// roleFor gives a column its role, by its name and what its cells look like.
func (t *table) roleFor(col *Column, s stats, unit string) {
	c := col.Position - 1
	role := roleOf(col.Name)
	numeric := s.numbers > 0 && float64(s.numbers) >= 0.5*float64(s.filled)
	bare, inName := unitIn(col.Name)
	q := quantityOf(bare)
	said := q.id != "" || inName != "" || unit != "" && roleOf(unit) != "record number" // its name tells what it measures
	aside := func(role, why string) { col.Role, col.Evidence = role, why }
	switch why := t.timeBeside(c, s); {
	case t.isTimeColumn(c):
		col.Role, col.Sure, col.Evidence = "time", Certain, "part of the time stamp"
	case t.days.count > 0 && t.inDay(c):
		col.Role = "value"
		t.measure(col, "", "", unit, quantity{}, s)
	case s.filled == 0 && !said:
		aside("empty", "no cell is filled")
	case s.filled == 0:
		col.Role = "value"
		t.measure(col, bare, inName, unit, q, s)
	case why != "":
		aside("other time", why)
	case t.isOffset(col.Name, s):
		aside("zone", "the offset of the clock from UTC")
	case (role == "sensor" || role == "channel") && (isState(s) || t.isSwitch(c, s)):
		aside("flag", "its entries say what state something is in, not what it is called")
	case (role == "sensor" || role == "channel") && !numeric && 2*s.filled < s.rows:
		aside("text", "named like a sensor, and filled now and then")
	case role == "record number" && s.steps, s.steps && !said && role != "value" && (c == 0 || s.numbers >= 10):
		col.Role, col.Sure, col.Evidence = "record number", sureIf(role != ""), "whole numbers that go up by one"
	case (role == "flag" || role == "text") && numeric && (!s.whole || len(s.values) > 12):
		col.Role = "value"
		t.measure(col, bare, inName, unit, q, s)
		col.Evidence += "; named like a status, but its numbers are measured"
	case role == "flag" && numeric: // whether it is named after what it qualifies or not
		aside(role, fmt.Sprintf("its name, and %d different whole numbers", len(s.values)))
	case role != "" && role != "value" && role != "record number" && q.id == "" &&
		(role != "channel" && role != "sensor" || !numeric || !said && s.whole && len(s.values)*2 < s.filled && !t.oneOfMany(c)):
		aside(role, fmt.Sprintf("its name, and %d different entries", len(s.values)))
	case !numeric && !t.missingOnly(s):
		aside("text", "its cells are no numbers")
	case t.days.count > 0:
		aside("beside the day", "a number beside the times of the day, such as their sum")
	default:
		col.Role = "value"
		t.measure(col, bare, inName, unit, q, s)
	}
}

// oneOfMany tells whether other columns have the name of this one but for its number, as
// zones and bays side by side have.
func (t *table) oneOfMany(c int) bool {
	names := t.names()
	shape, _, ok := numbered(names[c])
	return ok && slices.ContainsFunc(names, func(n string) bool {
		other, _, ok := numbered(n)
		return ok && other == shape && n != names[c]
	})
}

// isOffset tells whether a column says how far the clock is from UTC, in hours or minutes, or
// in words.
func (t *table) isOffset(name string, s stats) bool {
	if !hasWord(name, []string{"utc", "gmt", "tz", "zone", "timezone", "offset", "utcoffset",
		"utcversatz", "dst"}) || len(s.values) > 4 {
		return false
	}
	if s.numbers < s.filled { // a zone may be a part of the house
		for cell := range s.values {
			if _, said := offsetOf(cell); !said && !zoneLike.MatchString(cell) && !stamp.IsZoneWord(cell) {
				return false
			}
		}
		return true
	}
	return s.whole && s.min >= -14*60 && s.max <= 14*60 || s.min >= -14 && s.max <= 14
}

// zoneLike is a zone's name in words: Europe/Paris, Central European Standard Time, MESZ, Z.
var zoneLike = regexp.MustCompile(`^\w+/\w+|^[A-Z]{3,5}$|^Z$|(?i:\btime\b|zeit\b|standard|summer|winter|` +
	`daylight)`)

// stateWords are what a switch, a lamp or a mode can be.
var stateWords = []string{"on", "off", "true", "false", "yes", "no", "open", "closed", "auto", "manual", "ein", "aus",
	"an", "ja", "nein", "aan", "uit", "nee",
	"active", "inactive", "running", "stopped", "idle", "day", "night", "encendido", "apagado", "oui", "non", "acceso",
	"spento", "wł", "wył", "0", "1"}

// isState tells whether all entries are states in words.
func isState(s stats) bool {
	for cell := range s.values {
		if !slices.Contains(stateWords, strings.ToLower(cell)) {
			return false
		}
	}
	return s.numbers == 0 && len(s.values) > 0
}

// isSwitch tells whether a column has noughts and ones, and the same ones for a while.
func (t *table) isSwitch(c int, s stats) bool {
	return len(s.values) == 2 && s.values["0"]+s.values["1"] == s.filled && 5*t.turns(c) < s.filled
}

// timeBeside says why a column that is not part of the stamp is a time all the
// same, "" where it is none.
func (t *table) timeBeside(c int, s stats) string {
	if t.isTimeColumn(c) || s.filled == 0 {
		return ""
	}
	for part := range partWords {
		if t.partNamed(c, part) && s.whole && s.numbers == s.filled {
			if w := (whole{min: int(s.min), max: int(s.max)}); w.may(part) {
				return "a part of the date or the time of day"
			}
		}
	}
	if weekdays(s) {
		return "the day of the week"
	}
	if t.nameRow == 0 && (t.digitDate(c) || t.digitDate(c-1) && t.digitClock(c)) {
		return "another time"
	}
	n, of := 0, 0
	for cell := range s.values {
		if of++; of > 50 {
			break
		}
		for _, sh := range shapesOf(cell, true) {
			if !sh.digits || t.namedAsTime(c) && sh.pattern != "yyMMdd" {
				n++
				break
			}
		}
		if clockOnly.MatchString(cell) {
			n++
		}
	}
	if 10*n >= 9*min(of, 50) {
		return "another time"
	}
	return ""
}

// weekdayWords are the beginnings of the names of the days, in the languages of loggers met.
var weekdayWords = strings.Fields("mon tue wed thu fri sat sun mo di mi do fr sa so ma wo vr za zo lun mar mer jeu " +
	"ven sam dim mié mie jue vie sáb sab dom seg ter qua qui sex gio mån tis ons tor fre lör sön man lør søn pon wto " +
	"śro sro czw pią pia sob nie pn wt śr czw pt sb nd po út st čt pá so ne")

// weekdays tells whether a column holds days of the week in words and nothing else.
func weekdays(s stats) bool {
	if len(s.values) < 2 || len(s.values) > 7 || s.numbers > 0 {
		return false
	}
	for cell := range s.values {
		word := strings.ToLower(strings.TrimSuffix(cell, "."))
		if !slices.ContainsFunc(weekdayWords, func(w string) bool {
			return word == w || len(w) > 2 &&
				strings.HasPrefix(word, w)
		}) {
			return false
		}
	}
	return true
}

// digitDate tells whether all cells of a column are dates of eight digits.
func (t *table) digitDate(c int) bool {
	return t.allCells(c, func(cell string) bool {
		shapes := digitShapes(cell)
		return len(cell) == 8 && len(shapes) > 0 && shapes[0].pattern == "yyyyMMdd"
	})
}

// digitClock tells whether all cells of a column are times of day of four digits.
func (t *table) digitClock(c int) bool {
	return t.allCells(c, func(cell string) bool {
		return len(cell) == 4 && isDigitText(cell) && cell[2] < '6' &&
			cell <= "2400"
	})
}

func (t *table) allCells(c int, is func(string) bool) bool {
	n := 0
	for r := range t.rows() {
		if cell := r.cell(c); cell != "" {
			if n++; !is(cell) {
				return false
			}
		}
	}
	return n > 0
}

// clockOnly is a time of day.
var clockOnly = regexp.MustCompile(`^\d{1,2}:\d{2}(:\d{2})?(\.\d+)?$`)

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
	if u, ok := source.CanonicalUnit(t.unitInCells(col.Position - 1)); ok {
		unit, from = u, "the cells"
	} else if u, ok := source.CanonicalUnit(strings.Trim(inRow, "()[]")); ok {
		unit, from = u, "the unit line"
	} else if inName != "" && (len(col.Name) > 1 || s.numbers == 0 || s.max >= leastSupply) { // V may be for vents, W for wind
		unit, from = inName, "the name"
	}
	col.Unit = written(unit)
	byUnit := quantityByUnit(unit)
	if with := quantityWith(bare, unit); q.id != "" && with.id != "" {
		q = with
	} else if unit == "%" {
		q = quantity{}
	}
	if byUnit.id == "run_hours" && q.id == "" && t.wobbles(col.Position-1) {
		byUnit = quantity{} // an h in brackets has many meanings; hours count up
	}
	switch why, other := otherUnits[unit]; {
	case other:
		col.Sure, col.Evidence = Asked, why
		if q.id == multiples[unit] { // Watt-hours are no hours
			col.Quantity = q.id
		}
		if slices.Contains(relativeLight, unit) {
			col.Quantity, col.light = "ppfd", true
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
	copy(out, t.placed)
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
	copy(out, t.placedUnit)
	if t.unitRow > 0 {
		copy(out, t.recs[t.block[t.unitRow-1]].cells)
	}
	return out
}

// decideLayout tells wide from long.
func (t *table) decideLayout() {
	if t.days.count > 0 {
		return
	}
	if t.long = t.isLong(nil); t.long {
		t.report.add(Finding{"layout", "long", Certain, "one column of channels, one of values"})
		return
	}
	t.report.add(Finding{"layout", "wide", sureIf(len(t.withRole("channel")) == 0),
		fmt.Sprintf("%d columns of values", len(t.withRole("value")))})
}
