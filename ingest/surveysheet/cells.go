package surveysheet

import (
	"encoding/csv"
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Cell is one cell of a sheet; a date of a spreadsheet is text in ISO's form.
type Cell struct{ Text string }

// Sheet is one sheet of a workbook, or a text file as rows and columns. Rows may
// differ in length.
type Sheet struct {
	Name  string // "" for text
	Cells [][]Cell
}

// at gives a cell, empty outside the sheet.
func (s *Sheet) at(row, col int) Cell {
	if row < 0 || row >= len(s.Cells) || col < 0 || col >= len(s.Cells[row]) {
		return Cell{}
	}
	return s.Cells[row][col]
}

// where names a cell as spreadsheets do, with the sheet where it has a name.
func (s *Sheet) where(row, col int) string {
	name := fmt.Sprintf("%s%d", columnName(col), row+1)
	if s.Name != "" {
		return s.Name + "!" + name
	}
	return name
}

// columnName is A for 0, Z for 25, AA for 26.
func columnName(col int) string {
	name := ""
	for col++; col > 0; col = (col - 1) / 26 {
		name = string(rune('A'+(col-1)%26)) + name
	}
	return name
}

// MaxCells bounds a sheet: a survey day is a few pages.
const MaxCells = 1 << 20

// TextSheet lays a text file out in cells: parted by tabs, else semicolons, else
// commas, else by two or more spaces, quotes as in CSV.
func TextSheet(data []byte) (*Sheet, error) {
	if len(data) > MaxBytes {
		return nil, fmt.Errorf("survey sheet is over %d MiB; split it by survey", MaxBytes>>20)
	}
	if !utf8.Valid(data) {
		return nil, fmt.Errorf("survey sheet is not UTF-8 text; save it again as UTF-8 CSV or as .xlsx")
	}
	text := strings.TrimPrefix(string(data), "\ufeff")
	text = strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\r", "\n")
	var rows [][]string
	if sep := cellSeparator(text); sep != 0 {
		// csv passes over blank lines; they part grids, so lines are read one by one
		for _, line := range strings.Split(text, "\n") {
			one := csv.NewReader(strings.NewReader(line))
			one.Comma, one.FieldsPerRecord, one.LazyQuotes = sep, -1, true
			fields, err := one.Read()
			if err != nil {
				fields = nil
			}
			rows = append(rows, fields)
		}
	} else {
		for _, line := range strings.Split(text, "\n") {
			rows = append(rows, spaced(line))
		}
		for i := 0; i+1 < len(rows); i++ { // column labels stand over the numbers, not over the rows' labels
			if n := len(rows[i]); n > 1 && n+1 == len(rows[i+1]) && rows[i][0] != "" {
				if _, ok := label(rows[i+1][0]); ok {
					rows[i] = append([]string{""}, rows[i]...)
				}
			}
		}
	}
	s := &Sheet{}
	n := 0
	for _, r := range rows {
		cells := make([]Cell, len(r))
		for i, f := range r {
			cells[i].Text = strings.TrimSpace(strings.ReplaceAll(f, "\u00a0", " "))
		}
		if n += len(r); n > MaxCells {
			return nil, fmt.Errorf("survey sheet has over %d cells; split it by survey", MaxCells)
		}
		s.Cells = append(s.Cells, cells)
	}
	return s, nil
}

// cellSeparator finds what parts the cells; 0 is spaces. Of several signs the
// first in the order of trust that parts two lines or more.
func cellSeparator(text string) rune {
	for _, sep := range []rune{'\t', ';', ','} {
		lines := 0
		for _, l := range strings.Split(text, "\n") {
			if strings.ContainsRune(l, sep) {
				lines++
			}
		}
		if lines >= 2 {
			return sep
		}
	}
	return 0
}

// spaced cuts a line at runs of spaces where all its words are numbers or
// labels, else at two or more spaces, so that "Supply 240 V" stays together.
func spaced(line string) []string {
	fields := strings.Fields(line)
	numbers := 0
	for _, f := range fields {
		if _, err := number(f); err == nil || missing(f) && f != "" {
			numbers++
		}
	}
	if numbers >= len(fields)-1 && numbers >= 2 {
		return fields
	}
	labels := len(fields) > 1
	for _, f := range fields {
		_, ok := label(f)
		labels = labels && ok
	}
	if labels {
		return fields
	}
	var out []string
	rest := strings.TrimFunc(line, unicode.IsSpace)
	for rest != "" {
		i := strings.Index(rest, "  ")
		if i < 0 {
			out = append(out, rest)
			break
		}
		out = append(out, rest[:i])
		rest = strings.TrimLeft(rest[i:], " ")
	}
	return out
}
