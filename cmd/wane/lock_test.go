package main

import (
	"strings"
	"testing"
	"time"

	"wane/ingest/archive"
)

// Of two ingests at once the second says who holds the lock, takes nothing, and
// does its work once the first has ended.
func TestTwoIngestsAtOnce(t *testing.T) {
	dir := t.TempDir()
	plainSite(t, dir, 3, never)
	o, err := loadSite(dir)
	if err != nil {
		t.Fatal(err)
	}
	lock, err := archive.Acquire(o.folder.Path("archive"), archive.Holder{PID: 4711,
		Start: time.Date(2025, 6, 1, 2, 0, 0, 0, time.UTC), What: "wane"})
	if err != nil {
		t.Fatal(err)
	}
	for _, command := range []string{"ingest", "nightly", "rebuild"} {
		out, errs, code := wane(t, command, "--site", dir)
		if code != exitFailed || out != "" || !strings.Contains(errs,
			"by wane, process 4711, since 2025-06-01T02:00:00Z; wait for it to end") {
			t.Errorf("%s: %d %q %q", command, code, out, errs)
		}
	}
	if err := lock.Release(); err != nil {
		t.Fatal(err)
	}
	out, errs, code := wane(t, "ingest", "--site", dir, "--format", "csv")
	if code != exitDone || !strings.Contains(out, "\nall,1,360,360,0,0,0,0\n") {
		t.Errorf("%d %q %q", code, out, errs)
	}
}
