package ingest

import (
	"compress/gzip"
	"context"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"wane/ingest/archive"
	"wane/ingest/site"
)

var now = time.Date(2026, 11, 25, 2, 15, 0, 0, time.UTC)

const rig = `name: rig
files: "rig-*.csv*"
zone: Europe/Amsterdam
time: {columns: time, format: yyyy-MM-dd HH:mm}
sensorFrom: {column: fixture}
missingValues: ["-9999"]
columns:
  - {name: ppfd, channel: ppfd}
  - {name: volts, channel: supply_v}
`

const sheet = `survey,taken_at,fixture,height_m,row,col,ppfd
spring,2026-11-01T09:00:00Z,f1,1.2,1,1,612
spring,2026-11-01T09:00:00Z,f1,1.2,1,2,630
`

// newSite makes a site folder with one description and puts files in its inbox.
func newSite(t *testing.T, files map[string]string) site.Folder {
	t.Helper()
	dir := t.TempDir()
	put(t, filepath.Join(dir, "sources", "rig.yaml"), rig)
	for name, text := range files {
		put(t, filepath.Join(dir, "inbox", name), text)
	}
	return site.Folder(dir)
}

func put(t *testing.T, path, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

func locked(t *testing.T, folder site.Folder, fn func(*archive.Lock)) {
	t.Helper()
	l, err := archive.Acquire(folder.Path("archive"), archive.Holder{PID: os.Getpid(), Start: now, What: "test"})
	if err != nil {
		t.Fatal(err)
	}
	fn(l)
	if err := l.Release(); err != nil {
		t.Fatal(err)
	}
}

func importRound(t *testing.T, folder site.Folder, o Options) *Summary {
	t.Helper()
	o.Site, o.Now = folder, now
	var s *Summary
	locked(t, folder, func(l *archive.Lock) {
		var err error
		if s, err = Import(context.Background(), l, o); err != nil {
			t.Fatal(err)
		}
	})
	return s
}

// bytesOf reads the whole archive.
func bytesOf(t *testing.T, folder site.Folder) map[string]string {
	t.Helper()
	out := map[string]string{}
	dir := folder.Path("archive")
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || d.Name() == "lock" {
			return err
		}
		b, err := os.ReadFile(path)
		out[strings.TrimPrefix(path, dir)] = string(b)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func same(t *testing.T, what string, a, b map[string]string) {
	t.Helper()
	for name := range a {
		if a[name] != b[name] {
			t.Errorf("%s: %s differs", what, name)
		}
	}
	if len(a) != len(b) {
		t.Errorf("%s: %d files, then %d", what, len(a), len(b))
	}
}

func sound(t *testing.T, folder site.Folder) {
	t.Helper()
	r, err := archive.Check(context.Background(), folder.Path("archive"))
	if err != nil || len(r.Findings) > 0 {
		t.Errorf("check: %v, %v", r.Findings, err)
	}
}

func packed(text string) string {
	var b strings.Builder
	w := gzip.NewWriter(&b)
	w.Write([]byte(text)) // a strings.Builder takes everything
	w.Close()
	return b.String()
}

// One of each: what is good goes in, what is not is named, and it adds up.
func TestTakeAddsUp(t *testing.T) {
	night := "time,fixture,ppfd,volts\n2026-11-24 23:00,f1,812.5,231.4\n2026-11-24 23:05,f1,811.9,-9999\n2026-11-24 23:10,f1,bright,231.1\n"
	folder := newSite(t, map[string]string{
		"rig-1.csv":        night,
		"rig-2.csv":        night + "2026-11-24 23:15,f1,810.0,231.0\n",
		"deep/rig-3.csv":   night, // the same content under another name
		"rig-4.csv.gz":     packed("time,fixture,ppfd,volts\n2026-11-24 23:00,f2,700,230\n"),
		"rig-5.csv.gz":     packed(night)[:60], // cut off
		"rig-6.csv":        "",
		"rig-7.csv":        "\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR",
		"plain.csv":        "time,sensor,channel,value\n2026-11-24T23:00:00Z,q1,ppfd,500\n2027-01-01T00:00:00Z,q1,ppfd,1\n",
		"survey.csv":       sheet,
		"what.txt":         "a;b\n1;2\n",
		".hidden":          "x",
		"upload.csv.part":  "x",
		"rig-unsorted.csv": "time,fixture,ppfd,volts\n2026-11-20 00:00,f3,2,2\n2026-11-19 00:00,f3,1,1\n",
	})
	if err := os.Symlink(folder.Path("inbox", "rig-1.csv"), folder.Path("inbox", "rig-link.csv")); err != nil {
		t.Fatal(err)
	}
	s := importRound(t, folder, Options{})
	// By hand, in the order of import. deep/rig-3 4 stored, a reject, a blank;
	// plain 1 stored, one still to come; rig-1 is the content of rig-3, so 5
	// duplicates; rig-2 4 duplicates, 2 stored, a reject, a blank; rig-4 2 stored;
	// rig-5, 6 and 7 a reject each; unsorted 4 stored; the survey 2.
	want := archive.Counts{Rows: 5 + 2 + 5 + 7 + 2 + 3 + 4 + 2, Stored: 4 + 1 + 2 + 2 + 4 + 2, Duplicate: 5 + 4,
		Quarantined: 1 + 1 + 1 + 3, Blank: 2}
	if s.All != want || !s.All.Lawful() {
		t.Errorf("%+v, want %+v", s.All, want)
	}
	if s.Files != 9 || s.Again != 1 || len(s.Broken) != 3 {
		t.Errorf("%d files, %d again, broken %q", s.Files, s.Again, s.Broken)
	}
	if len(s.Left) != 2 || !strings.Contains(strings.Join(s.Left, "\n"), "what.txt: nothing says how this file reads") {
		t.Errorf("left %q", s.Left)
	}
	left, err := os.ReadDir(folder.Path("inbox"))
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, d := range left {
		names = append(names, d.Name())
	}
	if got := strings.Join(names, " "); got != ".hidden deep rig-link.csv upload.csv.part what.txt" {
		t.Errorf("in the inbox: %s", got)
	}
	sound(t, folder)

	before := bytesOf(t, folder)
	put(t, folder.Path("inbox", "renamed.csv"), sheet)
	again := importRound(t, folder, Options{Workers: 1})
	if again.Files != 0 || again.Again != 1 || again.All.Stored != 0 || !again.All.Lawful() {
		t.Errorf("again: %+v", again)
	}
	same(t, "the same file again", before, bytesOf(t, folder))

	locked(t, folder, func(l *archive.Lock) {
		if _, err := Rebuild(context.Background(), l); err != nil {
			t.Fatal(err)
		}
	})
	same(t, "rebuilt", before, bytesOf(t, folder))
}

// After a mend of the description the quarantine is read again, and the
// originals alone still make the same archive.
func TestRetryAfterAMend(t *testing.T) {
	folder := newSite(t, map[string]string{"rig-1.csv": "time,fixture,ppfd,volts\n2026-11-24 23:00,f1,812.5,231.4\n2026-11-24 23:05,f1,n/a,231.3\n"})
	if s := importRound(t, folder, Options{}); s.All.Quarantined != 1 || s.All.Stored != 3 {
		t.Fatalf("%+v", s.All)
	}
	put(t, folder.Path("sources", "rig.yaml"), strings.Replace(rig, `["-9999"]`, `["-9999", "n/a"]`, 1))
	all, err := Descriptions(folder)
	if err != nil {
		t.Fatal(err)
	}
	locked(t, folder, func(l *archive.Lock) {
		got, err := Retry(context.Background(), l, all)
		if err != nil {
			t.Fatal(err)
		}
		if len(got) != 1 || got[0].Before.Quarantined != 1 || got[0].After.Quarantined != 0 || got[0].After.Stored != 3 ||
			got[0].After.Blank != 1 {
			t.Errorf("%+v", got)
		}
		if got, err = Retry(context.Background(), l, all); err != nil || got != nil {
			t.Errorf("tried again without a mend: %+v, %v", got, err)
		}
	})
	sound(t, folder)
	before := bytesOf(t, folder)
	locked(t, folder, func(l *archive.Lock) {
		if _, err := Rebuild(context.Background(), l); err != nil {
			t.Fatal(err)
		}
	})
	same(t, "rebuilt", before, bytesOf(t, folder))
}

// Files that are named stay where they are.
func TestNamedFilesStay(t *testing.T) {
	folder := newSite(t, nil)
	path := filepath.Join(t.TempDir(), "p.csv")
	put(t, path, "time,sensor,channel,value\n2026-11-24T23:00:00Z,q1,ppfd,500\n")
	if s := importRound(t, folder, Options{Files: []string{path}}); s.All.Stored != 1 || s.Files != 1 {
		t.Errorf("%+v", s)
	}
	if _, err := os.Stat(path); err != nil {
		t.Error(err)
	}
}

// A file that is written over between reading and commit is imported as it was
// read; what is there now stays for the next round.
func TestFileWrittenOverStays(t *testing.T) {
	first := "time,fixture,ppfd,volts\n2026-11-24 10:00,f1,612.5,230\n"
	folder := newSite(t, map[string]string{"rig-1.csv": first,
		"rig-2.csv": "time,fixture,ppfd,volts\n2026-11-24 10:00,f2,612.5,230\n"})
	then := first + "2026-11-24 10:05,f1,613.5,231\n"
	s := importRound(t, folder, Options{Progress: func(what string) {
		if what != "writing readings" {
			return
		}
		f, err := os.OpenFile(folder.Path("inbox", "rig-1.csv"), os.O_WRONLY|os.O_TRUNC, 0)
		if err != nil {
			t.Error(err)
			return
		}
		defer f.Close()
		if _, err := f.WriteString(then); err != nil {
			t.Error(err)
		}
	}})
	if s.Files != 2 || s.All.Stored != 4 || len(s.Undeleted) != 1 ||
		!strings.Contains(s.Undeleted[0], "rig-1.csv: it has changed since it was read") {
		t.Errorf("%+v", s)
	}
	sound(t, folder) // the original is what was read
	if s = importRound(t, folder, Options{}); s.Files != 1 || s.All.Stored != 2 || s.All.Duplicate != 2 {
		t.Errorf("%+v", s.All)
	}
	sound(t, folder)
	if left, err := os.ReadDir(folder.Path("inbox")); err != nil || len(left) > 0 {
		t.Errorf("%v is left, %v", left, err)
	}
}
