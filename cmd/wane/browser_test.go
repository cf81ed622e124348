//go:build browser

package main

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"wane/cmd/wane/internal/pages/inbrowser"
)

// Every page that the demo site's night and yearly summary write is fit for people, and
// so are those of a site of which little is known.
func TestAllPagesInABrowser(t *testing.T) {
	axe, err := filepath.Abs("../../.ci/node_modules/axe-core/axe.min.js")
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(t.TempDir())
	now := time.Date(2026, 11, 20, 9, 0, 0, 0, time.UTC)
	run := func(args ...string) {
		t.Helper()
		if _, errs, code := waneAt(t, now, args...); code != exitDone && code != exitPerson {
			t.Fatalf("%v: %d %s", args, code, errs)
		}
	}
	run("demo", "full", "--date", "2026-11-20")
	run("yearly", "2025", "--site", "full")
	run("new", "little", "--name", "Little", "--zone", "Europe/Amsterdam")
	fillLab(t, "little")
	rows := "survey,taken_at,fixture,height_m,row,col,ppfd\nonce,2024-11-18T12:00:00+01:00,BENCH-1,1.2,1,1,476.6\n" +
		"once,2024-11-18T12:00:00+01:00,BENCH-1,1.2,1,2,492.0\n"
	if err := os.WriteFile("once.csv", []byte(rows), 0o644); err != nil {
		t.Fatal(err)
	}
	run("survey", "add", "once.csv", "--site", "little")
	run("nightly", "--site", "little")
	for _, site := range []string{"full", "little"} {
		dir, err := filepath.Abs(filepath.Join(site, "reports"))
		if err != nil {
			t.Fatal(err)
		}
		t.Run(site, func(t *testing.T) { inbrowser.Walk(t, dir, axe) })
	}
}
