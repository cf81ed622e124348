package unwrap

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"wane/ingest/decode/emit"
)

// magic are beginnings of files that people drop into an inbox by mistake.
var magic = []struct{ begin, what, do string }{
	{"\x89PNG", "this is a PNG picture", "hand in the logger's file"},
	{"\xff\xd8\xff", "this is a JPEG picture", "hand in the logger's file"},
	{"GIF8", "this is a GIF picture", "hand in the logger's file"},
	{"%PDF", "this is a PDF document", "export the readings as CSV"},
	{"SQLite format 3\x00", "this is a database file", "export the readings as CSV"},
	{"\x7fELF", "this is a program", "hand in the logger's file"},
	{"MZ\x90", "this is a program", "hand in the logger's file"},
	{"7z\xbc\xaf\x27\x1c", "this is a 7z archive", "unpack it, or use gzip or zip"},
	{"\xfd7zXZ", "this is an xz archive", "unpack it, or use gzip or zip"},
	{"BZh", "this is a bzip2 archive", "unpack it, or use gzip or zip"},
	{"\x28\xb5\x2f\xfd", "this is a zstd archive", "unpack it, or use gzip or zip"},
	{"<!DOCTYPE", "this is a web page", "it may be an error page saved in place of the file; download it again"},
	{"<html", "this is a web page", "it may be an error page saved in place of the file; download it again"},
	{"<?xml", "this is an XML document", "export the readings as CSV"},
	{"{\\rtf", "this is a word processor's document", "export the readings as CSV"},
}

// Refuse says what a file is that is no logger file, nil where it may be one.
func Refuse(name string, head []byte) error {
	if len(head) == 0 {
		return &emit.FileError{File: name, What: "the file is empty", Do: "export it again"}
	}
	for _, m := range magic {
		if len(head) >= len(m.begin) && bytes.Equal(lowered(head[:len(m.begin)]), lowered([]byte(m.begin))) {
			return &emit.FileError{File: name, What: m.what, Do: m.do}
		}
	}
	if bytes.HasPrefix(head, []byte("\xd0\xcf\x11\xe0")) {
		return compound(name, head)
	}
	if len(bytes.Trim(head, "\x00")) == 0 {
		return &emit.FileError{File: name, What: "the file holds nothing but zero bytes, as after a power cut",
			Do: "export it again"}
	}
	return nil
}

// lowered turns ASCII capitals into small letters, and nothing else: to fold the case of
// bytes that are no UTF-8 would make all of them equal.
func lowered(b []byte) []byte {
	out := bytes.Clone(b)
	for i, c := range out {
		if c >= 'A' && c <= 'Z' {
			out[i] = c + 'a' - 'A'
		}
	}
	return out
}

// compound says what a file of the container of old office programs is, by the
// names of the streams inside, which are UTF-16.
func compound(name string, head []byte) error {
	has := func(stream string) bool {
		var wide []byte
		for _, c := range []byte(stream) {
			wide = append(wide, c, 0)
		}
		return bytes.Contains(head, wide)
	}
	switch {
	case has("EncryptedPackage"):
		return &emit.FileError{File: name, What: "this is a workbook that is locked with a password",
			Do: "open it, take the password off, save it as .xlsx or CSV and hand that in"}
	case has("Workbook"), has("Book"), strings.HasSuffix(strings.ToLower(name), ".xls"):
		return &emit.FileError{File: name, What: "this is a workbook of the old binary kind (.xls)",
			Do: "open it, save it as .xlsx or CSV and hand that in"}
	}
	return &emit.FileError{File: name, What: "this is an office document of the old binary kind",
		Do: "open it, save the sheet as .xlsx or CSV and hand that in"}
}

// BOM gives the encoding that a byte order mark states, "" for none, and the
// mark's length.
func BOM(head []byte) (enc string, n int) {
	switch {
	case bytes.HasPrefix(head, []byte{0xef, 0xbb, 0xbf}):
		return "utf-8", 3
	case bytes.HasPrefix(head, []byte{0xff, 0xfe}):
		return "utf-16le", 2
	case bytes.HasPrefix(head, []byte{0xfe, 0xff}):
		return "utf-16be", 2
	}
	return "", 0
}

// GuessUTF16 tells UTF-16 without a mark by where its zero bytes stand, "" where
// it is not that.
func GuessUTF16(head []byte) string {
	n := min(len(head), 2000) &^ 1
	if n < 4 {
		return ""
	}
	var even, odd int
	for i := 0; i < n; i += 2 {
		if head[i] == 0 {
			even++
		}
		if head[i+1] == 0 {
			odd++
		}
	}
	switch {
	case odd > n/2*7/10 && even*20 <= n:
		return "utf-16le"
	case even > n/2*7/10 && odd*20 <= n:
		return "utf-16be"
	}
	return ""
}

// Text turns a file in the declared encoding into UTF-8 without mark. A mark
// wins over the declaration. Lines that end in CR alone get LF.
func Text(name string, br *bufio.Reader, enc string) (io.Reader, error) {
	head, err := br.Peek(Peek)
	if err != nil && err != io.EOF {
		return nil, err
	}
	if err := Refuse(name, head); err != nil {
		return nil, err
	}
	if bytes.HasPrefix(head, []byte("PK\x03\x04")) {
		return nil, &emit.FileError{File: name, What: workbook + ", and its description is of another kind of file",
			Do: "describe it with format: workbook; inspect proposes that"}
	}
	bom, n := BOM(head)
	if bom != "" {
		enc = bom
		if _, err := br.Discard(n); err != nil {
			return nil, err
		}
		head = head[n:]
	}
	var text io.Reader = br
	switch enc {
	case "utf-8":
		if g := GuessUTF16(head); g != "" && bom == "" {
			return nil, &emit.FileError{File: name, What: "this looks like UTF-16, not UTF-8", Do: "set encoding: " + g}
		}
	case "utf-16le", "utf-16":
		text = decoded(br, unicode.UTF16(unicode.LittleEndian, unicode.IgnoreBOM))
	case "utf-16be":
		text = decoded(br, unicode.UTF16(unicode.BigEndian, unicode.IgnoreBOM))
	case "iso-8859-1":
		text = decoded(br, charmap.ISO8859_1)
	case "windows-1252":
		text = decoded(br, charmap.Windows1252)
	default:
		return nil, &emit.FileError{File: name, What: fmt.Sprintf("encoding %q is not known", enc),
			Do: "set encoding to one that is"}
	}
	plain := head
	if strings.HasPrefix(enc, "utf-16") {
		plain = bytes.ReplaceAll(head, []byte{0}, nil)
	}
	if bytes.IndexByte(plain, '\n') < 0 && bytes.Count(plain, []byte{'\r'}) > 0 {
		text = crReader{text}
	}
	return text, nil
}

func decoded(r io.Reader, e encoding.Encoding) io.Reader { return e.NewDecoder().Reader(r) }

// ValidUTF8 tells whether a part of a file is UTF-8, apart from a character cut
// at its end.
func ValidUTF8(b []byte) bool {
	for i := 0; i < 4 && len(b) > 0; i++ {
		if utf8.Valid(b) {
			return true
		}
		if utf8.RuneStart(b[len(b)-1]) && b[len(b)-1] >= utf8.RuneSelf {
			return utf8.Valid(b[:len(b)-1])
		}
		b = b[:len(b)-1]
	}
	return len(b) == 0
}

// crReader turns CR into LF, for files of very old systems.
type crReader struct{ r io.Reader }

func (c crReader) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	for i, b := range p[:n] {
		if b == '\r' {
			p[i] = '\n'
		}
	}
	return n, err
}
