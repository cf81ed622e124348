package main

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// neverCalibrated is plainSite without its recalibrations, after a night.
func neverCalibrated(t *testing.T) string {
	dir := t.TempDir()
	plainSite(t, dir, 480, never)
	book := filepath.Join(dir, "register", "logbook.csv")
	text, err := os.ReadFile(book)
	if err != nil {
		t.Fatal(err)
	}
	var kept []string
	for _, line := range strings.SplitAfter(string(text), "\n") {
		if !strings.Contains(line, "recalibrate") {
			kept = append(kept, line)
		}
	}
	if err := os.WriteFile(book, []byte(strings.Join(kept, "")), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, errs, code := wane(t, "nightly", "--site", dir); code != exitDone && code != exitPerson {
		t.Fatalf("nightly: %d %s", code, errs)
	}
	return dir
}

func csvRows(t *testing.T, out string) []map[string]string {
	t.Helper()
	all, err := csv.NewReader(strings.NewReader(out)).ReadAll()
	if err != nil || len(all) == 0 {
		t.Fatalf("no table: %v in %q", err, out)
	}
	var rows []map[string]string
	for _, line := range all[1:] {
		row := map[string]string{}
		for i, x := range line {
			row[all[0][i]] = x
		}
		rows = append(rows, row)
	}
	return rows
}

func datedIn(t *testing.T, dir string) int {
	t.Helper()
	out, errs, code := wane(t, "due", "--site", dir, "--format", "csv")
	if code != exitDone && code != exitPerson {
		t.Fatalf("due: %d %s", code, errs)
	}
	n := 0
	for _, row := range csvRows(t, out) {
		if row["due_date"] != "" {
			n++
		}
	}
	return n
}

// What measure asks for first is done, as it says, and the lamps have the dates that it
// promised.
func TestMeasureIsDoneAsItSays(t *testing.T) {
	t.Parallel()
	dir := neverCalibrated(t)
	before := datedIn(t, dir)
	out, errs, code := wane(t, "measure", "--site", dir, "--format", "csv", "--count", "1")
	if code != exitDone {
		t.Fatalf("measure: %d %s", code, errs)
	}
	rows := csvRows(t, out)
	if len(rows) != 1 {
		t.Fatalf("one measurement was asked for, %d came: %s", len(rows), out)
	}
	first := rows[0]
	promised, _ := strconv.Atoi(first["lamps_dated"])
	if promised == 0 || first["target"] != "log" {
		t.Fatalf("the site's one sensor was never looked at, yet the first measurement is %v", first)
	}
	if first["caution"] == "" || first["cost"] != "" || first["minutes"] == "" {
		t.Errorf("a person acts on it, at a site without prices: %v", first)
	}
	due, _, _ := wane(t, "due", "--site", dir, "--format", "csv")
	for _, row := range csvRows(t, due) {
		if row["status"] == "inseparable" && !strings.Contains(row["reason"],
			"to settle it: hold a reference meter beside sensor log once") {
			t.Errorf("%s is to be settled by what measure asks for first, yet its reason is %q", row["fixture"], row["reason"])
		}
	}
	_, command, _ := strings.Cut(first["do"], "`wane ")
	command, _, _ = strings.Cut(command, "`")
	page, err := os.ReadFile(filepath.Join(dir, "reports", "plan.html"))
	if err != nil {
		t.Fatal(err)
	}
	_, next, _ := strings.Cut(string(page), `id="measure"`)
	next, _, _ = strings.Cut(next, "</section>")
	for _, want := range []string{"<code>wane " + command + "</code>", first["minutes"], "Caution: ", first["target"],
		"Ranked by minutes"} {
		if !strings.Contains(next, want) {
			t.Errorf("the plan's page asks for other than wane measure, it lacks %q: %s", want, next)
		}
	}
	command = strings.NewReplacer("AS_FOUND", "0.985", "PPFD", "770").Replace(command)
	args := append(strings.Fields(command), "--site", dir, "--at", "2025-04-24")
	if _, errs, code := wane(t, args...); code != exitDone {
		t.Fatalf("%v: %d %s", args, code, errs)
	}
	if _, errs, code := wane(t, "nightly", "--site", dir); code != exitDone && code != exitPerson {
		t.Fatalf("nightly: %d %s", code, errs)
	}
	if after := datedIn(t, dir); after < before+promised {
		t.Errorf("%d lamps had a date, %d more were promised, %d have one", before, promised, after)
	}
	worth := csvRows(t, lookedBack(t, dir, "csv"))
	if len(worth) != 1 || worth[0]["day"] != "2025-04-24" || worth[0]["measurement"] != "reference" {
		t.Fatalf("one measurement was made, looked back at is %v", worth)
	}
	if n, _ := strconv.Atoi(worth[0]["lamps_dated"]); n < promised {
		t.Errorf("%d lamps got a date by it, looking back says %d", promised, n)
	}
}

func lookedBack(t *testing.T, dir, format string, args ...string) string {
	t.Helper()
	out, errs, code := wane(t, append([]string{"measure", "--back", "--site", dir, "--format", format}, args...)...)
	if code != exitDone {
		t.Fatalf("measure --back: %d %s", code, errs)
	}
	return out
}

// Looking back at a site that recalibrated twice: the last first, the three forms say
// the same, and what a person asks for is kept to.
func TestMeasureBack(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	plainSite(t, dir, 480, never)
	if _, errs, code := wane(t, "nightly", "--site", dir); code != exitDone && code != exitPerson {
		t.Fatalf("nightly: %d %s", code, errs)
	}
	rows := csvRows(t, lookedBack(t, dir, "csv"))
	if len(rows) != 2 || rows[0]["day"] != "2024-12-01" || rows[0]["as_found"] != "0.990" ||
		rows[1]["day"] != "2024-06-01" {
		t.Fatalf("two recalibrations are logged, looked back at is %v", rows)
	}
	changed := 0
	for _, row := range rows {
		for _, name := range []string{"lamps_dated", "lamps_touched"} {
			n, _ := strconv.Atoi(row[name])
			changed += n
		}
	}
	if changed == 0 {
		t.Errorf("the site's two recalibrations are worth nothing: %v", rows)
	}
	var list []map[string]any
	if err := json.Unmarshal([]byte(lookedBack(t, dir, "json")), &list); err != nil || len(list) != 2 {
		t.Errorf("%v, %v", err, list)
	}
	text := lookedBack(t, dir, "table", "--count", "1")
	for _, want := range []string{"2024-12-01 recalibrate sensor log (room veg), as found 0.990", "1 older", "--count 2"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not in\n%s", want, text)
		}
	}
	if strings.Contains(text, "2024-06-01") {
		t.Errorf("one was asked for:\n%s", text)
	}
	if text := lookedBack(t, dir, "table", "--as-of", "2024-05-20"); !strings.Contains(text, "No recalibration") {
		t.Errorf("nothing was measured by then:\n%s", text)
	}
	if _, errs, code := wane(t, "measure", "--back", "--all", "--site", dir); code != exitUsage || errs == "" {
		t.Errorf("--back --all: %d %q", code, errs)
	}
}

// The three forms say the same, and limits hold.
func TestMeasureForms(t *testing.T) {
	t.Parallel()
	dir := neverCalibrated(t)
	text, errs, code := wane(t, "measure", "--site", dir)
	if code != exitDone {
		t.Fatalf("measure: %d %s", code, errs)
	}
	for _, want := range []string{"Not priced", "caution:", "do: ", "get a date", "wage_per_hour"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not in\n%s", want, text)
		}
	}
	out, _, _ := wane(t, "measure", "--site", dir, "--format", "json", "--all")
	var list []map[string]any
	if err := json.Unmarshal([]byte(out), &list); err != nil {
		t.Fatalf("%v in %s", err, out)
	}
	steps, singles := 0, 0
	for _, row := range list {
		if row["step"] == nil {
			singles++
		} else {
			steps++
		}
	}
	if steps == 0 || singles < 3 {
		t.Errorf("%d chosen and %d by themselves in %s", steps, singles, out)
	}
	out, _, _ = wane(t, "measure", "--site", dir, "--format", "csv", "--count", "9", "--minutes", "30")
	sum := 0.
	for _, row := range csvRows(t, out) {
		x, _ := strconv.ParseFloat(row["minutes"], 64)
		sum += x
	}
	if sum == 0 || sum > 30 {
		t.Errorf("30 minutes were given, %g are spent:\n%s", sum, out)
	}
	for _, args := range [][]string{{"--count", "0"}, {"--budget", "-3"}, {"--minutes", "0"}, {"--as-of", "soon"}} {
		if _, errs, code := wane(t, append([]string{"measure", "--site", dir}, args...)...); code != exitUsage || errs == "" {
			t.Errorf("%v: %d %q", args, code, errs)
		}
	}
}
