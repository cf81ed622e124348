package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"
)

// The README's path from an empty folder to the comparison page, command by
// command as it stands there, on an invented workbook of four yearly visits.
func TestLabPathOfTheReadme(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	_, section, ok := strings.Cut(string(text), "## A lab with surveys only")
	if !ok {
		t.Fatal("the README has no section on the lab")
	}
	block := regexp.MustCompile("(?s)```sh\n(.*?)```").FindStringSubmatch(section)
	if block == nil {
		t.Fatal("the README's section on the lab shows no commands")
	}
	t.Chdir(t.TempDir())
	inventWorkbook(t, "readings.xlsx")
	now := time.Date(2026, 11, 17, 9, 0, 0, 0, time.UTC)
	commands := 0
	for line := range strings.Lines(block[1]) {
		command, _, _ := strings.Cut(line, "#")
		words := strings.Fields(command)
		if len(words) == 0 {
			continue
		}
		if words[0] != "./wane" {
			t.Fatalf("the README shows %q, which this test cannot run", line)
		}
		commands++
		_, errs, code := waneAt(t, now, words[1:]...)
		if code != exitDone && code != exitPerson {
			t.Fatalf("%s: %d %s", command, code, errs)
		}
		if words[1] == "new" {
			fillLab(t, "lab")
		}
	}
	if commands >= 10 {
		t.Errorf("the README needs %d commands", commands)
	}
	page, err := os.ReadFile(filepath.Join("lab", "reports", "compare.html"))
	if err != nil {
		t.Fatal(err)
	}
	title := regexp.MustCompile("<h1>([^<]*)</h1>").FindSubmatch(page)
	if title == nil || !regexp.MustCompile(`^BENCH-2 holds up better than BENCH-1: [\d.]+ % .* after 3 years; chance (over 99|9\d) %$`).Match(title[1]) {
		t.Errorf("the page's title is %q", title)
	}
	for _, want := range []string{`href="compare.csv"`, "µmol/J", ">BENCH-2</a>", "after 2 years"} {
		if !strings.Contains(string(page), want) {
			t.Errorf("the page does not hold %q", want)
		}
	}
	table, err := os.ReadFile(filepath.Join("lab", "reports", "compare.csv"))
	if err != nil || strings.Count(string(table), "\n") != 3 || !strings.HasPrefix(string(table), "fixture,model,") {
		t.Errorf("%v: %s", err, table)
	}
}

// fillLab fills in what the README says a person does.
func fillLab(t *testing.T, dir string) {
	t.Helper()
	fixtures := "fixture,room,bay,circuit,lamp_type,cohort,model,rated_w,rated_v,gear,installed,hours_at_install\n"
	for _, id := range []string{"BENCH-1", "BENCH-2", "REF"} {
		fixtures += id + ",lab,,,led,,make of an invented kind,600,240,driver,2023-11-01,0\n"
	}
	site := "name: Lab\nzone: Europe/Amsterdam\nthresholds: {default: 0.90}\nrooms:\n  lab: {on: \"06:00\", hours: 16}\n" +
		"survey: {reference: REF, rows: 3, columns: 3, height_m: 1.2, footprint_m2: 1.2}\n"
	for name, text := range map[string]string{"register/fixtures.csv": fixtures, "site.yaml": site} {
		if err := os.WriteFile(filepath.Join(dir, filepath.FromSlash(name)), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// inventWorkbook writes a workbook with a sheet a visit and a grid a fixture:
// BENCH-1 loses 5 % a year, BENCH-2 1 %, and the rig gains 1 %.
func inventWorkbook(t *testing.T, path string) {
	t.Helper()
	f := excelize.NewFile()
	for year := range 4 {
		sheet := fmt.Sprint("Visit ", year+1)
		if _, err := f.NewSheet(sheet); err != nil {
			t.Fatal(err)
		}
		set := func(col, row int, v any) {
			at, err := excelize.CoordinatesToCellName(col, row)
			if err == nil {
				err = f.SetCellValue(sheet, at, v)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		for n, x := range []struct {
			id   string
			loss float64
		}{{"BENCH-1", .05}, {"BENCH-2", .01}, {"REF", 0}} {
			top := 1 + 8*n
			for c, v := range []any{"Fixture", x.id, "Date", time.Date(2023+year, 11, 20-year, 12, 0, 0, 0, time.UTC)} {
				set(1+c, top, v)
			}
			for c, v := range []any{"Height (m)", 1.2, "Supply (V)", 240, "Power (W)", 600, "Warm-up (min)", 45, "Meter", "Q1"} {
				set(1+c, top+1, v)
			}
			for r := range 3 {
				set(1, top+3+r, fmt.Sprint("R", r+1))
				for c := range 3 {
					set(2+c, top+2, fmt.Sprint("C", c+1))
					y := float64(year)
					v := 520 * math.Exp(-x.loss*y+.01*y) * (1 - .02*math.Hypot(float64(r-1), float64(c-1)) +
						.002*math.Sin(float64(7*r+3*c+year+n)))
					set(2+c, top+3+r, math.Round(10*v)/10)
				}
			}
		}
	}
	if err := f.DeleteSheet("Sheet1"); err != nil {
		t.Fatal(err)
	}
	if err := f.SaveAs(path); err != nil {
		t.Fatal(err)
	}
}
