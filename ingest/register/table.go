package register

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"wane/ingest/decode/stamp"
	"wane/ingest/problem"
)

// table is one CSV file of the register while it is being read: rows as named
// fields with the place of each.
type table struct {
	file  string
	found problem.List
	names []string // of the columns, in the order of the file
	rows  []row
	cells []string // of all rows, without the spaces around them
	cols  []int32  // of all rows: the 1-based byte column where each field starts
}

type row struct {
	t    *table
	line int
	from int // in t.cells and t.cols
}

// read takes the CSV apart. Columns may stand in any order; a missing one is a
// problem, unless it is optional, as is one that the register does not have.
func read(file string, data []byte, columns []string, optional ...string) *table {
	t := &table{file: file}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	r := csv.NewReader(bytes.NewReader(data))
	r.FieldsPerRecord = -1
	r.Comment = '#'
	r.ReuseRecord = true
	header, err := r.Read()
	if errors.Is(err, io.EOF) {
		t.add(0, 0, "the file is empty", "write the header "+strings.Join(columns, ","))
		return t
	}
	if err != nil {
		t.syntax(err)
		return t
	}
	for i, h := range header {
		h = strings.TrimSpace(h)
		line, col := r.FieldPos(i)
		twice := contains(t.names, h)
		switch {
		case !contains(columns, h) && !contains(optional, h):
			do := "take it out; the columns are " + strings.Join(columns, ",")
			if near := problem.Nearest(h, append(slices.Clone(columns), optional...)); near != "" {
				do = fmt.Sprintf("did you mean %q?", near)
			}
			t.add(line, col, fmt.Sprintf("unknown column %q", h), do)
		case twice:
			t.add(line, col, fmt.Sprintf("column %q stands twice", h), "keep one")
		}
		t.names = append(t.names, h)
	}
	for _, c := range columns {
		if !contains(t.names, c) {
			t.add(1, 0, fmt.Sprintf("column %q is missing", c),
				"add it to the header; its cells may be empty where a value is optional")
		}
	}
	if len(t.found) > 0 {
		return t
	}
	width := len(header)
	lines := min(bytes.Count(data, []byte{'\n'}), len(data)/width) // a row has at least its commas
	t.rows, t.cells, t.cols = make([]row, 0, lines), make([]string, 0, lines*width), make([]int32, 0, lines*width)
	for {
		rec, err := r.Read()
		if errors.Is(err, io.EOF) {
			return t
		}
		if err != nil {
			t.syntax(err)
			return t
		}
		line, _ := r.FieldPos(0)
		if len(rec) != width {
			t.add(line, 0, fmt.Sprintf("%d fields where the header has %d", len(rec), width),
				"quote a field that holds a comma; add commas for empty cells")
			continue
		}
		t.rows = append(t.rows, row{t, line, len(t.cells)})
		for i, cell := range rec {
			_, col := r.FieldPos(i)
			t.cells, t.cols = append(t.cells, strings.TrimSpace(cell)), append(t.cols, int32(col))
		}
	}
}

// each gives every row to fn, which writes only what is the row's own: several
// at once. What fn finds bad stands in order of the rows.
func (t *table) each(fn func(i int, w row)) {
	n := min(runtime.GOMAXPROCS(0), 1+len(t.rows)/rowsApart)
	parts := make([]table, n)
	var wg sync.WaitGroup
	for p := range parts {
		parts[p] = *t
		parts[p].found = nil
		wg.Go(func() {
			for i := len(t.rows) * p / n; i < len(t.rows)*(p+1)/n; i++ {
				w := t.rows[i]
				w.t = &parts[p]
				fn(i, w)
			}
		})
	}
	wg.Wait()
	for p := range parts {
		t.found = append(t.found, parts[p].found...)
	}
}

// rowsApart is about how many rows are worth a core of their own.
const rowsApart = 500

// get gives a field by the name of its column.
func (w row) get(field string) string {
	if i := slices.Index(w.t.names, field); i >= 0 {
		return w.t.cells[w.from+i]
	}
	return ""
}

func (t *table) add(line, col int, what, do string) {
	t.found = append(t.found, problem.Problem{File: t.file, Line: line, Column: col, What: what, Do: do})
}

func (t *table) syntax(err error) {
	var p *csv.ParseError
	if errors.As(err, &p) {
		t.add(p.Line, p.Column, p.Err.Error(), "quotes go around a whole field, a quote inside is doubled")
		return
	}
	t.add(0, 0, err.Error(), "")
}

func (w row) bad(field, what, do string) {
	col := 0
	if i := slices.Index(w.t.names, field); i >= 0 {
		col = int(w.t.cols[w.from+i])
	}
	w.t.add(w.line, col, field+": "+what, do)
}

// need gives a field that must not be empty.
func (w row) need(field string) string {
	s := w.get(field)
	if s == "" {
		w.bad(field, "is empty", "write a value")
	}
	return s
}

// oneOf gives a field that must be among the known words, in letters of either
// case, or empty where that is allowed.
func oneOf[T ~string](w row, field string, known []T, emptyOK bool) T {
	s := w.get(field)
	if s == "" && emptyOK {
		return ""
	}
	if i := slices.IndexFunc(known, func(k T) bool { return strings.EqualFold(string(k), s) }); i >= 0 {
		return known[i]
	}
	words := make([]string, len(known))
	for i, k := range known {
		words[i] = string(k)
	}
	do := "known: " + strings.Join(words, ", ")
	if near := problem.Nearest(s, words); near != "" {
		do = fmt.Sprintf("did you mean %q? %s", near, do)
	}
	w.bad(field, fmt.Sprintf("%q is not known", s), do)
	return ""
}

// number gives a number within [lo, hi]; empty gives the default.
func (w row) number(field string, empty, lo, hi float64, unit string) float64 {
	s := w.get(field)
	if s == "" {
		return empty
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		do := "write digits with a decimal point, " + unit
		if strings.Count(s, ",") == 1 {
			do = fmt.Sprintf("write %s", strings.Replace(s, ",", ".", 1))
		}
		w.bad(field, fmt.Sprintf("%q is not a number", s), do)
		return empty
	}
	if !(v >= lo && v <= hi) {
		w.bad(field, fmt.Sprintf("%s is not within %g to %g", s, lo, hi), "write "+unit)
		return empty
	}
	return v
}

// moment reads a date (start of that day at the site) or an RFC 3339 time.
func (w row) moment(field string, loc *time.Location) time.Time {
	s := w.get(field)
	if s == "" {
		return time.Time{}
	}
	if t, err := time.ParseInLocation("2006-01-02", s, loc); err == nil {
		return t
	}
	if t, err := stamp.RFC3339Time(s); err == nil {
		return t
	}
	w.bad(field, fmt.Sprintf("%q is neither a date nor a time", s), "write 2025-03-31, or 2025-03-31T14:00:00+02:00")
	return time.Time{}
}

// date reads a date only.
func (w row) date(field string, loc *time.Location) time.Time {
	s := w.get(field)
	if s == "" {
		return time.Time{}
	}
	t, err := time.ParseInLocation("2006-01-02", s, loc)
	if err != nil {
		w.bad(field, fmt.Sprintf("%q is not a date", s), "write year-month-day such as 2025-03-31")
	}
	return t
}

func contains(list []string, s string) bool {
	for _, l := range list {
		if l == s {
			return true
		}
	}
	return false
}
