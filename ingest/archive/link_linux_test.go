package archive

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"wane/ingest/archive/internal/fsys"
	"wane/ingest/internal/lease"
)

const (
	oneLine   = "s1 c1 1795608000000000 1 0\n"
	otherLine = "s1 c1 1795608000000000 2 0\n"
)

// linking is an import of one file of the inbox, kept and decoded but not committed.
type linking struct {
	dir, path string
	imp       *Import
	kept      *Kept
}

func newLinking(t *testing.T, disk fsys.FS, prepare func(path string)) *linking {
	t.Helper()
	dir := t.TempDir()
	x := &linking{dir: filepath.Join(dir, "archive"), path: filepath.Join(dir, "f")}
	if err := os.WriteFile(x.path, []byte(oneLine), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Chtimes(x.path, lastYear, lastYear); err != nil {
		t.Fatal(err)
	}
	if prepare != nil {
		prepare(x.path)
	}
	l, err := acquire(x.dir, Holder{What: "test"}, disk)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Release() })
	if x.imp, err = Begin(l, Options{Now: noon}); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(x.imp.Discard)
	if x.kept, err = x.imp.Keep(context.Background(), Input{Path: x.path, Name: "f", Remove: true}); err != nil {
		t.Fatal(err)
	}
	s, err := x.imp.Sink(0, x.kept)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := parseLines(oneLine, s); err != nil {
		t.Fatal(err)
	}
	if err := s.Done(0); err != nil {
		t.Fatal(err)
	}
	return x
}

// commit commits, and checks that the original is whole and the file's only
// name. It says whether it is the file that lay in the inbox.
func (x *linking) commit(t *testing.T) (same bool, left []string) {
	t.Helper()
	res, err := x.imp.Commit(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	original := res.Archive.Original(sum([]byte(oneLine)))
	b, err := os.ReadFile(original)
	if err != nil || string(b) != oneLine {
		t.Errorf("the original holds %q, %v", b, err)
	}
	if shared(original) {
		t.Error("the original has another name")
	}
	if f := findings(t, x.dir); f != nil {
		t.Error(f)
	}
	info, err := os.Stat(original)
	if err != nil {
		t.Fatal(err)
	}
	return x.kept.info != nil && os.SameFile(info, x.kept.info), res.Left
}

func mustBe(t *testing.T, path, text string) {
	t.Helper()
	if b, err := os.ReadFile(path); string(b) != text || (err != nil) != (text == "") {
		t.Errorf("%s holds %q, want %q (%v)", filepath.Base(path), b, text, err)
	}
}

// write writes into the file as it lies there, as a program does that has it
// open or opens it.
func write(t *testing.T, path, text string, how int) {
	t.Helper()
	f, err := os.OpenFile(path, os.O_WRONLY|how, 0)
	if err == nil {
		_, err = f.WriteString(text)
	}
	if err := errors.Join(err, f.Close()); err != nil {
		t.Fatal(err)
	}
}

func TestFileBecomesOriginal(t *testing.T) {
	x := newLinking(t, hasty{}, nil)
	if x.kept.tmp != nil {
		t.Error("there is a copy")
	}
	if same, left := x.commit(t); !same || left != nil {
		t.Errorf("same file %v, left %v", same, left)
	}
	mustBe(t, x.path, "")
}

// What might be written to by another way is copied from the start.
func TestUnsafeIsCopied(t *testing.T) {
	for what, prepare := range map[string]func(path string){
		"another name": func(p string) { os.Link(p, p+"2") },
		"just written": func(p string) { os.Chtimes(p, time.Now(), time.Now()) },
		"writable":     func(p string) { os.Chmod(p, 0o664) },
		"open": func(p string) {
			f, _ := os.OpenFile(p, os.O_WRONLY, 0)
			t.Cleanup(func() { f.Close() })
		},
	} {
		t.Run(what, func(t *testing.T) {
			x := newLinking(t, hasty{}, prepare)
			if x.kept.from != nil {
				t.Fatal("it is to be linked")
			}
			x.commit(t)
			mustBe(t, x.path, "")
		})
	}
}

// What happens to the file after it was read and before it has its name.
func TestTouchedBeforePublish(t *testing.T) {
	for what, c := range map[string]struct {
		do    func(t *testing.T, path string)
		inbox string // what is there in the end
		left  bool
	}{
		"replaced": {func(t *testing.T, p string) {
			if err := errors.Join(os.WriteFile(p+"2", []byte(otherLine), 0o644), os.Rename(p+"2", p)); err != nil {
				t.Fatal(err)
			}
		}, otherLine, true},
		"removed":  {func(t *testing.T, p string) { os.Remove(p) }, "", false},
		"appended": {func(t *testing.T, p string) { write(t, p, otherLine, os.O_APPEND) }, oneLine + otherLine, true},
		"opened": {func(t *testing.T, p string) {
			f, err := os.OpenFile(p, os.O_WRONLY, 0)
			if err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() { f.Close() })
		}, "", false},
		"linked": {func(t *testing.T, p string) { os.Link(p, p+"2") }, "", false},
	} {
		t.Run(what, func(t *testing.T) {
			x := newLinking(t, hasty{}, nil)
			c.do(t, x.path)
			same, left := x.commit(t)
			if same || (left != nil) != c.left {
				t.Errorf("same file %v, left %v", same, left)
			}
			mustBe(t, x.path, c.inbox)
		})
	}
}

// What was read is gone: nothing of the import counts, and the next one imports
// what is there now.
func TestWrittenOver(t *testing.T) {
	x := newLinking(t, hasty{}, nil)
	write(t, x.path, otherLine, 0)
	if _, err := x.imp.Commit(context.Background()); !errors.Is(err, ErrTouched) {
		t.Fatalf("error is %v", err)
	}
	mustBe(t, x.path, otherLine)
	inbox := filepath.Join(filepath.Dir(x.path), "inbox")
	if err := errors.Join(os.Mkdir(inbox, 0o755), os.Rename(x.path, filepath.Join(inbox, "f"))); err != nil {
		t.Fatal(err)
	}
	res, err := importAll(x.imp.lock, Options{Now: noon, Copy: true}, inbox)
	if err != nil || len(res.Files) != 1 || res.Files[0].SHA256 != sum([]byte(otherLine)) {
		t.Fatalf("%+v, %v", res, err)
	}
	if f := findings(t, x.dir); f != nil {
		t.Error(f)
	}
}

// meddling is a disk on which something happens before a file gets a name, or
// before one is removed.
type meddling struct {
	hasty
	rename, remove func(path string)
}

func (m *meddling) Rename(from, to string) error {
	if m.rename != nil {
		m.rename(to)
	}
	return m.hasty.Rename(from, to)
}

func (m *meddling) Remove(path string) error {
	if m.remove != nil {
		m.remove(path)
	}
	return m.hasty.Remove(path)
}

// Someone opens the file for writing while it has two names. He waits, goes on,
// and what he writes does not get into the archive.
func TestWriterWaits(t *testing.T) {
	for what, c := range map[string]struct {
		at    string // the name before whose change he comes
		inbox string // what is there in the end
	}{
		"before the swap":    {manifestName, otherLine},
		"before the removal": {"f", ""},
	} {
		t.Run(what, func(t *testing.T) {
			disk := &meddling{}
			x := newLinking(t, disk, nil)
			done := make(chan struct{})
			came := false
			come := func(path string) {
				if filepath.Base(path) != c.at || came {
					return
				}
				came = true
				if !lease.Holds(x.kept.from) {
					t.Error("nothing is held")
				}
				go func() {
					defer close(done)
					write(t, x.path, otherLine, 0)
				}()
				for end := time.Now().Add(10 * time.Second); lease.Holds(x.kept.from) && time.Now().Before(end); {
					time.Sleep(time.Millisecond)
				}
			}
			disk.rename, disk.remove = come, come
			same, left := x.commit(t)
			select {
			case <-done:
			case <-time.After(10 * time.Second):
				t.Fatal("the writer waits for ever")
			}
			if same || (left != nil) != (c.inbox != "") || left != nil && !strings.Contains(left[0], "changed") {
				t.Errorf("same file %v, left %v", same, left)
			}
			mustBe(t, x.path, c.inbox)
			if f := findings(t, x.dir); f != nil {
				t.Error(f)
			}
		})
	}
}

// A file that cannot be removed from the inbox shares nothing with the archive.
func TestRemovalFails(t *testing.T) {
	disk := &faultyRemoval{}
	x := newLinking(t, disk, nil)
	disk.path = x.path
	if same, left := x.commit(t); same || len(left) != 1 {
		t.Errorf("same file %v, left %v", same, left)
	}
	write(t, x.path, otherLine, 0)
	if f := findings(t, x.dir); f != nil {
		t.Error(f)
	}
}

type faultyRemoval struct {
	hasty
	path string
}

func (f *faultyRemoval) Remove(path string) error {
	if path == f.path {
		return os.ErrPermission
	}
	return f.hasty.Remove(path)
}

// What a kill left shared is made a file of its own, also if it has been
// appended to by then.
func TestSharedAfterKill(t *testing.T) {
	for _, more := range []string{"", otherLine} {
		x := newLinking(t, hasty{}, nil)
		x.commit(t)
		// The file and the journal as a run killed before the removal leaves them.
		original := filepath.Join(x.dir, originalPath(sum([]byte(oneLine))))
		journal := filepath.Join(x.dir, tmpDir, journalName)
		if err := errors.Join(os.Link(original, x.path), os.WriteFile(journal, []byte(`["`+sum([]byte(oneLine))+`"]`), 0o644)); err != nil {
			t.Fatal(err)
		}
		write(t, x.path, more, os.O_APPEND)
		next, err := Begin(x.imp.lock, Options{Now: noon})
		if err != nil {
			t.Fatal(err)
		}
		next.Discard()
		if shared(original) {
			t.Error("it is still shared")
		}
		if f := findings(t, x.dir); f != nil {
			t.Error(f)
		}
		mustBe(t, x.path, oneLine+more)
		mustBe(t, journal, "")
	}
}
