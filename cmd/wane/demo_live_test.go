package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"wane/ingest/archive"
	"wane/ingest/collect"
)

// The invented site is collected from all three instruments, and the night has
// every row of it; what the logger tells again adds nothing. (It is watched until
// enough has come, not for a time.)
func TestLiveDemo(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "live")
	c := demoCommand(env{})
	var out, errs bytes.Buffer
	c.SetOut(&out)
	c.SetErr(&errs)
	c.SetContext(t.Context())
	if err := c.Flags().Set("format", "csv"); err != nil {
		t.Fatal(err)
	}
	enough := func(states []collect.Status) bool {
		return len(states) == 3 && !slices.ContainsFunc(states, func(s collect.Status) bool { return s.Readings < 4 })
	}
	err := runLive(c, env{now: time.Now}, dir, 2*time.Minute, enough)
	if code := exitCode(context.Background(), err, &errs); code != exitDone && code != exitPerson {
		t.Fatalf("%d %s", code, &errs)
	}
	rows, err := csv.NewReader(&out).ReadAll()
	if err != nil || len(rows) != 4 || rows[1][0] != "source bay-a" || !strings.HasPrefix(rows[1][3], "mqtt, ") ||
		rows[3][1] != "well" {
		t.Errorf("%v %v", rows, err)
	}
	a, err := archive.Open(filepath.Join(dir, "archive"))
	if err != nil {
		t.Fatal(err)
	}
	files, err := a.Files()
	if err != nil {
		t.Fatal(err)
	}
	stored := map[string]int64{}
	for _, f := range files {
		stored[f.Source] += f.Stored
		if !f.Lawful() || f.Quarantined > 0 {
			t.Errorf("%+v", f)
		}
	}
	if len(stored) != 3 || stored["bay-a"] < 4 || stored["bay-b"] < 4 || stored["meter"] < 4 {
		t.Errorf("stored are %v", stored)
	}
	if _, errs, code := wane(t, "check", "--site", dir); code != exitDone && code != exitPerson {
		t.Errorf("check of the site: %d %s", code, errs)
	}
}

func TestLiveDemoIsBounded(t *testing.T) {
	for _, long := range []string{"0s", "11m"} {
		if _, errs, code := wane(t, "demo", "--live", "--for", long, filepath.Join(t.TempDir(), "x")); code != exitUsage ||
			!strings.Contains(errs, "--for") {
			t.Errorf("--for %s: %d %s", long, code, errs)
		}
	}
}
