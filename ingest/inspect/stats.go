package inspect

import (
	"slices"
	"strconv"

	"wane/ingest/decode/number"
)

// stats is what a column's data cells look like.
type stats struct {
	rows, filled, numbers int
	texts                 map[string]int // cells that are no number
	values                map[string]int // all cells, up to a bound
	min, max              float64
	steps                 bool // whole numbers that go up by one
	whole                 bool // all numbers are whole
	long                  int  // digits of the longest whole number
	codes                 []string
}

const manyValues = 2000

func (t *table) statsOf(c int) stats {
	s := stats{texts: map[string]int{}, values: map[string]int{}, steps: true, whole: true}
	note := t.notation()
	var last float64
	before := 0 // the line of last
	var all []float64
	for i, r := range t.recs {
		if i < t.first || !t.stamped[i] {
			continue
		}
		s.rows++
		if c >= len(r.cells) || r.cells[c] == "" {
			continue
		}
		cell := r.cells[c]
		s.filled++
		if len(s.values) < manyValues {
			s.values[cell]++
		}
		v, st := note.Parse([]byte(t.withoutUnit(cell)))
		if st != number.OK {
			s.texts[cell]++
			s.steps = false
			continue
		}
		x := v.Float()
		if s.numbers > 0 && (x != last+1 && x != last+float64(r.line-before) || v.Digits > 0) {
			s.steps = false
		}
		last, before = x, r.line
		s.numbers++
		s.whole = s.whole && v.Float() == float64(int64(v.Float()))
		if isDigitText(cell) {
			s.long = max(s.long, len(cell))
		}
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
		// Where nothing or hardly anything else stands, nothing tells that it is a code.
		if n > 0 && below >= 4 && above <= len(all)/100 && !slices.Contains(s.codes, text) {
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
