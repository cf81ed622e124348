package main

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Hours and levels do not depend on how the readings are cut into files.
func TestHoursAreConservedUnderAnySplit(t *testing.T) {
	t.Parallel()
	whole, split := t.TempDir(), t.TempDir()
	plainSite(t, whole, 90, never)
	plainSite(t, split, 90, never)
	splitInbox(t, split)
	for _, dir := range []string{whole, split} {
		if _, errs, code := wane(t, "nightly", "--site", dir); code != exitDone && code != exitPerson {
			t.Fatalf("nightly: %d %s", code, errs)
		}
	}
	for _, table := range []string{"readings", "daily", "levels"} {
		same(t, table, hashes(t, filepath.Join(whole, "archive", table)), hashes(t, filepath.Join(split, "archive", table)))
	}
}

// Swapping which channel watches which of two like fixtures swaps their levels
// and nothing else.
func TestSwappedRegistersSwapLevels(t *testing.T) {
	t.Parallel()
	straight, crossed := t.TempDir(), t.TempDir()
	plainSite(t, straight, 90, never)
	plainSite(t, crossed, 90, never)
	path := filepath.Join(crossed, "register", "sensors.csv")
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	swapped := strings.NewReplacer("s,f1,1", "s,f2,1", "s,f2,1", "s,f1,1").Replace(string(text))
	if swapped == string(text) {
		t.Fatal("nothing was swapped")
	}
	if err := os.WriteFile(path, []byte(swapped), 0o644); err != nil {
		t.Fatal(err)
	}
	levels := func(dir string) map[string][]string {
		if _, errs, code := wane(t, "nightly", "--site", dir); code != exitDone && code != exitPerson {
			t.Fatalf("nightly: %d %s", code, errs)
		}
		out, _, _ := wane(t, "decline", "--site", dir, "--format", "csv")
		rows, err := csv.NewReader(strings.NewReader(out)).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		by := map[string][]string{}
		for _, r := range rows[1:] {
			by[r[0]] = append(by[r[0]], strings.Join(r[1:], ","))
		}
		return by
	}
	a, b := levels(straight), levels(crossed)
	for from, to := range map[string]string{"f1": "f2", "f2": "f1", "f3": "f3", "f4": "f4"} {
		if strings.Join(a[from], "\n") != strings.Join(b[to], "\n") || len(a[from]) < 60 {
			t.Errorf("levels of %s are not those of %s after the swap (%d days)", from, to, len(a[from]))
		}
	}
	if strings.Join(a["f1"], "\n") == strings.Join(a["f2"], "\n") {
		t.Error("f1 and f2 are alike: nothing was tested")
	}
}
