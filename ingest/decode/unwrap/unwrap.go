// Package unwrap gets from the bytes of a file to the text inside: it opens
// gzip and zip, says clearly what is no logger file at all, and turns other
// encodings into UTF-8.
//
// Archives are bounded: how much comes out in all, how much against what went
// in, how many members. Member names are shown, never used as paths.
package unwrap

import (
	"archive/zip"
	"bufio"
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"
	"sync"

	"wane/ingest/decode/emit"
)

// Limits bound what an archive may hold.
type Limits struct {
	Bytes   int64 // unpacked, in all
	Ratio   int64 // unpacked to packed, looked at once ratioFrom bytes came out
	Members int   // of a zip
	Spool   int64 // bytes of a zip or Parquet file that is held in memory when its reader cannot seek
}

// Default allows a year of a large site in one file. Deflate at its best packs
// a thousand to one, logger text rarely more than fifty.
var Default = Limits{Bytes: 16 << 30, Ratio: 250, Members: 1000, Spool: 64 << 20}

const ratioFrom = 16 << 20

// Peek is how many bytes of a file are looked at to recognise it.
const Peek = 64 << 10

// rooms are buffers for reading a file, which go from file to file.
var rooms = sync.Pool{New: func() any { return bufio.NewReaderSize(nil, Peek) }}

// Each calls fn for the content of a file: once, or once for every member of a
// zip that is no folder and not hidden. member is the base name without folders.
// passed is told the whole name of each hidden member, which is not read; the
// leftovers that one operating system puts into every zip are not worth telling.
// An error of fn or passed ends it and is returned. fn does not keep its reader.
func Each(name string, r io.Reader, lim Limits, fn func(member string, r *bufio.Reader) error,
	passed func(member string) error) error {
	br := rooms.Get().(*bufio.Reader)
	br.Reset(r)
	defer func() {
		br.Reset(nil)
		rooms.Put(br)
	}()
	head, err := br.Peek(Peek)
	if err != nil && err != io.EOF {
		return fmt.Errorf("read %s: %w", name, err)
	}
	switch {
	case bytes.HasPrefix(head, []byte{0x1f, 0x8b}):
		return eachGzip(name, br, lim, fn)
	case bytes.HasPrefix(head, []byte("PK\x03\x04")), bytes.HasPrefix(head, []byte("PK\x05\x06")):
		return eachZip(name, r, br, lim, fn, passed)
	}
	return fn(Base(name), br)
}

// Base is the last part of a name with slashes of either kind.
func Base(name string) string { return path.Base(strings.ReplaceAll(name, `\`, "/")) }

func eachGzip(name string, br *bufio.Reader, lim Limits, fn func(string, *bufio.Reader) error) error {
	packed := &countReader{r: br}
	zr, err := gzip.NewReader(bufio.NewReaderSize(packed, Peek))
	if err != nil {
		return &emit.FileError{File: name, What: fmt.Sprintf("looks like gzip, but cannot be opened (%v)", err),
			Do: "copy the file again"}
	}
	inner := Base(name)
	if strings.HasSuffix(strings.ToLower(inner), ".gz") {
		inner = inner[:len(inner)-3]
	}
	b := &bounded{r: zr, file: name, lim: lim, kind: "gzip", packed: func() int64 { return packed.n }}
	return fn(inner, bufio.NewReaderSize(b, Peek))
}

func eachZip(name string, r io.Reader, br *bufio.Reader, lim Limits, fn func(string, *bufio.Reader) error,
	passed func(string) error) error {
	at, size, err := RandomAccess(name, r, br, lim)
	if err != nil {
		return err
	}
	zr, err := zip.NewReader(at, size)
	if err != nil {
		return &emit.FileError{File: name, What: fmt.Sprintf("looks like zip, but cannot be opened (%v)", err),
			Do: "copy the file again"}
	}
	var total int64
	members, read := 0, 0
	switch what, do := document(zr); {
	case what == workbook:
		return fn(Base(name), bufio.NewReaderSize(io.NewSectionReader(at, 0, size), Peek))
	case what != "":
		return &emit.FileError{File: name, What: what, Do: do}
	}
	for _, f := range zr.File {
		base := Base(f.Name)
		if f.FileInfo().IsDir() || leftover(f.Name, base) {
			continue
		}
		if members++; members > lim.Members {
			return &emit.FileError{File: name, What: fmt.Sprintf("the zip has more than %d members", lim.Members),
				Do: "unpack it and hand the files in"}
		}
		if strings.HasPrefix(base, ".") || aside(f.Name) {
			if err := passed(f.Name); err != nil {
				return err
			}
			continue
		}
		read++
		if err := member(name, f, base, lim, &total, fn); err != nil {
			return err
		}
	}
	if read == 0 {
		return &emit.FileError{File: name, What: "the zip holds no file", Do: "export again"}
	}
	return nil
}

// aside tells whether a member lies in the folder beside the files of a zip in
// which one operating system keeps what it knows of them.
func aside(full string) bool { return strings.Contains(full, "__MACOSX/") }

// leftover tells what that system writes by itself: never readings.
func leftover(full, base string) bool {
	return base == ".DS_Store" || aside(full) && strings.HasPrefix(base, "._")
}

// workbook is the one kind of document that is read, as a whole.
const workbook = "this is a spreadsheet workbook"

// document says what a zip is that is a document of an office program.
func document(zr *zip.Reader) (what, do string) {
	const csv = "save the sheet as .xlsx or CSV and hand that in"
	office := false
	for _, f := range zr.File {
		switch name := strings.ToLower(f.Name); {
		case name == "xl/workbook.xml":
			return workbook, ""
		case name == "xl/workbook.bin":
			return "this is a workbook in binary form (.xlsb)", csv
		case name == "mimetype" && f.UncompressedSize64 < 200:
			return "this is an open document, such as a spreadsheet (.ods)", csv
		case name == "[content_types].xml":
			office = true
		}
	}
	if office {
		return "this is an office document and no workbook", "export the readings as CSV and hand that in"
	}
	return "", ""
}

// member opens one member of a zip.
func member(name string, f *zip.File, base string, lim Limits, total *int64,
	fn func(string, *bufio.Reader) error) error {
	if !f.Mode().IsRegular() {
		return &emit.FileError{File: name, What: fmt.Sprintf("zip member %q is a link or a device", f.Name),
			Do: "take it out of the zip"}
	}
	if f.Flags&1 != 0 {
		return &emit.FileError{File: name, What: fmt.Sprintf("zip member %q is encrypted", f.Name),
			Do: "unpack it with its password and hand the file in"}
	}
	rc, err := f.Open()
	if err != nil {
		return &emit.FileError{File: name, What: fmt.Sprintf("zip member %q cannot be opened (%v)", f.Name, err),
			Do: "unpack it and hand the file in"}
	}
	defer rc.Close()
	b := &bounded{r: rc, file: name, lim: lim, kind: "zip", packed: func() int64 { return int64(f.CompressedSize64) },
		before: *total}
	inner := bufio.NewReaderSize(b, Peek)
	if head, _ := inner.Peek(4); bytes.HasPrefix(head, []byte{0x1f, 0x8b}) || bytes.HasPrefix(head, []byte("PK\x03\x04")) {
		return &emit.FileError{File: name, What: fmt.Sprintf("zip member %q is packed once more", f.Name),
			Do: "unpack the outer one and hand the inner file in"}
	}
	err = fn(base, inner)
	*total += b.n
	return err
}

// RandomAccess gives the whole of a file for reading at any place: r itself
// where it can and holds what br gives, else a copy in memory up to lim.Spool. br
// is a reader on r that may have read ahead, or on a member of it.
func RandomAccess(name string, r io.Reader, br *bufio.Reader, lim Limits) (io.ReaderAt, int64, error) {
	if f, ok := r.(interface {
		io.ReaderAt
		io.Seeker
	}); ok && sameStart(f, br) {
		size, err := f.Seek(0, io.SeekEnd)
		if err != nil {
			return nil, 0, fmt.Errorf("read %s: %w", name, err)
		}
		return f, size, nil
	}
	data, err := io.ReadAll(io.LimitReader(br, lim.Spool+1))
	if err != nil {
		return nil, 0, err
	}
	if int64(len(data)) > lim.Spool {
		return nil, 0, &emit.FileError{File: name, What: fmt.Sprintf("more than %d MiB in a form that must be read as a whole", lim.Spool>>20), Do: "hand it in unpacked, or in smaller files"}
	}
	return bytes.NewReader(data), int64(len(data)), nil
}

// sameStart tells whether br stands at the beginning of f, unpacked.
func sameStart(f io.ReaderAt, br *bufio.Reader) bool {
	want, _ := br.Peek(64)
	got := make([]byte, len(want))
	n, _ := f.ReadAt(got, 0)
	return n == len(want) && bytes.Equal(got, want)
}

type countReader struct {
	r io.Reader
	n int64
}

func (c *countReader) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	c.n += int64(n)
	return n, err
}

// bounded stops an archive that swells, and puts words to one that is broken.
type bounded struct {
	r      io.Reader
	file   string
	kind   string
	lim    Limits
	packed func() int64
	before int64 // came out of earlier members
	n      int64
}

func (b *bounded) Read(p []byte) (int, error) {
	n, err := b.r.Read(p)
	b.n += int64(n)
	if out := b.before + b.n; out > b.lim.Bytes {
		return 0, &emit.FileError{File: b.file, What: fmt.Sprintf("unpacks to more than %d MiB", b.lim.Bytes>>20),
			Do: "hand it in as smaller files"}
	}
	if b.n > ratioFrom && b.n/b.lim.Ratio > b.packed() {
		return 0, &emit.FileError{File: b.file, What: fmt.Sprintf("unpacks to more than %d times its size, as no logger file does", b.lim.Ratio), Do: "if it is one, hand it in unpacked"}
	}
	if err != nil && err != io.EOF {
		what := fmt.Sprintf("%s is broken (%v)", b.kind, err)
		if errors.Is(err, io.ErrUnexpectedEOF) {
			what = b.kind + " ends before its end: it was cut short"
		}
		return n, &emit.FileError{File: b.file, What: what, Do: "copy the file again"}
	}
	return n, err
}
