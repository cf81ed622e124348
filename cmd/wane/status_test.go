package main

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"wane/ingest/collect"
	"wane/ingest/collect/kinds"
	"wane/ingest/site"
)

// rowsOfStatus gives the status screen's lines by what they speak of.
func rowsOfStatus(t *testing.T, dir string, want int) map[string][][]string {
	t.Helper()
	out, errs, code := wane(t, "status", "--site", dir, "--format", "csv")
	if code != want {
		t.Fatalf("status ends with %d, want %d: %s%s", code, want, out, errs)
	}
	rows, err := csv.NewReader(strings.NewReader(out)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	by := map[string][][]string{}
	for _, r := range rows[1:] {
		by[r[0]] = append(by[r[0]], r[1:])
	}
	return by
}

// The screen tells of the night, the files, what waits, who could not be told and
// each source, in a line each; it ends as /health does.
func TestStatus(t *testing.T) {
	t.Parallel()
	dir, b := telling(t, "")
	if got := rowsOfStatus(t, dir, exitPerson); got["last night"][0][0] != "none" || got["inbox"][0][0] != "1 wait" {
		t.Errorf("before the first night: %v", got)
	}
	source := "name: down\nformat: plain\ncollect: {every: 15m, retries: 0, http: {url: \"http://127.0.0.1:1/\"}}\n"
	if err := os.MkdirAll(filepath.Join(dir, "sources"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "sources", "down.yaml"), []byte(source), 0o644); err != nil {
		t.Fatal(err)
	}
	b.down = true
	aNight(t, dir, exitPerson)
	got := rowsOfStatus(t, dir, exitPerson)
	for what, want := range map[string]string{
		"last night":  "done,2025-06-01T02:15:00Z,1 files, 51600 rows: 51600 stored, 0 duplicate, 0 quarantined",
		"next night":  ",2025-06-02T00:15:00Z,where `wane run` or a timer of that time runs",
		"inbox":       "0 wait,,",
		"source down": "not yet,,http, 0 readings",
	} {
		if len(got[what]) != 1 || strings.Join(got[what][0], ",") != want {
			t.Errorf("%s: %q, want %q", what, got[what], want)
		}
	}
	if len(got["waits"]) == 0 || !strings.Contains(got["waits"][0][2], "1 lamp dark and not replaced: f4") {
		t.Errorf("what waits: %v", got["waits"])
	}
	if len(got["told"]) != 2 || got["told"][0][0] != "1 wait" || !strings.Contains(got["told"][1][2], "503") {
		t.Errorf("told: %v", got["told"])
	}

	// two polls fail, an hour apart
	for _, at := range []time.Time{time.Date(2025, 6, 1, 2, 15, 0, 0, time.UTC),
		time.Date(2025, 6, 1, 3, 15, 0, 0, time.UTC)} {
		b.fresh()
		opt := collect.Options{Dir: dir, Zone: time.UTC, Make: kinds.Maker(), Now: func() time.Time { return at }}
		all, err := collected(site.Folder(dir))
		if err != nil {
			t.Fatal(err)
		}
		if _, said := collectOne(t.Context(), opt, all[0]); said == "" {
			t.Fatal("a source that is not there was collected")
		}
		b.down = false
		for range 2 {
			if err := tellAgain(t.Context(), site.Folder(dir), env{now: func() time.Time { return at }}); err != nil &&
				at.Hour() == 3 {
				t.Fatal(err)
			}
		}
	}
	got = rowsOfStatus(t, dir, exitPerson)
	if x := got["source down"]; len(x) != 1 || !strings.Contains(strings.Join(x[0], ","), "127.0.0.1:1") {
		t.Errorf("source: %v", x)
	}
	if told := b.fresh(); !strings.Contains(told, "alarm") {
		t.Errorf("a source that is down for an hour tells %q", told)
	}
}
