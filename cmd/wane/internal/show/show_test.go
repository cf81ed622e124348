package show

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"
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
