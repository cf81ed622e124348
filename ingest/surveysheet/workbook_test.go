package surveysheet

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"
)

// book makes a workbook of one sheet from cells.
func book(t *testing.T, cells map[string]any) []byte {
	t.Helper()
	f := excelize.NewFile()
	if err := f.SetSheetName("Sheet1", "Lab"); err != nil {
		t.Fatal(err)
	}
	for at, v := range cells {
		if err := f.SetCellValue("Lab", at, v); err != nil {
			t.Fatal(err)
		}
	}
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestWorkbookIsRead(t *testing.T) {
	data := book(t, map[string]any{
		"A1": "Canopy survey", "A2": "Date", "B2": time.Date(2025, 3, 1, 14, 30, 0, 0, time.UTC), "A3": "Fixture",
		"B3": "F1-A01",
		"A4": "Height", "B4": 120, "C4": "cm", "B6": "C1", "C6": "C2", "D6": "C3",
		"A7": "R1", "B7": 812, "C7": 840.5, "D7": 799, "A8": "R2", "B8": 700, "C8": 1012, "D8": 650, "A9": "R3", "B9": 640,
		"C9": 655, "D9": 610,
	})
	sheets, err := Sheets(data)
	if err != nil || len(sheets) != 1 {
		t.Fatalf("%+v, %v", sheets, err)
	}
	f, err := Find(sheets[0])
	if err != nil || len(f) != 1 {
		t.Fatalf("%+v, %v", f, err)
	}
	want := gridWant{fixture: "F1-A01", at: "2025-03-01 14:30", height: 1.2, rows: three}
	if got := wants(f)[0]; !sameWant(want, got) || f[0].Where != "Lab!B7:D9" {
		t.Errorf("%s: %+v", f[0].Where, got)
	}
}

func TestOldWorkbooksAreRefusedWithTheWayOut(t *testing.T) {
	for _, data := range []string{"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1rest", "PK\x03\x04 cut short"} {
		if _, err := Sheets([]byte(data)); err == nil || !strings.Contains(err.Error(), ".xlsx") {
			t.Errorf("%q: %v", data, err)
		}
	}
}
