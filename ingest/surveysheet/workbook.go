package surveysheet

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"
)

// IsWorkbook says whether data begins like an .xlsx file (a zip).
func IsWorkbook(data []byte) bool { return bytes.HasPrefix(data, []byte("PK\x03\x04")) }

// isOldWorkbook says whether data begins like an .xls file, or like an .xlsx that
// is locked by a password.
func isOldWorkbook(data []byte) bool {
	return bytes.HasPrefix(data, []byte{0xd0, 0xcf, 0x11, 0xe0, 0xa1, 0xb1, 0x1a, 0xe1})
}

// workbookBytes bounds what a workbook may unpack to.
const workbookBytes = 64 << 20

// Sheets lays a file out in cells: each sheet of a workbook, or one sheet of text.
func Sheets(data []byte) ([]*Sheet, error) {
	switch {
	case isOldWorkbook(data):
		return nil, fmt.Errorf("this is an .xls workbook, or one locked by a password; save it as .xlsx or CSV without a password")
	case !IsWorkbook(data):
		s, err := TextSheet(data)
		return []*Sheet{s}, err
	case len(data) > MaxBytes:
		return nil, fmt.Errorf("survey sheet is over %d MiB; split it by survey", MaxBytes>>20)
	}
	f, err := excelize.OpenReader(bytes.NewReader(data), excelize.Options{UnzipSizeLimit: workbookBytes, UnzipXMLSizeLimit: workbookBytes})
	if err != nil {
		return nil, fmt.Errorf("read workbook: %w; save it again as .xlsx, or as CSV", err)
	}
	defer f.Close() //nolint:errcheck // read only; it holds nothing but memory
	var out []*Sheet
	for _, name := range f.GetSheetList() {
		s, err := workbookSheet(f, name)
		if err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	return out, nil
}

// workbookSheet reads one sheet: numbers as stored, not as shown, dates by the
// format of their cell.
func workbookSheet(f *excelize.File, name string) (*Sheet, error) {
	rows, err := f.GetRows(name, excelize.Options{RawCellValue: true})
	if err != nil {
		return nil, fmt.Errorf("read sheet %s: %w", name, err)
	}
	s, n := &Sheet{Name: name}, 0
	dates := map[int]bool{} // by style
	for r, row := range rows {
		if n += len(row); n > MaxCells {
			return nil, fmt.Errorf("sheet %s has over %d cells; split it by survey", name, MaxCells)
		}
		cells := make([]Cell, len(row))
		for c, text := range row {
			cells[c].Text = strings.TrimSpace(strings.ReplaceAll(text, "\u00a0", " "))
			v, err := strconv.ParseFloat(cells[c].Text, 64)
			if err != nil {
				continue
			}
			axis, err := excelize.CoordinatesToCellName(c+1, r+1)
			if err != nil {
				return nil, err
			}
			style, err := f.GetCellStyle(name, axis)
			if err != nil {
				return nil, fmt.Errorf("read sheet %s: %w", name, err)
			}
			isDate, known := dates[style]
			if !known {
				isDate = dateStyle(f, style)
				dates[style] = isDate
			}
			if !isDate {
				cells[c].Text = strconv.FormatFloat(v, 'f', -1, 64) // 8.12E2 is 812
				continue
			}
			at, err := excelize.ExcelDateToTime(v, base1904(f))
			if err != nil {
				return nil, fmt.Errorf("%s: %q is no date: %w", s.where(r, c), text, err)
			}
			cells[c] = Cell{At: at, Text: at.Format("2006-01-02 15:04")}
		}
		s.Cells = append(s.Cells, cells)
	}
	return s, nil
}

func base1904(f *excelize.File) bool {
	p, err := f.GetWorkbookProps()
	return err == nil && p.Date1904 != nil && *p.Date1904
}

// dateStyle says whether a number format shows dates or times: the built-in ones
// of ECMA-376 part 1, 18.8.30, or one of the sheet's own with a day, month, year
// or hour in it.
func dateStyle(f *excelize.File, style int) bool {
	st, err := f.GetStyle(style)
	if err != nil || st == nil {
		return false
	}
	if st.CustomNumFmt != nil {
		return strings.ContainsAny(plainFormat(*st.CustomNumFmt), "dmyhDMYH")
	}
	n := st.NumFmt
	return n >= 14 && n <= 22 || n >= 27 && n <= 36 || n >= 45 && n <= 47 || n >= 50 && n <= 58
}

// plainFormat is a number format without its quoted words and colours.
func plainFormat(format string) string {
	var b strings.Builder
	quoted, bracket := false, false
	for _, r := range format {
		switch {
		case r == '"':
			quoted = !quoted
		case r == '[':
			bracket = true
		case r == ']':
			bracket = false
		case !quoted && !bracket:
			b.WriteRune(r)
		}
	}
	return b.String()
}
