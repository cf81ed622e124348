package workbook

import (
	"archive/zip"
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"

	"wane/ingest/decode/emit"
	"wane/ingest/decode/unwrap"
)

// made is a workbook of one sheet or more.
func made(t testing.TB, fill func(f *excelize.File)) []byte {
	f := excelize.NewFile()
	fill(f)
	var b bytes.Buffer
	if err := errors.Join(f.Write(&b), f.Close()); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// rowsOf reads a sheet.
func rowsOf(data []byte, sheet, decimal string) (out []string, err error) {
	b, err := Open("x.xlsx", bytes.NewReader(data), bufio.NewReader(bytes.NewReader(data)), unwrap.Default)
	if err != nil {
		return nil, err
	}
	defer b.Close()
	if sheet, err = b.Pick(sheet); err != nil {
		return nil, err
	}
	rows, err := b.Rows(sheet, decimal)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for {
		cells, err := rows.Next()
		if err == io.EOF {
			return out, nil
		}
		if err != nil {
			return out, err
		}
		out = append(out, strings.Join(cells, "|"))
	}
}

// set puts values into a row, each with a number format or none.
func set(f *excelize.File, sheet string, row int, values ...any) {
	for i, v := range values {
		cell, _ := excelize.CoordinatesToCellName(i+1, row)
		format := ""
		if pair, ok := v.([2]any); ok {
			v, format = pair[0], pair[1].(string)
		}
		if v != nil {
			f.SetCellValue(sheet, cell, v)
		}
		if format != "" {
			st, _ := f.NewStyle(&excelize.Style{CustomNumFmt: &format})
			f.SetCellStyle(sheet, cell, cell, st)
		}
	}
}

func as(v any, format string) [2]any { return [2]any{v, format} }

func TestCellsByTypeAndFormat(t *testing.T) {
	data := made(t, func(f *excelize.File) {
		set(f, "Sheet1", 1, "when", "a", "b", "c", "d")
		set(f, "Sheet1", 2, as(46035.4166666667, `dd/mm/yyyy\ hh:mm`), 812.5, "812,5", true, as(0.455, "0.0%"))
		set(f, "Sheet1", 4, as(46035.0, `d\-mmm\-yy`), as(0.4375, "hh:mm"),
			as(46035.4270834, "[$-409]m/d/yy\\ h:mm\\ AM/PM;@"), as(50.52, "[h]:mm:ss"), 28.5)
		set(f, "Sheet1", 5, as(46035.25, `yyyy"-"mm"-"dd`), as(12.25, `0.00" days"`), as(46035.4270891204, "hh:mm:ss.000"),
			as(20.0, "yyyy-mm-dd"), as(-3.5, "#,##0.00 [$EUR]"))
		f.SetCellFormula("Sheet1", "A6", "A5+1")
		set(f, "Sheet1", 7, nil, nil, "line\nbreak")
	})
	want := []string{
		"when|a|b|c|d",
		"2026-01-13 10:00:00|812.5|812,5|true|45.5%",
		"",
		"2026-01-13|10:30:00|2026-01-13 10:15:00|1212:28:48|28.5",
		"2026-01-13 06:00:00|12.25|10:15:00.5|20|-3.5",
		"||||",
		"||line\nbreak||",
	}
	got, err := rowsOf(data, "", ".")
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	if got, _ = rowsOf(data, "", ","); !strings.Contains(got[1], "|812,5|812,5|") {
		t.Errorf("%q: numbers are written with the decimal sign of the description", got[1])
	}
}

func TestDigits(t *testing.T) {
	for raw, want := range map[string]string{"28.499999999999996": "28.5", "0.30000000000000004": "0.3",
		"1234567.25": "1234567.25", "1E-3": "1E-3"} {
		if got := digits(raw, "."); got != want {
			t.Errorf("%s: %s, want %s", raw, got, want)
		}
	}
}

func TestDaysFrom1904(t *testing.T) {
	data := made(t, func(f *excelize.File) {
		yes := true
		f.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: &yes})
		set(f, "Sheet1", 1, as(44573.5, "yyyy-mm-dd hh:mm"), 1)
		set(f, "Sheet1", 2, as(44574.0, "yyyy-mm-dd hh:mm"), 2)
	})
	got, err := rowsOf(data, "", ".")
	if diff := cmp.Diff([]string{"2026-01-13 12:00:00|1", "2026-01-14 00:00:00|2"}, got); diff != "" || err != nil {
		t.Error(diff, err)
	}
}

func TestPickOrAsk(t *testing.T) {
	two := made(t, func(f *excelize.File) {
		f.NewSheet("Log")
		f.NewSheet("Notes")
		for row := range 3 {
			set(f, "Sheet1", row+1, "a", "b")
			set(f, "Log", row+1, 1, 2)
		}
		set(f, "Notes", 1, "made by hand")
	})
	if _, err := rowsOf(two, "", "."); err == nil || !strings.Contains(err.Error(),
		`several sheets that hold something: "Sheet1", "Log"; write which to read under sheet`) {
		t.Error(err)
	}
	if got, err := rowsOf(two, "Log", "."); err != nil || len(got) != 3 || got[0] != "1|2" {
		t.Error(got, err)
	}
	if _, err := rowsOf(two, "log", "."); err == nil || !strings.Contains(err.Error(), `has no sheet "log"`) {
		t.Error(err)
	}
	if _, err := rowsOf(made(t, func(*excelize.File) {}), "", "."); err == nil ||
		!strings.Contains(err.Error(), "no sheet of the workbook holds a table") {
		t.Error(err)
	}
}

// changed gives a workbook with one part of it replaced.
func changed(t testing.TB, data []byte, part string, change func(string) string) []byte {
	zr, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, f := range zr.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		if f.Name == part {
			text = []byte(change(string(text)))
		}
		out, err := w.Create(f.Name)
		if err == nil {
			_, err = out.Write(text)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func small(t testing.TB) []byte {
	return made(t, func(f *excelize.File) {
		set(f, "Sheet1", 1, "when", "ppfd")
		for row := range 5 {
			set(f, "Sheet1", row+2, as(46035+float64(row)/24, "yyyy-mm-dd hh:mm"), 800+row)
		}
	})
}

// TestDamageIsSeen: a sheet that is cut or broken is no shorter sheet.
func TestDamageIsSeen(t *testing.T) {
	const sheet = "xl/worksheets/sheet1.xml"
	for name, change := range map[string]func(string) string{
		"cut in a row":   func(s string) string { return s[:strings.LastIndex(s, "<row")+20] },
		"cut between":    func(s string) string { return s[:strings.LastIndex(s, "<row")] },
		"a stray sign":   func(s string) string { return strings.Replace(s, `<row r="4"`, `<<row r="4"`, 1) },
		"rows backwards": func(s string) string { return strings.Replace(s, `<row r="4"`, `<row r="2"`, 1) },
	} {
		var fe *emit.FileError
		if got, err := rowsOf(changed(t, small(t), sheet, change), "Sheet1", "."); !errors.As(err, &fe) {
			t.Errorf("%s: %q, %v", name, got, err)
		}
	}
	data := small(t)
	for _, cut := range []int{4, 30, len(data) / 2, len(data) - 1} {
		var fe *emit.FileError
		if _, err := rowsOf(data[:cut], "", "."); !errors.As(err, &fe) {
			t.Errorf("cut at %d: %v", cut, err)
		}
	}
}

// TestBombs: what unpacks without end is refused before it is unpacked, and one
// cell in the last corner costs no sheet full of blank ones.
func TestBombs(t *testing.T) {
	blanks := strings.Repeat(" ", 1<<20)
	many := func(s string) string {
		return strings.Replace(s, "<sheetData>", "<sheetData>"+strings.Repeat(blanks, 60), 1)
	}
	if _, err := rowsOf(changed(t, small(t), "xl/worksheets/sheet1.xml", many), "", "."); err == nil ||
		!strings.Contains(err.Error(), "times its size") {
		t.Error(err)
	}
	corner := func(s string) string {
		rows := ""
		for r := 10; r < 60; r++ {
			rows += fmt.Sprintf(`<row r="%d"><c r="XFD%d"><v>1</v></c></row>`, r, r)
		}
		return strings.Replace(s, "</sheetData>", rows+"</sheetData>", 1)
	}
	if got, err := rowsOf(changed(t, small(t), "xl/worksheets/sheet1.xml", corner), "", "."); err != nil ||
		len(got) != 59 {
		t.Error(len(got), err)
	}
}

func FuzzRows(f *testing.F) {
	f.Add(small(f))
	f.Fuzz(func(t *testing.T, data []byte) {
		var fe *emit.FileError
		if _, err := rowsOf(data, "", "."); err != nil && !errors.As(err, &fe) {
			t.Fatal(err)
		}
	})
}

// FuzzSheet changes the sheet inside of a sound workbook.
func FuzzSheet(f *testing.F) {
	sound := small(f)
	changed(f, sound, "xl/worksheets/sheet1.xml", func(s string) string { f.Add(s); return s })
	f.Fuzz(func(t *testing.T, sheet string) {
		if len(sheet) > 8<<10 {
			return
		}
		var fe *emit.FileError
		data := changed(t, sound, "xl/worksheets/sheet1.xml", func(string) string { return sheet })
		if _, err := rowsOf(data, "Sheet1", "."); err != nil && !errors.As(err, &fe) {
			t.Fatal(err)
		}
	})
}
