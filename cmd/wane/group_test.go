package main

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"wane/ingest/archive"
)

// groupOf writes a group folder over sites.
func groupOf(t *testing.T, sites ...string) string {
	t.Helper()
	dir := t.TempDir()
	text := "name: Invented group\nsites:\n"
	for i, s := range sites {
		text += "  - {name: " + string(rune('a'+i)) + ", folder: '" + s + "'}\n"
	}
	if err := os.WriteFile(filepath.Join(dir, "group.yaml"), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return dir
}

// A group of one site says what the site says alone, row for row.
func TestGroupOfOneSiteSaysWhatItSays(t *testing.T) {
	t.Parallel()
	site := t.TempDir()
	plainSite(t, site, 300, never)
	dir := groupOf(t, site)
	if _, errs, code := wane(t, "group", "nightly", "--group", dir); code != exitDone && code != exitPerson {
		t.Fatalf("group nightly: %d %s", code, errs)
	}
	alone, _, _ := wane(t, "due", "--site", site, "--format", "csv")
	pooled, _, _ := wane(t, "group", "due", "--group", dir, "--format", "csv")
	read := func(s string) [][]string {
		rows, err := csv.NewReader(strings.NewReader(s)).ReadAll()
		if err != nil || len(rows) != 5 {
			t.Fatalf("%d rows, %v\n%s", len(rows), err, s)
		}
		return rows
	}
	a, b := read(alone), read(pooled)
	for i := range a {
		if strings.Join(a[i], "|") != strings.Join(b[i][1:], "|") {
			t.Errorf("alone  %v\nin the group %v", a[i], b[i])
		}
	}
}

// A site whose archive somebody else writes to is said, and counts as its last night
// left it.
func TestGroupNightSaysALockedSite(t *testing.T) {
	t.Parallel()
	one, two := t.TempDir(), t.TempDir()
	plainSite(t, one, 200, never)
	plainSite(t, two, 220, never)
	dir := groupOf(t, one, two)
	if _, errs, code := wane(t, "group", "nightly", "--group", dir); code != exitDone && code != exitPerson {
		t.Fatalf("group nightly: %d %s", code, errs)
	}
	want, _, _ := wane(t, "group", "due", "--group", dir, "--format", "csv")
	l, err := archive.Acquire(filepath.Join(two, "archive"),
		archive.Holder{PID: 1, Start: time.Unix(0, 0), What: "somebody"})
	if err != nil {
		t.Fatal(err)
	}
	defer l.Release()
	_, errs, code := wane(t, "group", "nightly", "--group", dir)
	if code != exitPerson || !strings.Contains(errs, "site b: its night failed") || !strings.Contains(errs, "by somebody") ||
		!strings.Contains(errs, "it counts as its last good night left it") {
		t.Errorf("%d %s", code, errs)
	}
	if got, _, _ := wane(t, "group", "due", "--group", dir, "--format", "csv"); got != want {
		t.Errorf("the answers changed:\n%s\nbefore\n%s", got, want)
	}
}

// A site whose tables cannot be read is left out of the fit and said; the others are
// fitted.
func TestGroupLeavesOutASiteThatCannotBeRead(t *testing.T) {
	t.Parallel()
	one, two := t.TempDir(), t.TempDir()
	plainSite(t, one, 200, never)
	plainSite(t, two, 220, never)
	dir := groupOf(t, one, two)
	for _, s := range []string{one, two} {
		if _, errs, code := wane(t, "nightly", "--site", s); code != exitDone && code != exitPerson {
			t.Fatalf("nightly: %d %s", code, errs)
		}
	}
	a, err := archive.Open(filepath.Join(two, "archive"))
	if err != nil {
		t.Fatal(err)
	}
	part := a.Path(a.Parts("weeks")[0])
	if err := os.Chmod(part, 0o644); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(part)
	if err != nil {
		t.Fatal(err)
	}
	b[len(b)/2] ^= 1
	if err := os.WriteFile(part, b, 0o644); err != nil {
		t.Fatal(err)
	}
	_, errs, code := wane(t, "group", "nightly", "--group", dir, "--no-sites")
	if code != exitPerson || !strings.Contains(errs, "site b: left out of the fit: ") {
		t.Errorf("%d %s", code, errs)
	}
	out, _, _ := wane(t, "group", "due", "--group", dir, "--format", "csv")
	if strings.Count(out, "\na,f") != 4 || strings.Contains(out, "\nb,") {
		t.Errorf("%s", out)
	}
}
