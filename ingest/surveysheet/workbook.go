package surveysheet

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"

	"wane/ingest/decode/unwrap"
	"wane/ingest/decode/workbook"
)

// IsWorkbook says whether data begins like an .xlsx file (a zip).
func IsWorkbook(data []byte) bool { return bytes.HasPrefix(data, []byte("PK\x03\x04")) }

// isOldWorkbook says whether data begins like an .xls file, or like an .xlsx that
// is locked by a password.
func isOldWorkbook(data []byte) bool {
	return bytes.HasPrefix(data, []byte{0xd0, 0xcf, 0x11, 0xe0, 0xa1, 0xb1, 0x1a, 0xe1})
}

// Sheets lays a file out in cells: each sheet of a workbook that holds something,
// or one sheet of text.
func Sheets(data []byte) (out []*Sheet, err error) {
	switch {
	case isOldWorkbook(data):
		return nil, fmt.Errorf("this is an .xls workbook, or one locked by a password; save it as .xlsx or CSV without a password")
	case !IsWorkbook(data):
		s, err := TextSheet(data)
		return []*Sheet{s}, err
	case len(data) > MaxBytes:
		return nil, fmt.Errorf("survey sheet is over %d MiB; split it by survey", MaxBytes>>20)
	}
	r := bytes.NewReader(data)
	book, err := workbook.Open("the sheet", r, bufio.NewReader(r), unwrap.Default)
	if err != nil {
		return nil, fmt.Errorf("%w; or save it again as .xlsx", err)
	}
	defer func() { err = errors.Join(err, book.Close()) }()
	for _, name := range book.Sheets() {
		s, err := workbookSheet(book, name)
		if err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	return out, nil
}

// workbookSheet reads one sheet: numbers as stored, not as shown, dates and times
// in ISO's form.
func workbookSheet(book *workbook.Book, name string) (s *Sheet, err error) {
	rows, err := book.Rows(name, ".")
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	s = &Sheet{Name: name}
	for n := 0; ; {
		row, err := rows.Next()
		if errors.Is(err, io.EOF) {
			return s, nil
		}
		if err != nil {
			return nil, err
		}
		if n += len(row); n > MaxCells {
			return nil, fmt.Errorf("sheet %s has over %d cells; split it by survey", name, MaxCells)
		}
		cells := make([]Cell, len(row))
		for c, text := range row {
			cells[c].Text = strings.TrimSpace(strings.ReplaceAll(text, "\u00a0", " "))
		}
		s.Cells = append(s.Cells, cells)
	}
}
