package show

import (
	"encoding/json"
	"io"
	"math"
	"strings"
	"testing"
	"time"
	"unicode/utf8"
)

func sample() *Table {
	t := &Table{Columns: []Column{{Name: "fixture"}, {Name: "level", Digits: 3}, {Name: "n"}, {Name: "date"},
		{Name: "why", Wide: true}}}
	t.Add("=cmd|' /C calc'!A0", -0.0004, 3, Date(time.Date(2025, 3, 1, 0, 0, 0, 0, time.UTC)), "a \"b\",\nc")
	t.Add("f\x1b[31m2", math.Inf(1), int64(0), nil, "")
	return t
}

func TestCSV(t *testing.T) {
	var b strings.Builder
	if err := sample().Print(&b, CSV); err != nil {
		t.Fatal(err)
	}
	want := "fixture,level,n,date,why\n'=cmd|' /C calc'!A0,0.000,3,2025-03-01,\"a \"\"b\"\",\nc\"\nf\x1b[31m2,,0,,\n"
	if b.String() != want {
		t.Fatalf("got\n%q\nwant\n%q", b.String(), want)
	}
}

func TestJSONIsValidAndKeepsNothingAsNull(t *testing.T) {
	var b strings.Builder
	if err := sample().Print(&b, JSON); err != nil {
		t.Fatal(err)
	}
	var rows []map[string]any
	if err := json.Unmarshal([]byte(b.String()), &rows); err != nil {
		t.Fatalf("%v in %s", err, b.String())
	}
	if rows[1]["level"] != nil || rows[1]["date"] != nil || rows[0]["n"] != 3.0 ||
		rows[0]["fixture"] != "=cmd|' /C calc'!A0" {
		t.Fatalf("%v", rows)
	}
}

func TestTextKeepsToOneLineARow(t *testing.T) {
	var b strings.Builder
	if err := sample().Print(&b, Text); err != nil {
		t.Fatal(err)
	}
	if lines := strings.Split(strings.TrimSpace(b.String()), "\n"); len(lines) != 3 ||
		strings.Contains(b.String(), "\x1b") || strings.Contains(b.String(), "why") {
		t.Fatalf("%q", b.String())
	}
}

// On a terminal no line is wider than it, no word of a table is lost, and numbers stand
// to the right.
func TestTextFitsTheTerminal(t *testing.T) {
	table := &Table{Columns: Columns("circuit", "readings", "service", "as_registered", "interruptions", "why")}
	why := "the voltage does not come back to the registered one at any hour of the day or night"
	table.Add("C-F2-A", 104533, "208Y/120, line to line (208 V)", false, 0, why)
	table.Add("C-F2-B", 7, "208Y/120", true, 12, "averyveryveryveryveryveryveryverylongwordwithoutaspaceinit")
	for _, width := range []int{0, 40, 60, 80, 120, 200} {
		var b strings.Builder
		var w io.Writer = &b
		if width > 0 {
			w = &Terminal{out: &b, width: width}
		}
		if err := table.Print(w, Text); err != nil {
			t.Fatal(err)
		}
		got := b.String()
		for line := range strings.Lines(got) {
			if n := utf8.RuneCountInString(strings.TrimSuffix(line, "\n")); width > 0 && n > width {
				t.Errorf("at %d a line has %d columns: %q", width, n, line)
			}
		}
		for _, word := range append(strings.Fields(why), "208Y/120,", "104533", "as_registered", "interruptions") {
			if !strings.Contains(got, word) {
				t.Errorf("at %d the table lacks %q:\n%s", width, word, got)
			}
		}
		if !strings.Contains(strings.ReplaceAll(strings.ReplaceAll(got, "¬", ""), "\n", ""), "C-F2-B") {
			t.Errorf("at %d a row lost its name", width)
		}
		if lines := strings.Split(got, "\n"); (width == 0 || width >= 200) && (len(lines) != 4 ||
			!strings.HasPrefix(lines[2], "C-F2-B          7  208Y/120 ")) {
			t.Errorf("at %d:\n%s", width, got)
		}
	}
}

func TestProseIsBrokenBelowItsBeginning(t *testing.T) {
	var b strings.Builder
	w := &Terminal{out: &b, width: 40}
	for _, part := range []string{"  do: hold a reference meter beside sensor", " LG-1, lamps warm\nshort\n2027-02-11  room F1: group relamp 11; spot relamp 1\n", "no end"} {
		if _, err := io.WriteString(w, part); err != nil {
			t.Fatal(err)
		}
	}
	if err := Flush(w); err != nil {
		t.Fatal(err)
	}
	if want := "  do: hold a reference meter beside\n    sensor LG-1, lamps warm\nshort\n2027-02-11  room F1: group relamp 11;\n  spot relamp 1\nno end"; b.String() != want {
		t.Errorf("%q", b.String())
	}
}
