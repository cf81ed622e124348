package unwrap

import (
	"archive/zip"
	"bufio"
	"bytes"
	"compress/gzip"
	"errors"
	"io"
	"os"
	"strings"
	"testing"

	"wane/ingest/decode/emit"
)

func gz(data []byte) []byte {
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	_, _ = w.Write(data)
	_ = w.Close()
	return b.Bytes()
}

func zipOf(t *testing.T, members ...func(*zip.Writer) error) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, m := range members {
		if err := m(w); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func member1(name string, data []byte) func(*zip.Writer) error {
	return func(w *zip.Writer) error {
		f, err := w.Create(name)
		if err == nil {
			_, err = f.Write(data)
		}
		return err
	}
}

// drain reads all members to the end.
func drain(name string, data []byte, lim Limits) (names []string, n int64, err error) {
	err = Each(name, bytes.NewReader(data), lim, func(member string, r *bufio.Reader) error {
		names = append(names, member)
		k, err := io.Copy(io.Discard, r)
		n += k
		return err
	}, func(member string) error {
		names = append(names, "passed:"+member)
		return nil
	})
	return names, n, err
}

func TestBombs(t *testing.T) {
	zeros := make([]byte, 40<<20)
	small := Limits{Bytes: 1 << 20, Ratio: 250, Members: 3, Spool: 1 << 20}
	for name, c := range map[string]struct {
		data []byte
		lim  Limits
		want string
	}{
		"ratio.gz":  {gz(zeros), Default, "unpacks to more than 250 times its size"},
		"size.gz":   {gz(zeros[:2<<20]), small, "unpacks to more than 1 MiB"},
		"ratio.zip": {zipOf(t, member1("a", zeros)), Default, "unpacks to more than 250 times its size"},
		"size.zip": {zipOf(t, member1("a", zeros[:600<<10]), member1("b", zeros[:600<<10])), small,
			"unpacks to more than 1 MiB"},
		"many.zip": {zipOf(t, member1("a", nil), member1("b", nil), member1("c", nil), member1("d", nil)), small,
			"more than 3 members"},
		"nested.zip": {zipOf(t, member1("a.gz", gz([]byte("x")))), Default, "packed once more"},
		"none.zip":   {zipOf(t, member1("dir/", nil), member1(".hidden", nil)), Default, "holds no file"},
		"link.zip": {zipOf(t, func(w *zip.Writer) error {
			h := &zip.FileHeader{Name: "link"}
			h.SetMode(os.ModeSymlink | 0o777)
			f, err := w.CreateHeader(h)
			if err == nil {
				_, err = f.Write([]byte("/etc/passwd"))
			}
			return err
		}), Default, "link or a device"},
		"cut.gz":  {gz([]byte(strings.Repeat("a line of text\n", 9)))[:30], Default, "cut short"},
		"sum.gz":  {append(gz([]byte("abc"))[:20], 0, 0, 0, 0, 0, 0, 0, 0), Default, "is broken"},
		"cut.zip": {zipOf(t, member1("a", []byte("abc")))[:40], Default, "cannot be opened"},
	} {
		_, n, err := drain(name, c.data, c.lim)
		var fe *emit.FileError
		if !errors.As(err, &fe) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
		if n > 32<<20 {
			t.Errorf("%s: %d bytes came out", name, n)
		}
	}
}

func TestMembers(t *testing.T) {
	data := zipOf(t, member1("../../etc/passwd", []byte("1")), member1(`c:\logs\bay2.csv`, []byte("22")),
		member1("__MACOSX/._a", []byte("333")))
	names, n, err := drain("x.zip", data, Default)
	if err != nil || n != 3 || strings.Join(names, " ") != "passwd bay2.csv" {
		t.Error(names, n, err)
	}
	data = zipOf(t, member1("a/.night.csv", []byte("1")), member1("b.csv", []byte("22")),
		member1(".DS_Store", []byte("3")), member1("__MACOSX/c.csv", nil))
	names, n, err = drain("x.zip", data, Default)
	if err != nil || n != 2 || strings.Join(names, " ") != "passed:a/.night.csv b.csv passed:__MACOSX/c.csv" {
		t.Error(names, n, err)
	}
	names, n, err = drain("logs/x.csv.gz", gz([]byte("1234")), Default)
	if err != nil || n != 4 || names[0] != "x.csv" {
		t.Error(names, n, err)
	}
}

// TestNoSeeking reads a zip from a plain stream, which is held in memory up to a
// bound.
func TestNoSeeking(t *testing.T) {
	data := zipOf(t, member1("a", []byte("abc")))
	lim := Default
	for _, c := range []struct {
		spool int64
		ok    bool
	}{{1 << 20, true}, {50, false}} {
		lim.Spool = c.spool
		err := Each("x.zip", io.MultiReader(bytes.NewReader(data)), lim, func(string, *bufio.Reader) error { return nil },
			nil)
		if (err == nil) != c.ok {
			t.Errorf("spool %d: %v", c.spool, err)
		}
	}
}

func TestText(t *testing.T) {
	for _, c := range []struct{ in, enc, want string }{
		{"a\xb5b\n", "windows-1252", "aµb\n"}, {"\x80\n", "windows-1252", "€\n"}, {"a\xb5\n", "iso-8859-1", "aµ\n"},
		{"\xef\xbb\xbfab\n", "windows-1252", "ab\n"}, {"\xff\xfea\x00\n\x00", "utf-8", "a\n"},
		{"\xfe\xff\x00a\x00\n", "utf-8", "a\n"},
		{"a\x00\n\x00", "utf-16le", "a\n"}, {"a\rb\r", "utf-8", "a\nb\n"}, {"\xff\xfea\x00\r\x00b\x00", "utf-16", "a\nb"},
	} {
		r, err := Text("x", bufio.NewReaderSize(strings.NewReader(c.in), Peek), c.enc)
		if err != nil {
			t.Errorf("%q: %v", c.in, err)
			continue
		}
		if got, err := io.ReadAll(r); string(got) != c.want || err != nil {
			t.Errorf("%q as %s: %q %v", c.in, c.enc, got, err)
		}
	}
	_, err := Text("x", bufio.NewReaderSize(strings.NewReader("T\x00i\x00m\x00e\x00\n\x00"), Peek), "utf-8")
	if err == nil || !strings.Contains(err.Error(), "set encoding: utf-16le") {
		t.Error(err)
	}
}

func FuzzEach(f *testing.F) {
	f.Add(gz([]byte("time,a\n")))
	f.Add([]byte("PK\x03\x04 and so on"))
	f.Add([]byte("time,a\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		_, n, err := drain("x", data, Limits{Bytes: 1 << 16, Ratio: 10, Members: 4, Spool: 1 << 16})
		if n > 1<<17 && err == nil && bytes.HasPrefix(data, []byte{0x1f, 0x8b}) {
			t.Fatal("the bound did not hold", n)
		}
	})
}

// TestOldEncodingsAreNoPictures: letters of an old encoding are no UTF-8, and look alike to
// what folds the case of letters.
func TestOldEncodingsAreNoPictures(t *testing.T) {
	for _, head := range []string{"\xc4\xe0\xf2\xe0;PPFD\n", "\x93\xfa\x8e\x9e,PPFD\n", "\xe9t\xe9;PPFD\n"} {
		if err := Refuse("x.csv", []byte(head)); err != nil {
			t.Errorf("%q: %v", head, err)
		}
	}
	for _, head := range []string{"\xff\xd8\xff\xe0", "<HTML><body>", "<!doctype html>"} {
		if Refuse("x.csv", []byte(head)) == nil {
			t.Errorf("%q passes", head)
		}
	}
}
