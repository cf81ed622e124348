package spool

import (
	"archive/zip"
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"wane/ingest/internal/fsys"
)

var now = time.Date(2026, 3, 1, 10, 0, 0, 0, time.UTC)

func options(dir string) Options {
	return Options{Dir: dir, Source: "bay", Limit: 1 << 20, Now: func() time.Time { return now },
		Read: func(_ string, f File) Came {
			b, _ := io.ReadAll(f)
			if bytes.HasPrefix(b, []byte("<html")) {
				return Came{Unreadable: errors.New("a page")}
			}
			return Came{Readings: int64(bytes.Count(b, []byte("\n")))}
		}}
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// sealed gives what lies sealed: each file's content by its path.
func sealed(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	root := filepath.Join(dir, Folder, "bay")
	err := filepath.WalkDir(root, func(path string, e os.DirEntry, err error) error {
		if err != nil || e.IsDir() || strings.HasPrefix(e.Name(), ".") {
			return err
		}
		rel := must(filepath.Rel(root, path))
		if !strings.HasSuffix(rel, ".zip") || strings.Contains(rel, "/") {
			out[rel] = string(must(os.ReadFile(path)))
			return nil
		}
		z := must(zip.OpenReader(path))
		defer z.Close()
		for _, f := range z.File {
			out[rel+"!"+f.Name] = string(must(io.ReadAll(must(f.Open()))))
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func contents(m map[string]string) []string {
	var out []string
	for _, v := range m {
		out = append(out, v)
	}
	slices.Sort(out)
	return out
}

func TestBodiesAndLinesAreSealedWhole(t *testing.T) {
	dir := t.TempDir()
	s := must(Open(options(dir)))
	ctx := t.Context()
	if err := s.Append(ctx, []byte("a\n"), []byte("b\n")); err != nil {
		t.Fatal(err)
	}
	for range 2 { // the same name twice, at the same time of the clock
		if c, err := s.Put(ctx, "x/readings.csv", strings.NewReader("1\n2\n")); err != nil || c.Readings != 2 {
			t.Fatal(c, err)
		}
	}
	if c, err := s.Put(ctx, "page.csv", strings.NewReader("<html>")); err != nil || c.Unreadable == nil {
		t.Fatal(c, err)
	}
	if _, err := s.Put(ctx, "packed.gz", strings.NewReader("\x1f\x8b123")); err != nil {
		t.Fatal(err)
	}
	big := strings.Repeat("0123456789\n", 60_000)
	if c, err := s.Put(ctx, "big.csv", strings.NewReader(big)); err != nil || c.Readings != 60_000 {
		t.Fatal(c, err)
	}
	if got := contents(sealed(t, dir)); !slices.Equal(got, []string{"\x1f\x8b123", big, "<html>"}) {
		t.Fatalf("before sealing %d files", len(got))
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	got := sealed(t, dir)
	if want := []string{"\x1f\x8b123", big, "1\n2\n", "1\n2\n", "<html>", "a\nb\n"}; !slices.Equal(contents(got), want) {
		t.Fatalf("%d files: %q", len(got), slices.Sorted(keys(got)))
	}
	for name := range got {
		if strings.HasSuffix(name, "big.csv") && filepath.Base(name) != "big.csv" {
			t.Error("a file's own name is changed:", name)
		}
	}
	if k := s.Count(); k.Readings != 2+2+2+60_000 || k.Bodies != 5 || k.Lines != 2 {
		t.Errorf("%+v", k)
	}
}

func keys(m map[string]string) func(func(string) bool) {
	return func(yield func(string) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
}

// What breaks off, is too large or is cancelled is not kept in part.
func TestHalfABodyIsNoBody(t *testing.T) {
	dir := t.TempDir()
	s := must(Open(options(dir)))
	long := strings.NewReader(strings.Repeat("x", 700_000))
	for name, r := range map[string]io.Reader{
		"broken off":       io.MultiReader(strings.NewReader("1\n"), iotest.ErrReader(io.ErrUnexpectedEOF)),
		"broken off later": io.MultiReader(long, iotest.ErrReader(io.ErrUnexpectedEOF)),
		"too large":        strings.NewReader(strings.Repeat("x", 1<<20+1)),
	} {
		if _, err := s.Put(t.Context(), name, r); err == nil ||
			strings.HasPrefix(name, "too") != errors.Is(err, ErrTooLarge) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if got := sealed(t, dir); len(got) != 0 {
		t.Errorf("%d files", len(got))
	}
}

// A process that ends without Close: the next one finds all that was
// acknowledged, and not the torn line behind it.
func TestKilledProcess(t *testing.T) {
	dir := t.TempDir()
	s := must(Open(options(dir)))
	if err := s.Append(t.Context(), []byte("a\n")); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Put(t.Context(), "x.csv", strings.NewReader("1\n")); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{".lines", ".bodies"} {
		f := must(os.OpenFile(s.path(name), os.O_APPEND|os.O_WRONLY, 0))
		must(f.WriteString(`{"at":"2026`))
		f.Close()
	}
	must(0, os.WriteFile(s.path(".body-20260301T100000.000009Z"), []byte("half"), 0o644))
	if _, err := Open(options(dir)); !errors.Is(err, ErrBusy) {
		t.Fatalf("two processes at one source: %v", err)
	}
	must(0, s.lock.Unlock()) // as the system does when a process ends
	s = must(Open(options(dir)))
	if got := contents(sealed(t, dir)); !slices.Equal(got, []string{"1\n", "a\n"}) {
		t.Errorf("%q", got)
	}
	if got := s.Recent(); len(got) != 1 || string(got[0]) != "a\n" {
		t.Errorf("recent: %q", got)
	}
	// Killed between the zip and the removal of what it was made of.
	before := sealed(t, dir)
	must(s.Put(t.Context(), "x.csv", strings.NewReader("2\n")))
	open := must(os.ReadFile(s.path(".bodies")))
	must(0, s.Close())
	must(0, os.WriteFile(s.path(".bodies"), open, 0o644))
	s = must(Open(options(dir)))
	if got := sealed(t, dir); len(got) != len(before)+1 {
		t.Errorf("%q", contents(got))
	}
	must(0, s.Close())
	entries := must(os.ReadDir(s.dir))
	for _, e := range entries {
		if e.Name() == ".bodies" || strings.HasPrefix(e.Name(), ".body-") {
			t.Error("left over:", e.Name())
		}
	}
}

func TestStateIsKept(t *testing.T) {
	dir := t.TempDir()
	s := must(Open(options(dir)))
	var v struct{ Cursor string }
	if found, err := s.Load(&v); found || err != nil {
		t.Fatal(found, err)
	}
	v.Cursor = "17"
	must(0, s.Save(v))
	must(0, s.Close())
	s = must(Open(options(dir)))
	v.Cursor = ""
	if found, err := s.Load(&v); !found || err != nil || v.Cursor != "17" {
		t.Fatal(found, err, v)
	}
	must(0, s.Close())
}

// broken is a disk whose operation number at fails, once.
type broken struct {
	fsys.OS
	at, n int
}

var errDisk = errors.New("the disk is full")

func (b *broken) next() error {
	b.n++
	if b.n == b.at {
		return errDisk
	}
	return nil
}

func (b *broken) Create(path string) (fsys.Writer, error) {
	if err := b.next(); err != nil {
		return nil, err
	}
	w, err := b.OS.Create(path)
	return &brokenFile{w, b}, err
}

func (b *broken) Rename(from, to string) error {
	return errors.Join(b.next(), b.only(func() error { return b.OS.Rename(from, to) }))
}

func (b *broken) SyncDir(dir string) error {
	return errors.Join(b.next(), b.only(func() error { return b.OS.SyncDir(dir) }))
}

func (b *broken) only(do func() error) error {
	if b.n == b.at {
		return nil
	}
	return do()
}

type brokenFile struct {
	fsys.Writer
	b *broken
}

func (f *brokenFile) Write(p []byte) (int, error) {
	if err := f.b.next(); err != nil {
		n, _ := f.Writer.Write(p[:len(p)/2])
		return n, err
	}
	return f.Writer.Write(p)
}

func (f *brokenFile) Sync() error {
	if err := f.b.next(); err != nil {
		return err
	}
	return f.Writer.Sync()
}

// Whichever operation of the disk fails: what was acknowledged is sealed in the
// end, once; what was not acknowledged is tried again by its sender and then is.
func TestEveryFault(t *testing.T) {
	for at := 1; ; at++ {
		dir := t.TempDir()
		o := options(dir)
		disk := &broken{at: at}
		o.FS = disk
		s, err := Open(o)
		if err != nil {
			if !errors.Is(err, errDisk) {
				t.Fatal(at, err)
			}
			s = must(Open(o))
		}
		var want []string
		for _, l := range []string{"a\n", "b\n", "c\n"} {
			if err := s.Append(t.Context(), []byte(l)); err != nil {
				must(0, s.Append(t.Context(), []byte(l)))
			}
			if _, err := s.Put(t.Context(), "x.csv", strings.NewReader("in "+l)); err != nil {
				must(s.Put(t.Context(), "x.csv", strings.NewReader("in "+l)))
			}
			want = append(want, l, "in "+l)
			if l == "b\n" {
				_ = s.Seal() // tried again below
			}
		}
		if err := s.Seal(); err != nil {
			must(0, s.Seal())
		}
		must(0, s.Close())
		var got []string
		for _, text := range contents(sealed(t, dir)) {
			got = append(got, strings.SplitAfter(strings.TrimSuffix(text, "\n"), "\n")...)
		}
		for i := range got {
			got[i] = strings.TrimSuffix(got[i], "\n") + "\n"
		}
		slices.Sort(got)
		slices.Sort(want)
		if !slices.Equal(got, want) {
			t.Errorf("operation %d failed: %q, want %q", at, got, want)
		}
		if disk.n < at {
			if at < 20 {
				t.Fatalf("only %d operations", disk.n)
			}
			return
		}
	}
}

func TestName(t *testing.T) {
	for in, want := range map[string]string{
		"a/b/bay1.csv": "bay1.csv", `c:\x\bay1.csv`: "bay1.csv", "../..": "body", ".hidden": "hidden", "a\x00b": "a_b",
		"x.part": "x.part_", "": "body",
		strings.Repeat("x", 300) + ".csv": strings.Repeat("x", 116) + ".csv",
	} {
		if got := Name(in); got != want {
			t.Errorf("Name(%q) = %q", in, got)
		}
	}
}
