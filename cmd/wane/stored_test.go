package main

import (
	"context"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"wane/cmd/wane/internal/derive"
	"wane/ingest/archive"
	"wane/transform/due"
)

// What the nightly stored answers as asking anew does; another threshold, or a
// changed register, makes it ask anew.
func TestStoredAnswersAreTheAskedOnes(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	plainSite(t, dir, 420, never)
	if _, errs, code := wane(t, "nightly", "--site", dir); code != exitDone && code != exitPerson {
		t.Fatalf("nightly: %d %s", code, errs)
	}
	o, err := loadSite(dir)
	if err != nil {
		t.Fatal(err)
	}
	a, err := archive.Open(o.folder.Path("archive"))
	if err != nil {
		t.Fatal(err)
	}
	stored, ok, err := derive.Stored(a, o.Site, due.Question{})
	if err != nil || !ok || len(stored) != 4 {
		t.Fatalf("%d stored lines, %v %v", len(stored), ok, err)
	}
	res, err := derive.Ask(context.Background(), a, o.Site, due.Question{})
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(res.Lines(), stored, cmpopts.EquateNaNs()); diff != "" {
		t.Errorf("asked (-), stored (+)\n%s", diff)
	}
	if _, ok, _ := derive.Stored(a, o.Site, due.Question{Threshold: 0.97}); ok {
		t.Error("another threshold is another question")
	}
	if _, _, code := wane(t, "log", "clean", "room", "veg", "--value", "all", "--at", "2025-01-20", "--site",
		dir); code != exitDone {
		t.Fatal("not logged")
	}
	if o, err = loadSite(dir); err != nil {
		t.Fatal(err)
	}
	if _, ok, _ := derive.Stored(a, o.Site, due.Question{}); ok {
		t.Error("the register has changed, the stored answers have not been made anew")
	}
}
