package fsys

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

var errBroken = errors.New("invented fault")

// failing is the real disk on which the operation after so many fails.
type failing struct {
	OS
	left int
	lose int // bytes that every write claims to have written and drops
}

func (f *failing) fail() error {
	if f.left--; f.left < 0 {
		return errBroken
	}
	return nil
}

func (f *failing) Create(path string) (Writer, error) {
	if err := f.fail(); err != nil {
		return nil, err
	}
	w, err := f.OS.Create(path)
	return &failingWriter{w, f}, err
}

func (f *failing) Rename(from, to string) error {
	if err := f.fail(); err != nil {
		return err
	}
	return f.OS.Rename(from, to)
}

func (f *failing) SyncDir(dir string) error { return errors.Join(f.fail(), f.OS.SyncDir(dir)) }

type failingWriter struct {
	Writer
	fs *failing
}

func (w *failingWriter) Write(p []byte) (int, error) {
	if err := w.fs.fail(); err != nil {
		return 0, err
	}
	if _, err := w.Writer.Write(p[:len(p)-min(len(p), w.fs.lose)]); err != nil {
		return 0, err
	}
	return len(p), nil
}

func (w *failingWriter) Sync() error { return errors.Join(w.fs.fail(), w.Writer.Sync()) }

// put writes a text under a name by way of a temporary one.
func put(f FS, dir, name, text string) error {
	w, err := Create(f, filepath.Join(dir, "tmp"))
	if err != nil {
		return err
	}
	defer w.Discard()
	if _, err := w.Write([]byte(text)); err != nil {
		return err
	}
	return w.Publish(filepath.Join(dir, name))
}

// Whichever operation fails, the name bears the old bytes or all of the new, and
// nothing lies beside it once the file is discarded.
func TestPublishIsAllOrNothing(t *testing.T) {
	old, text := "what stood there", strings.Repeat("0123456789abcdef\n", 10_000)
	for ops := 0; ; ops++ {
		dir := t.TempDir()
		if err := put(OS{}, dir, "name", old); err != nil {
			t.Fatal(err)
		}
		err := put(&failing{left: ops}, dir, "name", text)
		got, rerr := os.ReadFile(filepath.Join(dir, "name"))
		if rerr != nil {
			t.Fatal(rerr)
		}
		if err == nil {
			if string(got) != text {
				t.Fatalf("published %d bytes of %d", len(got), len(text))
			}
			if ops < 5 { // create, write, sync, rename, sync the folder
				t.Fatalf("published in %d operations: one of them was not asked of the disk", ops)
			}
			return
		}
		if !errors.Is(err, errBroken) {
			t.Fatalf("after %d operations: %v", ops, err)
		}
		if string(got) != old && string(got) != text {
			t.Errorf("after %d operations the name bears %d bytes, neither the old nor the new", ops, len(got))
		}
		if _, err := os.Stat(filepath.Join(dir, "tmp")); !errors.Is(err, os.ErrNotExist) {
			t.Errorf("after %d operations the temporary file stays: %v", ops, err)
		}
	}
}

// A disk that loses bytes without a word is found out before the name is given.
func TestLostBytesAreFound(t *testing.T) {
	dir := t.TempDir()
	err := put(&failing{left: 100, lose: 3}, dir, "name", "0123456789")
	if err == nil || !strings.Contains(err.Error(), "holds 7 bytes of 10 written") {
		t.Errorf("%v", err)
	}
	if _, err := os.Stat(filepath.Join(dir, "name")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("half a file has its name: %v", err)
	}
}

func TestFileKnowsWhatWasWritten(t *testing.T) {
	dir := t.TempDir()
	f, err := Create(OS{}, filepath.Join(dir, "tmp"))
	if err != nil {
		t.Fatal(err)
	}
	text := bytes.Repeat([]byte("row\n"), 50_000)
	for part := range bytes.Lines(text) {
		if _, err := f.Write(part); err != nil {
			t.Fatal(err)
		}
	}
	if sum := sha256.Sum256(text); f.Sum() != hex.EncodeToString(sum[:]) || f.Size() != int64(len(text)) {
		t.Errorf("%d bytes, %s", f.Size(), f.Sum())
	}
	if _, err := Create(OS{}, f.Name()); !errors.Is(err, os.ErrExist) {
		t.Errorf("a second file under the same temporary name: %v", err)
	}
	if err := f.Flush(); err != nil {
		t.Fatal(err)
	}
	if _, err := f.Write([]byte("x")); err == nil {
		t.Error("written to after it was finished")
	}
	if err := f.Publish(filepath.Join(dir, "name")); err != nil {
		t.Fatal(err)
	}
	f.Discard() // does nothing any more
	if got, err := os.ReadFile(filepath.Join(dir, "name")); err != nil || !bytes.Equal(got, text) {
		t.Errorf("%d bytes, %v", len(got), err)
	}
}

func TestMkdirAll(t *testing.T) {
	root := t.TempDir()
	for range 2 {
		if err := MkdirAll(OS{}, root, "a/b/c"); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(filepath.Join(root, "a", "file"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := MkdirAll(OS{}, root, "a/file"); err == nil || !strings.Contains(err.Error(), "it is not a folder") {
		t.Errorf("a file in the way: %v", err)
	}
	if err := (OS{}).Remove(filepath.Join(root, "none")); err != nil {
		t.Errorf("a missing file: %v", err)
	}
}
