package inspect

import (
	"fmt"
	"maps"
	"math"
	"regexp"
	"slices"
	"strings"

	"wane/ingest/source"
)

// What is left out of a table is claimed to be no reading, and what is stored to be one as it
// stands: each number of the file is accounted for.

// manyDigits is a cell that is a number to the eye: digits and the marks of numbers, and at
// most a few letters or a check sum behind.
var manyDigits = regexp.MustCompile(`^[<>~≈*(+-]{0,2} *\d[\d.,'  \x{a0}\x{202f}\x{2019}]*[)*]?( ?[\pL%°²³/µ]{1,4}[)*]?)?(\*[0-9A-Fa-f]{2})?$`)

// proveLeftOut: a column of words holds no numbers that are only written in an unknown way.
// Numbers that are names are few, or the same throughout.
func (t *table) proveLeftOut() (string, Sure) {
	for _, c := range t.withRole("text") {
		if t.sensor.column == c+1 || slices.Contains(t.sensor.columns, c+1) || slices.Contains(t.sensorOpen, c) {
			continue
		}
		s := t.statsOf(c)
		odd, shown := s.numbers, ""
		for cell, n := range s.texts {
			if manyDigits.MatchString(cell) {
				odd += n
				if shown == "" || cell < shown {
					shown = cell
				}
			}
		}
		bare, unit := unitIn(t.columns[c].Name)
		said := unit != "" || quantityOf(bare).id != ""
		if said && odd >= 3 || 2*odd > s.filled && odd >= 3 && 5*len(s.values) > s.filled && len(s.values) > 2 {
			if shown == "" {
				shown = sortedKeys(s.texts)[0]
			}
			t.ask("columns", fmt.Sprintf("column %d (%s) holds numbers and is left out, since most of its cells, such as %s, "+
				"are none: is it measured? Say how its numbers are written (decimalChar, groupChar, cellUnits, missingValues)",
				c+1, strings.TrimSpace(clip(t.columns[c].Name)), clip(shown)))
		}
		if t.signs(c, s) {
			t.ask("columns", fmt.Sprintf("column %d holds the signs of column %d, as it seems, whose numbers have none: export "+
				"them as one", c+1, c+2))
		}
	}
	return "", Certain
}

// signs tells whether a column of words holds nothing but plus and minus before a column of
// numbers without.
func (t *table) signs(c int, s stats) bool {
	for cell := range s.values {
		if cell != "+" && cell != "-" && cell != "−" {
			return false
		}
	}
	if len(s.values) == 0 || s.filled == s.values["-"] && s.filled == s.rows {
		return false
	}
	return c+1 < len(t.columns) && t.columns[c+1].Role == "value" && t.statsOf(c+1).min >= 0
}

var (
	// scaleFactor is a power of ten that a name multiplies or divides by: "x10", "*0.1", "/10", "1/10 °C".
	scaleFactor = regexp.MustCompile(`(?i)(?:(?:^|[\s_(\[])x|[×*·÷/])\s*(?:10+|0[.,]0*1|1e-?\d|10\^-?\d)(?:\D|$)`)
	// scaledUnit is a number before a unit: "0.1 V".
	scaledUnit = regexp.MustCompile(`(?:^|[\[(,])\s*(?:0[.,]0*1|10+)\s*([^\])\d\s][^\])]*)[\])]?\s*$`)
)

// statesFactor tells whether a name or a unit says that the numbers are those of the unit by a
// factor.
func statesFactor(text string) bool {
	if scaleFactor.MatchString(text) {
		return true
	}
	m := scaledUnit.FindStringSubmatch(text)
	if m == nil {
		return false
	}
	_, known := source.CanonicalUnit(strings.TrimSpace(m[1]))
	return known
}

// proveScale: a unit has no number before it. One that has, or a factor in the name, tells
// that the file's numbers are not those of the unit.
func (t *table) proveScale() (string, Sure) {
	units := t.units()
	t.askOfTitle()
	for _, c := range t.withRole("value") {
		if t.isSetting(c) && !hasWord(t.columns[c].Name, rawWords) {
			t.ask("columns", fmt.Sprintf("column %d (%s) is named for what was set or planned, and no other column is measured: is "+
				"this one?", c+1, strings.TrimSpace(clip(t.columns[c].Name))))
			continue
		}
		for _, said := range []string{t.columns[c].Name, units[c]} {
			if hasWord(said, rawWords) {
				t.ask("unit", fmt.Sprintf("column %d (%s) counts in no unit: which factor turns its numbers into one? It goes into "+
					"register/sensors.csv", c+1, strings.TrimSpace(clip(said))))
				break
			}
			if statesFactor(said) {
				t.ask("unit", fmt.Sprintf("column %d (%s) states a factor: its numbers are stored as they stand, and the factor "+
					"that turns them into the unit goes into register/sensors.csv", c+1, strings.TrimSpace(clip(said))))
				break
			}
		}
	}
	return "", Certain
}

// askOfTitle asks where a title states a unit of light, and the columns of light others.
func (t *table) askOfTitle() {
	light := append([]string{"umol/m2/s"}, relativeLight...)
	var stated []string
	for _, c := range t.withRole("value") {
		if u := unitKey(t.columns[c].Unit); slices.Contains(light, u) {
			stated = append(stated, u)
		}
	}
	for i, r := range t.recs[:t.first] {
		for _, word := range strings.Fields(r.text) {
			if u := unitKey(strings.Trim(word, `"(),;:`)); len(stated) > 0 && !slices.Contains(t.block, i) && len(u) > 1 &&
				slices.Contains(light, u) && !slices.Contains(stated, u) {
				t.ask("unit", fmt.Sprintf("line %d states %s, and the columns of light state %s: which holds?", r.line, word, stated[0]))
				return
			}
		}
	}
}

// badWords are statuses of values that are none.
var badWords = []string{"invalid", "bad", "fault*", "error*", "err", "fail*", "suspect", "stale", "timeout", "nok",
	"ungültig", "fehler", "ongeldig", "fout", "invalide", "erreur", "inválido", "errore", "uncertain"}

// proveFlags: a status that some rows have in place of the usual one does not stand where a
// column has nothing but one number, as instruments write it for no reading.
func (t *table) proveFlags() (string, Sure) {
	if t.long {
		return "", Certain
	}
	for _, f := range append(t.withRole("flag"), t.withRole("text")...) {
		s := t.statsOf(f)
		if len(s.values) > 12 || isState(s) { // a lamp that is off gives no light
			continue
		}
		bad := slices.DeleteFunc(sortedKeys(s.values), func(cell string) bool { return !hasWord(cell, badWords) })
		if len(bad) > 0 && len(bad) < len(s.values) && t.valuesBeside(f, bad) {
			good := slices.DeleteFunc(sortedKeys(s.values), func(cell string) bool { return slices.Contains(bad, cell) })
			t.ask("flag", fmt.Sprintf("column %d says %s on some rows: are their values no readings? Then name the statuses of "+
				"good ones at each column", f+1, clip(bad[0])), fmt.Sprintf("flag: %s, goodFlags: [%s]", t.ref(f), quoteAll(good)))
			return "", Certain
		}
		usual := mostOf(s.values)
		if word, n := t.stuckBy(f, usual); n > 0 {
			t.ask("flag", fmt.Sprintf("on the %d rows on which column %d says %s each column of values has one and the "+
				"same number: "+
				"are these no readings? Then name the statuses of good ones at each column", n, f+1, clip(word)),
				fmt.Sprintf("flag: %s, goodFlags: [%s]", t.ref(f), quote(usual)))
			return "", Certain
		}
	}
	return "", Certain
}

// valuesBeside tells whether rows on which a column has some of the entries hold numbers that
// would be stored.
func (t *table) valuesBeside(f int, entries []string) bool {
	for r := range t.rows() {
		if f >= len(r.cells) || !slices.Contains(entries, r.cells[f]) {
			continue
		}
		for _, v := range t.withRole("value") {
			if _, ok := t.numberIn(r, v); ok && !slices.Contains(t.columns[v].missing, r.cells[v]) {
				return true
			}
		}
	}
	return false
}

// stuckBy gives a status other than the usual one with which every column of values has one
// and the same number, where that would be a chance of less than one in a hundred.
func (t *table) stuckBy(f int, usual string) (word string, n int) {
	type said struct {
		n     int
		value string
		many  bool
	}
	by := map[string]*said{}
	count := map[string]int{}
	all := 0
	for r := range t.rows() {
		if f >= len(r.cells) {
			continue
		}
		values := r.key(t.withRole("value"))
		all++
		count[values]++
		if r.cells[f] == usual {
			continue
		}
		one := by[r.cells[f]]
		if one == nil {
			one = &said{value: values}
			by[r.cells[f]] = one
		}
		one.n++
		one.many = one.many || one.value != values
	}
	for _, word := range slices.Sorted(maps.Keys(by)) {
		one := by[word]
		if chance := math.Pow(float64(count[one.value])/float64(all), float64(one.n)); !one.many && one.n >= 3 && chance < 0.01 &&
			t.valuesBeside(f, []string{word}) {
			return word, one.n
		}
	}
	return "", 0
}
