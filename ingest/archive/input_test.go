package archive

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"wane/ingest/reading"
)

func begin(t *testing.T, dir string, now time.Time) (*Lock, *Import) {
	t.Helper()
	l := mustLock(t, dir)
	t.Cleanup(func() { l.Release() })
	imp, err := Begin(l, Options{Now: now})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(imp.Discard)
	return l, imp
}

// What is no regular file, or moves, or cannot be read, is refused with words
// and touched by nothing.
func TestKeepRefuses(t *testing.T) {
	dir := t.TempDir()
	_, imp := begin(t, filepath.Join(dir, "archive"), noon)
	file := filepath.Join(dir, "file")
	if err := os.WriteFile(file, []byte("x"), 0o644); err != nil {
		t.Fatal(err)
	}
	link, pipe := filepath.Join(dir, "link"), filepath.Join(dir, "pipe")
	if err := os.Symlink(file, link); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Mkfifo(pipe, 0o644); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{link, pipe, dir, "/dev/zero"} {
		if _, err := imp.Keep(context.Background(), Input{Path: path, Name: "it"}); !errors.Is(err, ErrNotRegular) {
			t.Errorf("%s: %v", path, err)
		}
	}
	if _, err := imp.Keep(context.Background(), Input{Path: filepath.Join(dir, "none"), Name: "none"}); !errors.Is(err,
		os.ErrNotExist) {
		t.Errorf("a missing file: %v", err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := imp.Keep(ctx, Input{Path: file, Name: "file"}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

// A file that grows after it was copied is not removed: the rest of it comes
// with the next round.
func TestInputThatGrowsStays(t *testing.T) {
	dir := t.TempDir()
	archive, path := filepath.Join(dir, "archive"), filepath.Join(dir, "f")
	text := "s1 c1 1795608000000000 1 0\n"
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	l, imp := begin(t, archive, noon)
	k, err := imp.Keep(context.Background(), Input{Path: path, Name: "f", Remove: true})
	if err != nil {
		t.Fatal(err)
	}
	s, err := imp.Sink(0, k)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := parseLines(text, s); err != nil {
		t.Fatal(err)
	}
	if err := s.Done(0); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text+"s1 c1 1795608300000000 2 0\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	res, err := imp.Commit(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	if len(res.Left) != 1 || !strings.Contains(res.Left[0], "changed") {
		t.Errorf("left %v", res.Left)
	}
	inbox := filepath.Join(dir, "inbox")
	if err := os.Mkdir(inbox, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(path, filepath.Join(inbox, "f")); err != nil {
		t.Fatal(err)
	}
	// The clock has been set back meanwhile, which does no harm.
	again, err := importAll(l, Options{Now: noon.AddDate(0, -2, 0).Add(48 * time.Hour)}, inbox)
	if err != nil {
		t.Fatal(err)
	}
	if len(again.Files) != 1 || again.Files[0].Quarantined != 2 {
		t.Errorf("with a clock two months back the readings are still to come: %+v", again.Files)
	}
	if f := findings(t, archive); f != nil {
		t.Error(f)
	}
}

// A file given up on leaves one reject and nothing else.
func TestRefusedFile(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "f")
	if err := os.WriteFile(path, []byte("whatever"), 0o644); err != nil {
		t.Fatal(err)
	}
	_, imp := begin(t, filepath.Join(dir, "archive"), noon)
	k, err := imp.Keep(context.Background(), Input{Path: path, Name: "f"})
	if err != nil {
		t.Fatal(err)
	}
	s, err := imp.Sink(0, k)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := parseLines("s1 c1 1795608000000000 1 0\nbad\n", s); err != nil {
		t.Fatal(err)
	}
	if err := s.Refuse(reading.Reject{Code: CodeWholeFile, Reason: "cut off"}); err != nil {
		t.Fatal(err)
	}
	res, err := imp.Commit(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	if want := (Counts{Rows: 1, Quarantined: 1}); len(res.Files) != 1 || res.Files[0].Counts != want ||
		len(res.Archive.Parts(Readings)) != 0 {
		t.Errorf("%+v", res.Files)
	}
	if got, err := os.ReadFile(res.Archive.Original(k.SHA256)); err != nil || string(got) != "whatever" {
		t.Errorf("the original is %q, %v", got, err)
	}
	if _, err := os.Stat(path); err != nil {
		t.Error("a file that was not to be removed is gone")
	}
}

// A file of nothing but rubbish is counted to the last line and takes bounded
// room.
func TestRubbishIsBounded(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "f")
	if err := os.WriteFile(path, []byte("rubbish"), 0o644); err != nil {
		t.Fatal(err)
	}
	_, imp := begin(t, filepath.Join(dir, "archive"), noon)
	k, err := imp.Keep(context.Background(), Input{Path: path, Name: "f"})
	if err != nil {
		t.Fatal(err)
	}
	s, err := imp.Sink(0, k)
	if err != nil {
		t.Fatal(err)
	}
	const lines = 250_000
	for i := range lines {
		if err := s.Reject(reading.Reject{Line: i + 1, Code: "bad", Reason: strings.Repeat("ü", 200),
			Text: "\xff" + strings.Repeat("x", 500)}); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Done(0); err != nil {
		t.Fatal(err)
	}
	res, err := imp.Commit(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	q, err := res.Archive.Quarantined()
	if err != nil {
		t.Fatal(err)
	}
	if len(q) != eachReject+1 || q[eachReject].Rows != lines-eachReject || q[eachReject].LastLine != lines ||
		res.Files[0].Quarantined != lines {
		t.Errorf("%d rows, the last %+v", len(q), q[len(q)-1])
	}
	if len(q[0].Reason) > 200 || len(q[0].Text) > 202 {
		t.Errorf("reason of %d bytes, text of %d", len(q[0].Reason), len(q[0].Text))
	}
	if f := findings(t, res.Archive.Dir()); f != nil {
		t.Error(f)
	}
}

func TestOneWriter(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "archive")
	l, err := Acquire(dir, Holder{PID: 4711, Start: noon, What: "nightly"})
	if err != nil {
		t.Fatal(err)
	}
	_, err = Acquire(dir, Holder{})
	if !errors.Is(err, ErrLocked) || !strings.Contains(err.Error(), "nightly, process 4711, since 2026-11-25T12:00:00Z") {
		t.Errorf("the second writer hears %v", err)
	}
	if _, err := Open(dir); err != nil {
		t.Errorf("a reader needs no lock: %v", err)
	}
	if err := l.Release(); err != nil {
		t.Fatal(err)
	}
	if l, err = Acquire(dir, Holder{}); err != nil {
		t.Fatal(err)
	}
	if err := l.Release(); err != nil {
		t.Fatal(err)
	}
}

// An original is a copy: what is written into the input after it was kept does not
// reach it, through whatever descriptor, and the input stays for the next round.
func TestOriginalIsACopy(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "f")
	const text = "s1 c1 1795608000000000 1 0\n"
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	writer, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer writer.Close()
	_, imp := begin(t, filepath.Join(dir, "archive"), noon)
	k, err := imp.Keep(context.Background(), Input{Path: path, Name: "f", Remove: true})
	if err != nil {
		t.Fatal(err)
	}
	s, err := imp.Sink(0, k)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := parseLines(text, s); err != nil {
		t.Fatal(err)
	}
	if err := s.Done(0); err != nil {
		t.Fatal(err)
	}
	if _, err := writer.WriteString("overwritten in place\n"); err != nil {
		t.Fatal(err)
	}
	res, err := imp.Commit(context.Background())
	if err != nil || len(res.Left) != 1 {
		t.Fatalf("%+v, %v", res, err)
	}
	if _, err := writer.WriteAt([]byte("and after the swap"), 0); err != nil {
		t.Fatal(err)
	}
	original := res.Archive.Original(sum([]byte(text)))
	if b, err := os.ReadFile(original); err != nil || string(b) != text {
		t.Errorf("the original holds %q, %v", b, err)
	}
	if f := findings(t, filepath.Join(dir, "archive")); f != nil {
		t.Error(f)
	}
}
