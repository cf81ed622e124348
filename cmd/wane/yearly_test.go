package main

import (
	"context"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"io"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

// yearSite is plainSite with other rooms, a fixture that moves through two of
// them, a lamp that fails and terms of warranty, taken in.
func yearSite(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	plainSite(t, dir, 440, time.Date(2030, 1, 1, 0, 0, 0, 0, time.UTC))
	appendTo(t, dir, "site.yaml", "warranty:\n  models:\n    make K2: {hours: 20000, level: 0.985, description: \"invented terms\"}\n")
	appendTo(t, dir, "register/fixtures.csv", "f5,bloom,bloom-a,c2,hps-de,lot-1,make P7,1000,230,magnetic,2024-05-01,0\nf6,dry,dry-a,c3,led,lot-9,make P7,600,230,driver,2023-05-01,0\n")
	appendTo(t, dir, "register/logbook.csv", "2024-08-01,move,fixture,f6,bloom-a,\n2024-10-01,move,fixture,f6,veg-a,\n2024-11-01,retire,fixture,f5,,\n")
	_, stderr, code := wane(t, "nightly", "--site", dir)
	if code == exitFailed || code == exitUsage {
		t.Fatalf("nightly: %d %s", code, stderr)
	}
	return dir
}

func folderBytes(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(path)
		rel, _ := filepath.Rel(dir, path)
		out[filepath.ToSlash(rel)] = string(data)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func records(t *testing.T, text string) []map[string]string {
	t.Helper()
	all, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, r := range all[1:] {
		m := map[string]string{}
		for i, h := range all[0] {
			m[h] = r[i]
		}
		out = append(out, m)
	}
	return out
}

// checkManifest holds every line of a manifest to its file.
func checkManifest(t *testing.T, files map[string]string, manifest, folder string) int {
	t.Helper()
	n := 0
	for _, line := range strings.Split(strings.TrimSpace(files[manifest]), "\n") {
		want, name, ok := strings.Cut(line, "  ")
		sum := sha256.Sum256([]byte(files[folder+name]))
		if !ok || want != hex.EncodeToString(sum[:]) {
			t.Errorf("%s: %s is not what the manifest says", manifest, name)
		}
		n++
	}
	return n
}

var notANumber = regexp.MustCompile(`\b(NaN|Inf|-Inf|\+Inf)\b`)

func TestYearlyOfALeapYear(t *testing.T) {
	t.Parallel()
	dir := yearSite(t)
	stdout, stderr, code := wane(t, "yearly", "2024", "--site", dir, "--format", "csv")
	if code != exitDone {
		t.Fatalf("exit %d: %s", code, stderr)
	}
	if !strings.Contains(stdout, "yearly-2024") {
		t.Errorf("stdout: %s", stdout)
	}
	at := filepath.Join(dir, "reports", "yearly-2024")
	files := folderBytes(t, at)
	if n := checkManifest(t, files, "manifest.sha256", ""); n != len(files)-1 {
		t.Errorf("manifest of %d files, there are %d", n, len(files)-1)
	}
	for name, text := range files {
		if notANumber.MatchString(text) {
			t.Errorf("%s holds %q", name, notANumber.FindString(text))
		}
	}
	page := files["index.html"]
	for _, want := range []string{"Reliability in 2024", "31 Dec 2024", `lang="en-GB"`, `scope="col"`, "aria-labelledby",
		"@media print"} {
		if !strings.Contains(strings.ReplaceAll(page, "\u00a0", " "), want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	for _, bad := range []string{"http:", "https:", "<script", "@import", "url("} {
		if strings.Contains(page, bad) {
			t.Errorf("the page holds %q", bad)
		}
	}
	var s struct {
		Days  int `json:"days"`
		Scope struct {
			AtStart int `json:"fixtures_at_start"`
			AtEnd   int `json:"fixtures_at_end"`
			Added   int `json:"added"`
			Removed int `json:"removed"`
			Moved   int `json:"moved"`
			Moves   int `json:"moves"`
		} `json:"scope"`
	}
	if err := json.Unmarshal([]byte(files["summary.json"]), &s); err != nil {
		t.Fatal(err)
	}
	c := s.Scope
	// f6 hung before the year; f1 to f4 came on its first day, f5 came and went
	if s.Days != 366 || c.AtStart != 1 || c.AtEnd != 5 || c.Added != 5 || c.Removed != 1 || c.Moved != 1 || c.Moves != 2 {
		t.Errorf("%+v", s)
	}
	rooms := map[string]string{}
	for _, r := range records(t, files["tables/rooms.csv"]) {
		rooms[r["room"]] = r["fixtures_at_start"] + " " + r["fixtures_at_end"]
	}
	if rooms["dry"] != "1 0" || rooms["veg"] != "0 5" || len(rooms) != 2 {
		t.Errorf("a fixture moved twice is counted where it is at the ends: %v", rooms)
	}
	days := 0
	for _, r := range records(t, files["tables/trend.csv"]) {
		if r["year"] == "2024" && r["days_of_record"] == "366" {
			days++
		}
	}
	if days != 1 {
		t.Errorf("trend: %s", files["tables/trend.csv"])
	}

	if _, stderr, code = wane(t, "yearly", "2024", "--site", dir); code != exitDone {
		t.Fatalf("again: %s", stderr)
	}
	again := folderBytes(t, at)
	for name := range files {
		if files[name] != again[name] {
			t.Errorf("%s is not the same the second time", name)
		}
	}
	if err := os.WriteFile(filepath.Join(at, "stale.txt"), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	log := slog.New(slog.NewTextHandler(io.Discard, nil))
	if err := yearlySlot(context.Background(), dir, time.Date(2025, 1, 2, 5, 0, 0, 0, time.UTC), log); err != nil {
		t.Fatal(err)
	}
	again = folderBytes(t, at)
	if len(again) != len(files) {
		t.Errorf("the slot left %d files, the command %d", len(again), len(files))
	}
	for name := range files {
		if files[name] != again[name] {
			t.Errorf("%s is not the same from the schedule", name)
		}
	}
}

func TestYearlyWarrantyBundle(t *testing.T) {
	t.Parallel()
	dir := yearSite(t)
	if _, stderr, code := wane(t, "yearly", "2025", "--site", dir, "--originals"); code != exitDone {
		t.Fatal(stderr)
	}
	files := folderBytes(t, filepath.Join(dir, "reports", "yearly-2025"))
	if !strings.Contains(strings.ReplaceAll(files["index.html"], "\u00a0", " "),
		"As of the end of <time datetime=\"2025-03-16\">") {
		t.Error("the report's date is not the last day with a reading")
	}
	verdict := map[string]string{}
	for _, r := range records(t, files["tables/warranty_claims.csv"]) {
		verdict[r["fixture"]+" "+r["lamp_life"]] = r["verdict"]
		if r["terms"] != "invented terms" || r["level_method"] == "" {
			t.Errorf("claim %v", r)
		}
	}
	if verdict["f4 1"] != "stands" {
		t.Errorf("a lamp that failed inside its hours is no claim: %v", verdict)
	}
	const at = "warranty/lamp-f4-life1/"
	if n := checkManifest(t, files, at+"manifest.sha256", at); n < 6 {
		t.Errorf("bundle of %d files", n)
	}
	originals := records(t, files[at+"originals.csv"])
	if len(originals) == 0 {
		t.Fatal("the claim rests on no file")
	}
	for _, r := range originals {
		sum := sha256.Sum256([]byte(files[at+"originals/"+r["sha256"]]))
		if hex.EncodeToString(sum[:]) != r["sha256"] {
			t.Errorf("original %s is not in the bundle byte for byte", r["name"])
		}
	}
	levels := records(t, files[at+"levels.csv"])
	if len(levels) < 300 || levels[0]["date"] != "2024-01-01" || levels[len(levels)-1]["date"] != "2025-01-31" {
		t.Errorf("%d days from %s to %s", len(levels), levels[0]["date"], levels[len(levels)-1]["date"])
	}
	if !strings.Contains(files[at+"logbook.csv"], "recalibrate") || !strings.Contains(files[at+"logbook.csv"], "fail") ||
		strings.Contains(files[at+"logbook.csv"], "relamp") {
		t.Errorf("logbook: %s", files[at+"logbook.csv"])
	}
	// the last reading, of 23:00 UTC, is already of 16 March at the site
	// scorecard: what was forecast at the year's start stands there
	if len(records(t, files["tables/scorecard.csv"])) == 0 &&
		!strings.Contains(files["index.html"], "No lamp had a due date") {
		t.Error("no scorecard")
	}
	modes := records(t, files["tables/failures_by_mode.csv"])
	if len(modes) != 1 || modes[0]["mode"] != "lamp: dark" || modes[0]["in_year"] != "1" ||
		modes[0]["dark_days_in_year"] != "44" {
		t.Errorf("modes: %v", modes)
	}
}

func TestYearlyOfAYearWithoutData(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	plainSite(t, dir, 40, time.Date(2030, 1, 1, 0, 0, 0, 0, time.UTC))
	for _, when := range []string{"before anything was taken in", "after"} {
		for _, year := range []string{"2023", "2026"} {
			if _, stderr, code := wane(t, "yearly", year, "--site", dir); code != exitDone {
				t.Fatalf("%s %s: %s", year, when, stderr)
			}
			files := folderBytes(t, filepath.Join(dir, "reports", "yearly-"+year))
			if !strings.Contains(files["index.html"], "Nothing has been read") &&
				!strings.Contains(files["index.html"], "Nothing was read") {
				t.Errorf("%s %s: the page does not say that there is no data", year, when)
			}
			checkManifest(t, files, "manifest.sha256", "")
		}
		if _, stderr, code := wane(t, "nightly", "--site", dir); code == exitFailed {
			t.Fatal(stderr)
		}
	}
}

func TestYearlyWantsAYear(t *testing.T) {
	dir := t.TempDir()
	plainSite(t, dir, 1, time.Date(2030, 1, 1, 0, 0, 0, 0, time.UTC))
	for _, arg := range []string{"25x", "1066", "last"} {
		if _, stderr, code := wane(t, "yearly", arg, "--site", dir); code != exitUsage ||
			!strings.Contains(stderr, "is not a year") {
			t.Errorf("%s: exit %d, %s", arg, code, stderr)
		}
	}
	if _, _, code := wane(t, "yearly", "--site", dir); code != exitUsage {
		t.Errorf("no year: exit %d", code)
	}
}
