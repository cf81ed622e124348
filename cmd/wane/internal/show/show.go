// Package show prints one table three ways: aligned for a terminal, CSV (RFC
// 4180) and JSON. The three carry the same columns in the same order.
//
// A cell is nil (nothing: an empty cell, null in JSON), a string, an int or
// int64, a float64 (printed with the column's digits; NaN and infinities are
// nothing), a bool, or a Date. Text that a spreadsheet would take for a formula
// is neutralised in CSV with a leading apostrophe.
package show

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"
)

// Format is how a table is printed.
type Format string

// The formats.
const (
	Text Format = "table"
	CSV  Format = "csv"
	JSON Format = "json"
)

// ParseFormat reads the --format flag.
func ParseFormat(s string) (Format, error) {
	switch f := Format(s); f {
	case Text, CSV, JSON:
		return f, nil
	}
	return "", fmt.Errorf("format %q is not known; use table, csv or json", s)
}

// Column is a named column; Digits is how many decimals its numbers get.
type Column struct {
	Name   string
	Digits int
	Wide   bool // too wide for a terminal: csv and json only
}

// Date is a calendar day.
type Date time.Time

// Table is columns and rows of cells.
type Table struct {
	Columns []Column
	Rows    [][]any
}

// Columns makes columns of the given names with no decimals.
func Columns(names ...string) []Column {
	out := make([]Column, len(names))
	for i, n := range names {
		out[i] = Column{Name: n}
	}
	return out
}

// Add appends a row.
func (t *Table) Add(cells ...any) {
	if len(cells) != len(t.Columns) {
		panic(fmt.Sprintf("show: %d cells for %d columns", len(cells), len(t.Columns)))
	}
	t.Rows = append(t.Rows, cells)
}

// Print writes the table.
func (t *Table) Print(w io.Writer, f Format) error {
	switch f {
	case CSV:
		return t.csv(w)
	case JSON:
		return t.json(w)
	}
	return t.text(w, Width(w))
}

func (t *Table) csv(w io.Writer) error {
	c := csv.NewWriter(w)
	rec := make([]string, len(t.Columns))
	for i, col := range t.Columns {
		rec[i] = col.Name
	}
	if err := c.Write(rec); err != nil {
		return err
	}
	for _, row := range t.Rows {
		for i, cell := range row {
			rec[i] = t.cell(i, cell)
			if _, text := cell.(string); text {
				rec[i] = Neutral(rec[i])
			}
		}
		if err := c.Write(rec); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

// Neutral makes a text that a spreadsheet would run as a formula plain text.
func Neutral(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}

func (t *Table) json(w io.Writer) error {
	var b strings.Builder
	b.WriteString("[")
	for r, row := range t.Rows {
		if r > 0 {
			b.WriteString(",")
		}
		b.WriteString("\n {")
		for i, cell := range row {
			if i > 0 {
				b.WriteString(", ")
			}
			name, err := json.Marshal(t.Columns[i].Name)
			if err != nil {
				return err
			}
			value, err := t.jsonCell(i, cell)
			if err != nil {
				return err
			}
			b.Write(name)
			b.WriteString(": ")
			b.Write(value)
		}
		b.WriteString("}")
	}
	b.WriteString("\n]\n")
	_, err := io.WriteString(w, b.String())
	return err
}

func (t *Table) jsonCell(i int, cell any) ([]byte, error) {
	switch v := cell.(type) {
	case string:
		return json.Marshal(v)
	case Date:
		return json.Marshal(t.cell(i, v))
	}
	s := t.cell(i, cell)
	if s == "" {
		return []byte("null"), nil
	}
	return []byte(s), nil
}

// OneLine keeps a name with tabs, newlines or escape codes from breaking the
// table or the terminal.
func OneLine(s string) string {
	return strings.Map(func(r rune) rune {
		if r < 0x20 || r >= 0x7f && r < 0xa0 { // C0, delete, C1
			return '?'
		}
		return r
	}, s)
}

func (t *Table) cell(i int, cell any) string {
	switch v := cell.(type) {
	case nil:
		return ""
	case string:
		return v
	case int:
		return strconv.Itoa(v)
	case int64:
		return strconv.FormatInt(v, 10)
	case bool:
		return strconv.FormatBool(v)
	case Date:
		return time.Time(v).Format("2006-01-02")
	case float64:
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return ""
		}
		s := strconv.FormatFloat(v, 'f', t.Columns[i].Digits, 64)
		if strings.Trim(s, "-0.") == "" {
			s = strings.TrimPrefix(s, "-") // no minus zero
		}
		return s
	}
	panic(fmt.Sprintf("show: no way to print a %T", cell))
}
