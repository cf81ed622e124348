package inspect

import (
	"fmt"
	"strings"

	"wane/ingest/decode/emit"
)

// soundWidth refuses a table whose lines have more cells than its header names: a
// decimal comma was taken for the delimiter, or the header is another table's.
func (t *table) soundWidth() error {
	if t.first >= len(t.recs) {
		return nil
	}
	head := record{}
	for i := t.first - 1; i >= 0 && i >= t.first-3; i-- {
		if r := t.recs[i]; !allBlank(r.cells) && !t.isComment(r) {
			head = r
			break
		}
	}
	names := len(head.cells)
	for names > 0 && head.cells[names-1] == "" {
		names--
	}
	used := t.usedWidth()
	values := used - len(t.times)
	if t.delim == ',' && t.decimal == '.' && names >= 2 && used > names && (used-len(t.times)) <= 2*(names-1) &&
		t.looksSplit() {
		return &emit.FileError{File: t.name, Line: t.recs[t.first].line,
			What: fmt.Sprintf("its lines have %d cells, and its header %d: numbers with a decimal comma stand in a file "+
				"whose cells are parted by commas", used, names),
			Do: "export again with ; or tab between the cells, with quotes round them, or with decimal points"}
	}
	if t.delim == ',' && t.nameRow == 0 && names < 2 && values >= 2 && (t.variesInWidth() || t.halves(used)) {
		return &emit.FileError{File: t.name, Line: t.recs[t.first].line,
			What: "its cells look like whole and decimal parts by turns: numbers with a decimal comma may stand in a file " +
				"whose cells are parted by commas",
			Do: "export again with ; or tab between the cells, with quotes round them, or with decimal points"}
	}
	if names >= 2 && used > names && t.nameRow == 0 && t.placed == nil && nameLike(head.cells[:names]) {
		return &emit.FileError{File: t.name, Line: head.line,
			What: fmt.Sprintf("this header names %d columns, and the lines below have %d", names, used),
			Do:   "say which column is which by positions in a description written by hand, or export again"}
	}
	return nil
}

// usedWidth is how many cells of the usual line are ever filled.
func (t *table) usedWidth() int {
	used := 0
	for r := range t.rows() {
		used = max(used, len(trimmedCells(r.cells)))
	}
	return used
}

// looksSplit tells whether the cells behind the stamp look like whole and decimal
// parts: digits alone, without a point anywhere.
func (t *table) looksSplit() bool {
	n := 0
	for i := t.first; i < len(t.recs) && n < 200; i++ {
		if !t.stamped[i] {
			continue
		}
		n++
		for c, cell := range t.recs[i].cells {
			if !t.isTimeColumn(c) && pointNumber.MatchString(cell) && strings.Contains(cell, ".") {
				return false
			}
		}
	}
	return true
}

// halves tells whether, without a header, whole numbers stand in pairs of which the
// second always has as many digits, as decimals have.
func (t *table) halves(used int) bool {
	from := 0
	for from < used && t.isTimeColumn(from) {
		from++
	}
	if (used-from)%2 != 0 || used-from < 2 {
		return false
	}
	for c := from; c < used; c++ {
		digits, rows, seen := 0, 0, map[string]bool{}
		for r := range t.rows() {
			cell := r.cell(c)
			if cell == "" {
				continue
			}
			if (c-from)%2 == 0 {
				cell = strings.TrimPrefix(cell, "-")
			} else if rows > 0 && len(cell) != digits {
				return false
			}
			if !isDigitText(cell) {
				return false
			}
			digits = len(cell)
			rows++
			seen[cell] = true
		}
		if (c-from)%2 == 1 && (rows < 8 || len(seen) < 6 || digits > 6) {
			return false
		}
	}
	return true
}

// variesInWidth tells whether many lines have more or fewer cells than usual.
func (t *table) variesInWidth() bool {
	n, other := 0, 0
	for i := t.first; i < len(t.recs); i++ {
		if allBlank(t.recs[i].cells) {
			continue
		}
		n++
		if len(t.recs[i].cells) != t.width {
			other++
		}
	}
	return 10*other >= n && n > 3
}

// nameLike tells whether cells look like names of columns.
func nameLike(cells []string) bool {
	n := 0
	for _, c := range cells {
		if c != "" && !pointNumber.MatchString(c) && !isDigit(c[0]) {
			n++
		}
	}
	return 2*n > len(cells)
}
