package main

import (
	"context"
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"wane/cmd/wane/internal/demo"
)

// surveyRun runs the program with something on its standard input.
func surveyRun(t *testing.T, stdin string, args ...string) (stdout, stderr string, code int) {
	t.Helper()
	var out, errs strings.Builder
	ctx := context.Background()
	err := run(ctx, env{args: args, stdin: strings.NewReader(stdin), stdout: &out, stderr: &errs, now: func() time.Time {
		return time.Date(2025, 6, 1, 2, 15, 0, 0, time.UTC)
	}})
	code = exitCode(ctx, err, &errs)
	return out.String(), errs.String(), code
}

// labSite writes a site that is a survey rig and nothing else: fixtures f1 to
// fn, and the reference fixture ref.
func labSite(t *testing.T, n int, survey string) string {
	t.Helper()
	dir := t.TempDir()
	fixtures := "fixture,room,bay,circuit,lamp_type,cohort,model,rated_w,rated_v,gear,installed,hours_at_install\nref,lab,,,led,k,make K2,640,230,driver,,\n"
	for i := 1; i <= n; i++ {
		fixtures += fmt.Sprintf("f%d,lab,,,led,k,make K2,640,230,driver,,\n", i)
	}
	for name, text := range map[string]string{
		"site.yaml":             "name: Invented lab\nzone: Europe/Amsterdam\nrooms:\n  lab: {on: \"06:00\", hours: 12}\nsurvey:\n" + survey,
		"register/fixtures.csv": fixtures,
		"register/sensors.csv":  "sensor,channel,quantity,unit,watches,factor,from,to\n",
		"register/logbook.csv":  "at,what,scope,id,value,note\n",
	} {
		p := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(p), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(p, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

const even = "600 610 620 610 600\n610 700 720 700 610\n620 720 790 720 620\n610 700 720 700 610\n600 610 620 610 600\n"

func TestSurveyAdd(t *testing.T) {
	dir := labSite(t, 2, "  reference: ref\n  height_m: 1.2\n  spacing_m: 0.3\n")
	for _, c := range []struct {
		what, grid string
		args       []string
		code       int
		want       string // on stdout, or on stderr where it is refused
	}{
		{"a whole grid", even, []string{"--survey", "whole", "--at", "2025-05-01", "--sensor", "Q1", "--power", "640"},
			exitDone, "25 of 25 spots, average 649"},
		{"the same again", even, []string{"--survey", "whole", "--at", "2025-05-01"}, exitDone, "nothing to do"},
		{"the same name with other numbers", "1 2\n3 4\n", []string{"--survey", "whole", "--at", "2025-05-01"}, exitUsage,
			"give this one a name of its own"},
		{"other conditions for the same survey", even, []string{"--survey", "whole", "--at", "2025-05-01", "--power", "650"},
			exitUsage, "says something else of survey whole"},
		{"a missing spot", strings.Replace(even, "790", "-", 1), []string{"--survey", "gap"}, exitDone,
			"1 of 25 spots were not read: 13"},
		{"4 x 6", "1 2 3 4 5 6\n1 2 3 4 5 6\n7 8 9 1 2 3\n4 4 4 4 4 4\n", []string{"--survey", "s46"}, exitDone,
			"grid 4 x 6, the rig's is 5 x 5"},
		{"1 x 9", "1;2;3;4;5;6;7;8;9\n", []string{"--survey", "s19"}, exitDone, "9 of 9 spots"},
		{"4 x 6 where 5 x 5 was said", "1 2 3 4 5 6\n1 2 3 4 5 6\n",
			[]string{"--survey", "not", "--rows", "5", "--columns", "5"}, exitUsage, "6 numbers, not 5"},
		{"negative", strings.Replace(even, "790", "-3", 1), []string{"--survey", "not"}, exitUsage, "PPFD -3 is negative"},
		{"decimal comma", strings.Replace(even, "790", "790,5", 1), []string{"--survey", "comma"}, exitDone, "average 649"},
		{"a comma that may be either", "600,5,610,5\n610,7,700,2\n", []string{"--survey", "not"}, exitUsage,
			"decimal commas parted by commas"},
		{"two sensors", even, []string{"--survey", "two", "--sensor", "Q1", "--spots", "11-25=Q2"}, exitDone,
			"2 sensors were used ([Q1 Q2])"},
		{"a spot that the grid has not", even, []string{"--survey", "not", "--spots", "26=Q2"}, exitUsage, "has no spot 26"},
		{"another height", even, []string{"--survey", "high", "--height", "1.5"}, exitDone, "height 1.5 m, declared 1.2 m"},
		{"no height that could be", even, []string{"--survey", "not", "--height", "-1"}, exitUsage, "is not a height"},
		{"an unknown fixture", even, []string{"--survey", "not", "--fixture", "f9"}, exitUsage, `no fixture "f9"`},
		{"a day ahead", even, []string{"--survey", "not", "--at", "2026-01-01"}, exitUsage, "lies ahead"},
		{"nothing", "", []string{"--survey", "not"}, exitUsage, "grid is empty"},
		{"dark", "0 0\n0 0\n", []string{"--survey", "not"}, exitUsage, "every spot reads 0"},
	} {
		out, errs, code := surveyRun(t, c.grid, append([]string{"survey", "add", "-", "--site", dir, "--fixture", "f1"},
			c.args...)...)
		said := out
		if code != exitDone {
			said = errs
		}
		if code != c.code || !strings.Contains(said, c.want) {
			t.Errorf("%s: exit %d, want %d; want %q in\n%s%s", c.what, code, c.code, c.want, out, errs)
		}
	}
	out, _, _ := surveyRun(t, "", "survey", "list", "--site", dir, "--format", "csv")
	if n := strings.Count(out, "\n") - 1; n != 7 || strings.Contains(out, "\nnot,") {
		t.Errorf("7 surveys were taken in, the list has %d\n%s", n, out)
	}
	if left, _ := os.ReadDir(filepath.Join(dir, "inbox")); len(left) > 0 {
		t.Errorf("%d files lie in the inbox", len(left))
	}
	out, errs, code := surveyRun(t, "", "survey", "show", "whole", "--site", dir)
	if code != exitDone || !strings.Contains(out, "16 of 25 spots") || !strings.Contains(out, "umol/J") ||
		!strings.Contains(out, "hot spots, over 1.15 of the average: 13 (790)") {
		t.Errorf("show: %d %s\n%s", code, errs, out)
	}
	if _, errs, code := surveyRun(t, "", "survey", "compare", "whole", "high", "--site", dir); code != exitUsage ||
		!strings.Contains(errs, "the heights differ") {
		t.Errorf("compare at another height: %d %s", code, errs)
	}
	if _, errs, code := surveyRun(t, "", "survey", "show", "whol", "--site", dir); code != exitUsage ||
		!strings.Contains(errs, `did you mean "whole"?`) {
		t.Errorf("show of a mistyped survey: %d %s", code, errs)
	}
	for _, s := range []string{"whole", "gap", "s46", "s19", "comma", "two", "high"} {
		out, errs, code := surveyRun(t, "", "survey", "show", s, "--site", dir, "--format", "json")
		if code != exitDone || strings.Contains(out, "NaN") || strings.Contains(out, "Inf") {
			t.Errorf("show %s: %d %s\n%s", s, code, errs, out)
		}
	}
}

// The plain form keeps its bytes; a line that cannot be used goes to quarantine
// and needs a person, the rest counts.
func TestSurveyAddPlainForm(t *testing.T) {
	dir := labSite(t, 1, "  reference: ref\n")
	sheet := "survey,taken_at,fixture,height_m,row,col,ppfd\n" +
		"s1,2025-05-01T20:00:00+02:00,f1,1.2,1,1,600\ns1,2025-05-01T20:00:00+02:00,f1,1.2,1,2,\"610,5\"\ns1,2025-05-01T20:00:00+02:00,f1,1.2,2,1,-4\ns1,2025-05-01T20:00:00+02:00,f1,1.2,2,2,\n"
	path := filepath.Join(t.TempDir(), "sheet.csv")
	if err := os.WriteFile(path, []byte(sheet), 0o644); err != nil {
		t.Fatal(err)
	}
	out, errs, code := surveyRun(t, "", "survey", "add", path, "--site", dir, "--warm-up", "45")
	if code != exitPerson || !strings.Contains(out, "2 of 4 spots") || !strings.Contains(errs, "quarantine") {
		t.Errorf("%d\n%s%s", code, out, errs)
	}
	if _, errs, code := surveyRun(t, "", "survey", "add", path, "--site", dir, "--height", "1"); code != exitUsage ||
		!strings.Contains(errs, "says --height itself") {
		t.Errorf("a flag beside a sheet that says it: %d %s", code, errs)
	}
}

// A rig that gains 2 % a year while twelve fixtures fade by 3 % a year: what
// `survey compare` says holds the truth in nine intervals of ten and more where
// the reference fixture was surveyed; where it is not declared, few hold it from
// two years on.
func TestSurveyCompareOnADriftingRig(t *testing.T) {
	const fixtures, years = 12, 4
	dir := labSite(t, fixtures, "  reference: ref\n  height_m: 1.2\n  spacing_m: 0.3\n")
	rng := rand.New(rand.NewPCG(8, 8))
	var b strings.Builder
	b.WriteString("survey,taken_at,fixture,height_m,row,col,ppfd\n")
	for y := range years {
		gain := math.Pow(1.02, float64(y)) * math.Exp(.007*rng.NormFloat64())
		for i := range fixtures + 1 {
			name, level := fmt.Sprintf("f%d", i), math.Pow(.97, float64(y))
			if i == 0 {
				name, level = "ref", math.Exp(.003*rng.NormFloat64())
			}
			hang := math.Exp(.005 * rng.NormFloat64())
			for r := range 5 {
				for c := range 5 {
					x, z := float64(c-2), float64(r-2)
					v := 900 * math.Exp(-(x*x+z*z)/14) * level * gain * hang * math.Exp(.01*rng.NormFloat64())
					fmt.Fprintf(&b, "%s-%d,%d-03-01T20:%02d:00Z,%s,1.2,%d,%d,%.1f\n", name, y, 2021+y, i, name, r+1, c+1, v)
				}
			}
		}
	}
	path := filepath.Join(t.TempDir(), "all.csv")
	if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	if out, errs, code := surveyRun(t, "", "survey", "add", path, "--site", dir); code != exitDone {
		t.Fatalf("add: %d %s%s", code, out, errs)
	}
	held := func(from int) (n, of int, words string) {
		for i := 1; i <= fixtures; i++ {
			for _, r := range surveyRows(t, "survey", "compare", fmt.Sprintf("f%d", i), "--site", dir) {
				y := math.Round(surveyNum(t, r["years"]))
				if int(y) < from {
					continue
				}
				truth := math.Pow(.97, y)
				if surveyNum(t, r["level_lo"]) <= truth && truth <= surveyNum(t, r["level_hi"]) {
					n++
				}
				of++
				words = r["words"]
			}
		}
		return n, of, words
	}
	with, of, words := held(1)
	if of != fixtures*(years-1) || with < of*9/10 || !strings.Contains(words, "the rig moved") {
		t.Errorf("with the reference fixture %d of %d intervals hold the truth; %s", with, of, words)
	}
	rig := surveyRows(t, "survey", "rig", "--site", dir)
	if last := rig[len(rig)-1]; last["rig"] != "moved" ||
		!(surveyNum(t, last["drift_lo"]) < 1.0612 && 1.0612 < surveyNum(t, last["drift_hi"])) {
		t.Errorf("after three years of 2 %% the rig says %v", last)
	}
	y := filepath.Join(dir, "site.yaml")
	text, err := os.ReadFile(y)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(y, []byte(strings.Replace(string(text), "  reference: ref\n", "", 1)), 0o644); err != nil {
		t.Fatal(err)
	}
	without, late, words := held(2) // a year's drift still hides in the interval
	if without > late/4 || !strings.Contains(words, "the rig's own drift is in this figure") {
		t.Errorf("without the reference fixture %d of %d intervals hold the truth; %s", without, late, words)
	}
	t.Logf("95 %% intervals that hold the truth: %d of %d with the reference fixture; from two years on %d of %d without",
		with, of, without, late)
	if _, errs, code := surveyRun(t, "", "survey", "rig", "--site", dir); code != exitDone {
		t.Errorf("rig without a reference: %d %s", code, errs)
	}
}

// surveyRows runs a command for CSV and gives its rows by column.
func surveyRows(t *testing.T, args ...string) []map[string]string {
	t.Helper()
	out, errs, code := surveyRun(t, "", append(args, "--format", "csv")...)
	if code != exitDone {
		t.Fatalf("%v: exit %d %s", args, code, errs)
	}
	recs, err := csv.NewReader(strings.NewReader(out)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []map[string]string
	for _, r := range recs[1:] {
		m := map[string]string{}
		for i, name := range recs[0] {
			m[name] = r[i]
		}
		rows = append(rows, m)
	}
	return rows
}

func surveyNum(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatalf("%q is no number", s)
	}
	return v
}

// A small invented site: what the supply and the surveys say of it is what was
// invented.
func TestSupplyAndSurveysOfASmallDemo(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "site")
	truth, err := demo.WriteDays(dir, 1, time.Date(2025, 6, 1, 0, 0, 0, 0, time.UTC), 70, nil)
	if err != nil {
		t.Fatal(err)
	}
	if _, errs, code := surveyRun(t, "", "ingest", "--site", dir); code != exitDone && code != exitPerson {
		t.Fatalf("ingest: %d %s", code, errs)
	}
	for _, r := range surveyRows(t, "supply", "--site", dir) {
		f2 := strings.HasPrefix(r["circuit"], "C-F2-")
		if f2 != (r["as_registered"] == "false") {
			t.Errorf("%s: as registered: %s", r["circuit"], r["as_registered"])
		}
		if f2 && (!strings.HasPrefix(r["service"], "208Y/120, line to line") || r["not_rated"] != "4" ||
			surveyNum(t, r["outside"]) < .99 || !strings.Contains(r["words"], "registered as 240 V")) {
			t.Errorf("%v", r)
		}
		if m := surveyNum(t, r["median_v"]); f2 != (m > 205 && m < 215) {
			t.Errorf("%s reads %v V", r["circuit"], m)
		}
	}
	hours := surveyRows(t, "supply", "C-F2-A", "--show", "hours", "--site", dir)
	if len(hours) < 2*25 || hours[0]["season"] != "year" || hours[0]["hour"] != "all" {
		t.Errorf("%d cells, first %v", len(hours), hours[0])
	}
	if out, _, code := surveyRun(t, "", "supply", "--site", dir); code != exitDone ||
		!strings.HasPrefix(out, "Before anyone opens anything: a licensed electrician") {
		t.Errorf("the caution does not come first: %d\n%.200s", code, out)
	}
	for _, what := range []string{"events", "fixtures", "phases", "limits"} {
		if out, errs, code := surveyRun(t, "", "supply", "--show", what, "--site", dir, "--format",
			"json"); code != exitDone || strings.Contains(out, "NaN") {
			t.Errorf("--show %s: %d %s", what, code, errs)
		}
	}
	level := func(fixture, date string) float64 {
		for _, l := range truth.Lives {
			for _, d := range l.Records {
				if l.Fixture == fixture && truth.First.AddDate(0, 0, d.Day).Format("2006-01-02") == date {
					return d.Level * d.Dirt
				}
			}
		}
		t.Fatalf("no truth of %s on %s", fixture, date)
		return 0
	}
	for _, f := range []string{"LED1-A01", "LED1-A02", "LED1-A03"} {
		list := surveyRows(t, "survey", "list", "--site", dir)
		first := ""
		for _, r := range list {
			if r["fixture"] == f {
				first = r["taken_at"][:10]
				break
			}
		}
		for _, r := range surveyRows(t, "survey", "compare", f, "--site", dir) {
			want := level(f, r["taken_at"][:10]) / level(f, first)
			if lo, hi := surveyNum(t, r["level_lo"]), surveyNum(t, r["level_hi"]); want < lo || want > hi {
				t.Errorf("%s to %s: truly %.4f, said %.4f to %.4f", f, r["taken_at"], want, lo, hi)
			}
		}
	}
	// so short a record tells no lamps of one type apart
	for _, r := range surveyRows(t, "survey", "ahead", "--site", dir) {
		if r["chance"] != "" && surveyNum(t, r["chance"]) > .9 {
			t.Errorf("after some weeks it is claimed that %s holds up better than the next: %v", r["fixture"], r)
		}
	}
	rows := surveyRows(t, "survey", "rank", "--site", dir)
	place := func(f string) int {
		return slices.IndexFunc(rows, func(r map[string]string) bool { return r["fixture"] == f })
	}
	if place("LED1-A03") != 0 || place("LED1-A02") < place("LED1-A01") {
		t.Errorf("new, Invented-T throws most light on the grid and Invented-P least: %v", rows)
	}
}

// The demo's lab over three years: its makes fade by 2, 4 and 7 % in 10,000 h, and
// surveys alone tell them apart, but not two of one make.
func TestSurveysOfTheDemosLab(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "demo")
	if _, err := demo.Write(dir, 11, time.Date(2025, 6, 1, 0, 0, 0, 0, time.UTC), nil); err != nil {
		t.Fatal(err)
	}
	files, err := filepath.Glob(filepath.Join(dir, "inbox", "*"))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files { // no logger is needed for it
		if !strings.HasPrefix(filepath.Base(f), "survey-") {
			if err := os.Remove(f); err != nil {
				t.Fatal(err)
			}
		}
	}
	if _, errs, code := surveyRun(t, "", "ingest", "--site", dir); code != exitDone {
		t.Fatalf("ingest: %d %s", code, errs)
	}
	rows := surveyRows(t, "survey", "ahead", "LAB-1", "LAB-2", "LAB-3", "LAB-4", "--site", dir)
	if len(rows) != 4 || rows[0]["model"] != "Invented-K" || rows[1]["model"] != "Invented-K" ||
		rows[2]["fixture"] != "LAB-2" || rows[3]["fixture"] != "LAB-3" {
		t.Fatalf("the lab's fixtures side by side: %v", rows)
	}
	for i, sure := range []bool{false, true, true} {
		if c := surveyNum(t, rows[i]["chance"]); (c >= .9) != sure {
			t.Errorf("%s over the next with a chance of %.2f", rows[i]["fixture"], c)
		}
	}
}
