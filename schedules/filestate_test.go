package schedules

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

var someState = State{
	"nightly": {Last: time.Date(2026, 3, 29, 1, 0, 0, 0, time.UTC), Missed: 3},
	"yearly":  {Last: time.Date(2026, 1, 2, 5, 0, 0, 0, time.UTC)},
}

func TestFileStateGivesBackWhatItWasGiven(t *testing.T) {
	f := FileState{Path: filepath.Join(t.TempDir(), "schedules.json")}
	if s, err := f.Load(); err != nil || len(s) != 0 {
		t.Fatalf("missing file: %v, %v; want an empty state", s, err)
	}
	// A longer leftover of a killed process must not shine through.
	leftover := filepath.Join(filepath.Dir(f.Path), ".schedules.json.tmp")
	if err := os.WriteFile(leftover, []byte(strings.Repeat("x", 9999)), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, want := range []State{someState, {}, {"nightly": someState["nightly"]}} {
		if err := f.Save(want); err != nil {
			t.Fatal(err)
		}
		got, err := f.Load()
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("state (-want +got):\n%s", diff)
		}
	}
	names, err := os.ReadDir(filepath.Dir(f.Path))
	if err != nil || len(names) != 1 {
		t.Errorf("the folder holds %v, %v; want the file alone", names, err)
	}
}

// TestFileStateForm keeps the form of version 1: files written by it stay.
func TestFileStateForm(t *testing.T) {
	f := FileState{Path: filepath.Join(t.TempDir(), "schedules.json")}
	if err := f.Save(someState); err != nil {
		t.Fatal(err)
	}
	got, err := os.ReadFile(f.Path)
	if err != nil {
		t.Fatal(err)
	}
	want, err := os.ReadFile("testdata/state-v1.json")
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), string(got)); diff != "" {
		t.Errorf("file (-want +got):\n%s", diff)
	}
}

// TestFileStateTornAnywhere cuts a file at every byte.
func TestFileStateTornAnywhere(t *testing.T) {
	whole, err := os.ReadFile("testdata/state-v1.json")
	if err != nil {
		t.Fatal(err)
	}
	f := FileState{Path: filepath.Join(t.TempDir(), "schedules.json")}
	for n := range len(whole) - 1 { // without its last newline it is whole
		if err := os.WriteFile(f.Path, whole[:n], 0o644); err != nil {
			t.Fatal(err)
		}
		s, err := f.Load()
		if !errors.Is(err, ErrTorn) || !strings.Contains(err.Error(), f.Path) || len(s) != 0 {
			t.Fatalf("cut at %d: %v, %v; want ErrTorn with the path and an empty state", n, s, err)
		}
	}
}

func TestFileStateRefuses(t *testing.T) {
	for text, torn := range map[string]bool{
		`{"version": 2, "jobs": []}`:                           false,
		`{"jobs": {}}`:                                         true,
		`{"version": 1, "jobs": {"nightly": {}}}`:              true,
		`{"version": 1, "jobs": {"nightly": {"last": "now"}}}`: true,
		`{"version": 1, "jobs": {"nightly": {"last": "2026-01-02T06:00:00Z", "missed": -1}}}`: true,
		`[]`:                       true,
		"\x00\x00\x00":             true,
		`{"version": 1} and more`:  true,
		"{\"version\": 1}\x00\x00": true,
	} {
		f := FileState{Path: filepath.Join(t.TempDir(), "schedules.json")}
		if err := os.WriteFile(f.Path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		if _, err := f.Load(); err == nil || errors.Is(err, ErrTorn) != torn {
			t.Errorf("%s: error %v, torn should be %v", text, err, torn)
		}
	}
}

func TestFileStateSaysWhatItCannotDo(t *testing.T) {
	dir := t.TempDir()
	if err := (FileState{Path: filepath.Join(dir, "none", "schedules.json")}).Save(someState); !errors.Is(err,
		os.ErrNotExist) {
		t.Errorf("folder missing: %v", err)
	}
	// A folder in the file's place: not missing, not torn.
	if err := os.Mkdir(filepath.Join(dir, "schedules.json"), 0o755); err != nil {
		t.Fatal(err)
	}
	f := FileState{Path: filepath.Join(dir, "schedules.json")}
	if _, err := f.Load(); err == nil || errors.Is(err, ErrTorn) {
		t.Errorf("load of a folder: %v", err)
	}
	if err := f.Save(someState); err == nil {
		t.Error("a folder was overwritten")
	}
	if _, err := os.Stat(filepath.Join(dir, ".schedules.json.tmp")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the temporary file stayed: %v", err)
	}
}
