package main

import (
	"context"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"wane/cmd/wane/internal/derive"
	"wane/ingest/archive"
)

// What the nightly stored answers as asking anew does, for the site's own
// threshold and another; a changed register makes it ask anew.
func TestStoredAnswersAreTheAskedOnes(t *testing.T) {
	dir := t.TempDir()
	plainSite(t, dir, 420, never)
	if _, errs, code := wane(t, "nightly", "--site", dir); code != exitDone && code != exitPerson {
		t.Fatalf("nightly: %d %s", code, errs)
	}
	o, err := loadSite(dir)
	if err != nil {
		t.Fatal(err)
	}
	a, err := archive.Open(o.archiveDir())
	if err != nil {
		t.Fatal(err)
	}
	for _, threshold := range []float64{0, 0.97} {
		q := derive.Question{Threshold: threshold}
		stored, ok, err := derive.Stored(a, o.Site, q)
		if err != nil || !ok || len(stored) != 4 {
			t.Fatalf("threshold %v: %d stored lines, %v %v", threshold, len(stored), ok, err)
		}
		res, err := derive.Ask(context.Background(), a, o.Site, q)
		if err != nil {
			t.Fatal(err)
		}
		opt := []cmp.Option{cmpopts.EquateNaNs(), cmpopts.EquateEmpty(), cmpopts.IgnoreFields(derive.Line{}.Answer, "Lamp")}
		if diff := cmp.Diff(res.Lines(), stored, opt...); diff != "" {
			t.Errorf("threshold %v: asked (-), stored (+)\n%s", threshold, diff)
		}
	}
	if _, _, code := wane(t, "log", "clean", "room", "veg", "--value", "all", "--at", "2025-01-20", "--site", dir); code != exitDone {
		t.Fatal("not logged")
	}
	if o, err = loadSite(dir); err != nil {
		t.Fatal(err)
	}
	if _, ok, _ := derive.Stored(a, o.Site, derive.Question{}); ok {
		t.Error("the register has changed, the stored answers have not been made anew")
	}
}
