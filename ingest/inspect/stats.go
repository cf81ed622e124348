package inspect

import (
	"cmp"
	"iter"
	"slices"
	"strconv"
	"strings"

	"wane/ingest/decode/number"
	"wane/ingest/reading"
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

// rows are the lines of data: those from the first on whose stamp reads.
func (t *table) rows() iter.Seq[record] {
	return func(yield func(record) bool) {
		for i := t.first; i < len(t.recs); i++ {
			if t.stamped[i] && !yield(t.recs[i]) {
				return
			}
		}
	}
}

// moments are the lines of data with what their clock shows, while the order of dates is open in one of its readings.
func (t *table) moments() iter.Seq2[int64, record] {
	return func(yield func(int64, record) bool) {
		p, ok := compiled(t.anyFormat())
		if !ok {
			return
		}
		for r := range t.rows() {
			s, _ := stampOf(r.cells, t.times)
			if at, fits := p.fits(s); fits && !yield(at, r) {
				return
			}
		}
	}
}

// cell is that of a column, "" where the line is shorter.
func (r record) cell(c int) string {
	if c < 0 || c >= len(r.cells) {
		return ""
	}
	return r.cells[c]
}

// key joins the cells of columns.
func (r record) key(cols []int) string {
	var b strings.Builder
	for _, c := range cols {
		b.WriteString(r.cell(c) + "\x00")
	}
	return b.String()
}

// numberIn reads a cell as a number, its unit aside.
func (t *table) numberIn(r record, c int) (reading.Value, bool) {
	v, st := t.notation().Parse([]byte(t.withoutUnit(r.cell(c))))
	return v, st == number.OK
}

func (t *table) statsOf(c int) stats {
	s := stats{texts: map[string]int{}, values: map[string]int{}, steps: true, whole: true}
	var last float64
	before := 0 // the line of last
	var all []float64
	for r := range t.rows() {
		s.rows++
		cell := r.cell(c)
		if cell == "" {
			continue
		}
		s.filled++
		if len(s.values) < manyValues {
			s.values[cell]++
		}
		v, ok := t.numberIn(r, c)
		if !ok {
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
	for _, code := range t.saidCodes {
		if x, err := strconv.ParseFloat(code, 64); err == nil && slices.Contains(all, x) {
			s.codes = append(s.codes, code)
		}
	}
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

// mostOf gives what was counted most often, of equal ones the least.
func mostOf[K cmp.Ordered](count map[K]int) (most K) {
	best := 0
	for k, n := range count {
		if n > best || n == best && k < most {
			most, best = k, n
		}
	}
	return most
}
