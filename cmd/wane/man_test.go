package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// Every command has a manual page that says what its help says, the same on every
// day.
func TestManualPages(t *testing.T) {
	a, b := t.TempDir(), t.TempDir()
	if out, errs, code := wane(t, "man", a); code != exitDone || !strings.Contains(out, "manual pages in") {
		t.Fatalf("man: %d %s %s", code, out, errs)
	}
	if _, errs, code := waneAt(t, time.Date(2031, 2, 3, 0, 0, 0, 0, time.UTC), "man", b); code != exitDone {
		t.Fatalf("man: %d %s", code, errs)
	}
	for _, c := range newRoot(env{}).Commands() {
		if !c.IsAvailableCommand() || c.Name() == "help" || c.Name() == "completion" {
			continue
		}
		name := "wane-" + c.Name() + ".1"
		page, err := os.ReadFile(filepath.Join(a, name))
		if err != nil {
			t.Error(err)
			continue
		}
		again, err := os.ReadFile(filepath.Join(b, name))
		if err != nil || string(again) != string(page) {
			t.Errorf("%s differs on another day: %v", name, err)
		}
		if !strings.Contains(string(page), "Exit status") && !strings.Contains(string(page), "EXIT STATUS") ||
			!strings.HasPrefix(string(page), ".nh\n.TH") {
			t.Errorf("%s: %.200s", name, page)
		}
	}
}
