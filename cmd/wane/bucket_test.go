package main

import (
	"bytes"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"

	"wane/cmd/wane/internal/group"
	groupfile "wane/ingest/group"
)

// objectStore is a store in this process with a bucket lamps, and gives the words that
// name it.
func objectStore(t *testing.T) (back *s3mem.Backend, srv *httptest.Server, words string) {
	t.Helper()
	back = s3mem.New()
	if err := back.CreateBucket("lamps"); err != nil {
		t.Fatal(err)
	}
	srv = httptest.NewServer(gofakes3.New(back).Server())
	t.Cleanup(srv.Close)
	return back, srv, "  endpoint: " + srv.URL +
		"\n  region: us-east-1\n  access_key: env:WANE_TEST_ACCESS\n  secret_key: env:WANE_TEST_SECRET\n"
}

// inBucket writes the words that put a site's archive into a bucket.
func inBucket(t *testing.T, dirs ...string) {
	t.Helper()
	_, _, words := objectStore(t)
	for _, dir := range dirs {
		appendTo(t, dir, "site.yaml", "archive:\n  bucket: s3://lamps/north\n"+words)
	}
}

// A site whose archive is in a bucket answers as one in a folder does; a machine
// that has nothing but site.yaml and the register answers the same; and the night
// may run there from then on.
func TestArchiveInBucket(t *testing.T) {
	t.Parallel()
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
	text, err := os.ReadFile(filepath.Join(here, "site.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	text = bytes.Replace(text, []byte("env:WANE_TEST_SECRET"), []byte("env:WANE_TEST_NO_SECRET"), 1)
	if err := os.WriteFile(filepath.Join(here, "site.yaml"), text, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, errs, code := wane(t, "due", "--site", here); code != exitFailed ||
		!strings.Contains(errs, "archive.secret_key: the environment variable WANE_TEST_NO_SECRET is not set") {
		t.Errorf("without its key: %d %q", code, errs)
	}
}

// A group of sites whose archives are in buckets says what one of folders says; a machine
// that has nothing but group.yaml, site.yaml and the registers says the same.
func TestGroupOfArchivesInBuckets(t *testing.T) {
	t.Parallel()
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
	for _, g := range []struct {
		name, dir string
		night     []string
	}{{"in buckets", groupOf(t, here...), nil}, {"elsewhere", groupOf(t, there...), []string{"--no-sites"}}} {
		must(append([]string{"group", "nightly", "--group", g.dir}, g.night...)...)
		sameGroups(t, g.name, g.dir, plain, must)
	}
}

// sameGroups wants two groups to say the same.
func sameGroups(t *testing.T, name, dir, plain string, must func(...string) string) {
	t.Helper()
	for _, of := range [][]string{{"due"}, {"makes"}, {"sites"}, {"spares"}, {"yearly", "2024"},
		{"sql", "SELECT site, count(*) AS n, max(value) AS v FROM readings GROUP BY site ORDER BY site"}} {
		args := func(dir string) []string {
			return append(append([]string{"group"}, of...), "--group", dir, "--format", "csv")
		}
		if got, want := must(args(dir)...), must(args(plain)...); got != want || strings.Count(want, "\n") < 2 {
			t.Errorf("%s, group %v:\n%s\nin folders:\n%s", name, of, got, want)
		}
	}
}

// putSettings puts a file of a site folder into the bucket.
func putSettings(t *testing.T, back *s3mem.Backend, dir, name string) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(name)))
	if err != nil {
		t.Fatal(err)
	}
	head := map[string]string{"Last-Modified": "Sun, 1 Jun 2025 02:15:00 GMT"} // the store answers with the headers of a put
	if _, err = back.PutObject("lamps", "south/"+name, head, bytes.NewReader(b), int64(len(b)), nil); err != nil {
		t.Fatal(err)
	}
}

// opensAlone opens a site for the fit where nothing but group.yaml is.
func opensAlone(t *testing.T, dir, name string) {
	t.Helper()
	f := groupfile.Folder(dir)
	c, err := f.Load()
	if err != nil {
		t.Fatal(err)
	}
	p, err := group.OpenPart(t.Context(), f, c, name)
	if err != nil {
		t.Fatal(err)
	}
	if lamps := len(p.Input().Lamps); lamps == 0 {
		t.Error("it has no lamp")
	}
	if err := p.Close(); err != nil {
		t.Fatal(err)
	}
}

// A group of a folder and a site whose settings are in a bucket says what one of two folders
// says, follows what changes there, and goes on where the store is away.
func TestGroupOfASiteByItsBucket(t *testing.T) {
	t.Parallel()
	one, two, far := t.TempDir(), t.TempDir(), t.TempDir()
	plainSite(t, one, 300, never)
	plainSite(t, two, 320, never)
	plainSite(t, far, 320, never)
	inBucket(t, far)
	back, store, words := objectStore(t)
	for _, name := range []string{"site.yaml", "register/fixtures.csv", "register/sensors.csv", "register/logbook.csv"} {
		putSettings(t, back, far, name)
	}
	machine := func() string {
		t.Helper()
		text := "name: Invented group\nsites:\n  - {name: a, folder: '" + one + "'}\n" +
			"  - {name: b, folder: s3://lamps/south}\nstore:\n" + words
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, "group.yaml"), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return dir
	}
	g, plain := machine(), groupOf(t, one, two)
	if err := os.MkdirAll(filepath.Join(g, "sites", "b"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(filepath.Join(far, "inbox"), filepath.Join(g, "sites", "b", "inbox")); err != nil {
		t.Fatal(err)
	}
	now := time.Date(2025, 6, 1, 2, 15, 0, 0, time.UTC)
	must := func(args ...string) string {
		t.Helper()
		out, errs, code := waneAt(t, now, args...)
		if code != exitDone && code != exitPerson || strings.Contains(errs, "left out") ||
			strings.Contains(errs, "last time") {
			t.Fatalf("wane %v: %d %s", args, code, errs)
		}
		return out
	}
	due := func(dir string) string { return must("group", "due", "--group", dir, "--format", "csv") }
	both := func(name string) {
		t.Helper()
		must("group", "nightly", "--group", plain)
		must("group", "nightly", "--group", g)
		sameGroups(t, name, g, plain, must)
	}
	both("at first")
	before := due(g)

	for _, dir := range []string{two, far} {
		appendTo(t, dir, "register/logbook.csv", "2024-08-15,relamp,fixture,f2,lot-2,\n")
	}
	putSettings(t, back, far, "register/logbook.csv")
	both("after a line in the logbook")
	last := due(g)
	if last == before {
		t.Error("the line in the logbook changed nothing")
	}

	opensAlone(t, machine(), "b")
	store.Close()
	_, errs, code := waneAt(t, now, "group", "nightly", "--group", g)
	if code != exitPerson ||
		!strings.Contains(errs, "site b: its settings are those of last time: list s3://lamps/south/") ||
		strings.Contains(errs, "left out") || due(g) != last {
		t.Errorf("store away: %d %s", code, errs)
	}
	fresh := machine()
	_, errs, code = waneAt(t, now, "group", "nightly", "--group", fresh)
	if code != exitPerson || !strings.Contains(errs, "site b: left out: list s3://lamps/south/") ||
		!strings.Contains(due(fresh), "\na,f1") || strings.Contains(due(fresh), "\nb,") {
		t.Errorf("store away from a new machine: %d %s", code, errs)
	}
}
