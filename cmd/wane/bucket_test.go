package main

import (
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"
)

// inBucket writes the words that put a site's archive into a bucket, with a store
// in this process.
func inBucket(t *testing.T, dirs ...string) {
	t.Helper()
	back := s3mem.New()
	if err := back.CreateBucket("lamps"); err != nil {
		t.Fatal(err)
	}
	srv := httptest.NewServer(gofakes3.New(back).Server())
	t.Cleanup(srv.Close)
	t.Setenv("WANE_TEST_ACCESS", "k")
	t.Setenv("WANE_TEST_SECRET", "s")
	for _, dir := range dirs {
		f, err := os.OpenFile(filepath.Join(dir, "site.yaml"), os.O_APPEND|os.O_WRONLY, 0)
		if err != nil {
			t.Fatal(err)
		}
		_, err = f.WriteString("archive:\n  bucket: s3://lamps/north\n  endpoint: " + srv.URL +
			"\n  region: us-east-1\n  access_key: env:WANE_TEST_ACCESS\n  secret_key: env:WANE_TEST_SECRET\n")
		if cerr := f.Close(); err != nil || cerr != nil {
			t.Fatal(err, cerr)
		}
	}
}

// A site whose archive is in a bucket answers as one in a folder does; a machine
// that has nothing but site.yaml and the register answers the same; and the night
// may run there from then on.
func TestArchiveInBucket(t *testing.T) {
	plain, here, there := t.TempDir(), t.TempDir(), t.TempDir()
	for _, dir := range []string{plain, here, there} {
		plainSite(t, dir, 400, never)
	}
	later := filepath.Join(t.TempDir(), "later.csv")
	if err := os.Rename(filepath.Join(there, "inbox", "all.csv"), later); err != nil {
		t.Fatal(err)
	}
	inBucket(t, here, there)
	must := func(want int, args ...string) string {
		t.Helper()
		out, errs, code := waneAt(t, time.Date(2025, 6, 1, 2, 15, 0, 0, time.UTC), args...)
		if code != want {
			t.Fatalf("wane %v: %d %s", args, code, errs)
		}
		return out
	}
	must(exitPerson, "nightly", "--site", plain)
	must(exitPerson, "nightly", "--site", here)
	want := must(exitDone, "due", "--site", plain, "--format", "csv")
	if got := must(exitDone, "due", "--site", here, "--format", "csv"); got != want || strings.Count(want, "\n") < 4 {
		t.Errorf("due of the archive in a bucket:\n%s\nin a folder:\n%s", got, want)
	}
	if got := must(exitDone, "due", "--site", there, "--format", "csv"); got != want {
		t.Errorf("due elsewhere:\n%s\nin a folder:\n%s", got, want)
	}
	const count = "SELECT count(*) AS n, max(value) AS v FROM readings"
	rows := must(exitDone, "sql", "--site", plain, "--format", "csv", count)
	if got := must(exitDone, "sql", "--site", there, "--format", "csv", count); got != rows {
		t.Errorf("readings elsewhere: %q, not %q", got, rows)
	}
	if err := os.Rename(later, filepath.Join(there, "inbox", "all.csv")); err != nil {
		t.Fatal(err)
	}
	must(exitPerson, "nightly", "--site", there) // the file is known
	if left, err := os.ReadDir(filepath.Join(there, "inbox")); err != nil || len(left) > 0 {
		t.Errorf("left in the inbox elsewhere: %v, %v", left, err)
	}
	for _, dir := range []string{here, there} {
		if out := must(exitDone, "check", "--site", dir); !strings.Contains(out, "1 files") {
			t.Errorf("check of %s:\n%s", dir, out)
		}
	}
	os.Unsetenv("WANE_TEST_SECRET")
	if _, errs, code := wane(t, "due", "--site", here); code != exitFailed ||
		!strings.Contains(errs, "archive.secret_key: the environment variable WANE_TEST_SECRET is not set") {
		t.Errorf("without its key: %d %q", code, errs)
	}
}

// A group of sites whose archives are in buckets says what one of folders says; a machine
// that has nothing but group.yaml, site.yaml and the registers says the same.
func TestGroupOfArchivesInBuckets(t *testing.T) {
	var folders, here, there []string
	for i := range 2 {
		dirs := []string{t.TempDir(), t.TempDir(), t.TempDir()}
		for _, dir := range dirs {
			plainSite(t, dir, 300+20*i, never)
		}
		if err := os.Remove(filepath.Join(dirs[2], "inbox", "all.csv")); err != nil {
			t.Fatal(err)
		}
		inBucket(t, dirs[1], dirs[2])
		folders, here, there = append(folders, dirs[0]), append(here, dirs[1]), append(there, dirs[2])
	}
	must := func(args ...string) string {
		t.Helper()
		out, errs, code := waneAt(t, time.Date(2025, 6, 1, 2, 15, 0, 0, time.UTC), args...)
		if code != exitDone && code != exitPerson || strings.Contains(errs, "left out") {
			t.Fatalf("wane %v: %d %s", args, code, errs)
		}
		return out
	}
	plain := groupOf(t, folders...)
	must("group", "nightly", "--group", plain)
	asked := [][]string{{"due"}, {"makes"}, {"sites"}, {"spares"}, {"yearly", "2024"},
		{"sql", "SELECT site, count(*) AS n, max(value) AS v FROM readings GROUP BY site ORDER BY site"}}
	for _, g := range []struct {
		name, dir string
		night     []string
	}{{"in buckets", groupOf(t, here...), nil}, {"elsewhere", groupOf(t, there...), []string{"--no-sites"}}} {
		must(append([]string{"group", "nightly", "--group", g.dir}, g.night...)...)
		for _, of := range asked {
			args := func(dir string) []string {
				return append(append([]string{"group"}, of...), "--group", dir, "--format", "csv")
			}
			if got, want := must(args(g.dir)...), must(args(plain)...); got != want || strings.Count(want, "\n") < 2 {
				t.Errorf("%s, group %v:\n%s\nin folders:\n%s", g.name, of, got, want)
			}
		}
	}
}
