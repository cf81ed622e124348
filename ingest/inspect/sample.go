package inspect

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"

	"wane/ingest/decode"
	"wane/ingest/decode/jsontable"
	"wane/ingest/decode/unwrap"
)

const (
	sampleBytes = 64 << 20 // of a file, unpacked; nearly all are smaller and are looked at whole
	headLines   = 2500     // that columns are understood from: the first ones,
	spreadLines = 500      // some of all the others,
	tailLines   = 60       // and the last ones
)

// sample is a file, or the beginning of a very long one.
type sample struct {
	name     string // as given
	member   string // base name, or that of the archive's first member
	kind     decode.Kind
	raw      []byte // unpacked bytes, as the decoders would see them
	cut      bool   // the file goes on
	encoding string
	text     string     // UTF-8, whole lines
	lines    []textLine // of text, those that columns are understood from
	findings []Finding
}

var errTaken = errors.New("taken")

// take reads a sample and tells its encoding.
func take(name string, r io.Reader) (*sample, error) {
	s := &sample{name: name}
	err := unwrap.Each(name, r, unwrap.Default, func(member string, br *bufio.Reader) error {
		s.member = member
		limit := int64(sampleBytes)
		if head, _ := br.Peek(4); string(head) == "PAR1" || string(head) == "PK\x03\x04" {
			limit = unwrap.Default.Spool // its table of contents stands at the end
		}
		if head, _ := br.Peek(64); len(bytes.TrimLeft(head, " \t\r\n\ufeff")) > 0 &&
			strings.ContainsRune("{[", rune(bytes.TrimLeft(head, " \t\r\n\ufeff")[0])) {
			limit = jsontable.MaxDoc // one document may be the whole file
		}
		data, err := io.ReadAll(io.LimitReader(br, limit))
		if err != nil && len(data) == 0 {
			return err
		}
		if err != nil {
			s.findings = append(s.findings, Finding{"file", "damaged", Certain, err.Error()})
		}
		_, err = br.Peek(1)
		s.raw, s.cut = data, err == nil
		return errTaken
	}, func(string) error { return nil })
	if err != nil && !errors.Is(err, errTaken) {
		return nil, err
	}
	if err := unwrap.Refuse(name, s.raw); err != nil {
		return nil, err
	}
	if base := unwrap.Base(name); base != s.member {
		s.findings = append(s.findings, Finding{"packing", "gzip or zip", Certain,
			fmt.Sprintf("looked at %s inside", s.member)})
	}
	if s.kind, err = decode.KindOf(name, bytes.NewReader(s.raw)); err != nil {
		return nil, err
	}
	if s.isParquet() || s.isWorkbook() {
		return s, nil
	}
	return s, s.decodeText()
}

// decodeText tells the encoding and turns the sample into whole lines of UTF-8.
func (s *sample) decodeText() error {
	f := Finding{What: "encoding", Sure: Certain}
	bom, n := unwrap.BOM(s.raw)
	high := bytes.IndexFunc(s.raw[n:], func(r rune) bool { return r >= 0x80 })
	switch guess := unwrap.GuessUTF16(s.raw); {
	case bom != "":
		s.encoding, f.Evidence = bom, "byte order mark"
	case guess != "":
		s.encoding, f.Sure, f.Evidence = guess, Likely, "every other byte is zero, and there is no byte order mark"
	case high < 0:
		s.encoding, f.Evidence = "utf-8", "nothing but ASCII"
	case unwrap.ValidUTF8(s.raw):
		s.encoding, f.Evidence = "utf-8", "its non-ASCII characters are valid UTF-8"
	default:
		s.encoding, f.Sure = "windows-1252", Likely
		f.Evidence = "not UTF-8; with windows-1252 it reads " + clip(around(s.raw, high))
	}
	f.Value = s.encoding
	s.findings = append(s.findings, f)
	r, err := unwrap.Text(s.name, bufio.NewReaderSize(bytes.NewReader(s.raw), unwrap.Peek), s.encoding)
	if err != nil {
		return err
	}
	data, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	if s.cut {
		if i := bytes.LastIndexByte(data, '\n'); i >= 0 {
			data = data[:i+1]
		}
		// What the trial decodes ends with a whole line too.
		if i := bytes.LastIndexByte(s.raw, '\n'); i >= 0 && !strings.HasPrefix(s.encoding, "utf-16") {
			s.raw = s.raw[:i+1]
		}
	}
	s.text = strings.ToValidUTF8(string(data), "\uFFFD")
	s.lines = thinned(s.text)
	return nil
}

// textLine is a line of the file with its end; 1 is the first.
type textLine struct {
	no   int
	text string
}

// thinned gives the lines that columns are understood from.
func thinned(text string) []textLine {
	total := strings.Count(text, "\n") + 1
	const most = headLines + spreadLines + tailLines
	every := max(1, (total-headLines-tailLines)/spreadLines)
	out := make([]textLine, 0, min(total, most))
	no := 0
	for line := range strings.Lines(text) {
		no++
		if total <= most || no <= headLines || no > total-tailLines || (no-headLines)%every == 0 {
			out = append(out, textLine{no, line})
		}
	}
	return out
}

// around gives some text round a byte, read as Latin-1.
func around(b []byte, at int) string {
	from, to := max(0, at-12), min(len(b), at+12)
	var out strings.Builder
	for _, c := range b[from:to] {
		if c < ' ' {
			c = ' '
		}
		out.WriteRune(rune(c))
	}
	return out.String()
}

// clip shortens text for a message.
func clip(s string) string {
	s = strings.Join(strings.Fields(s), " ")
	if len(s) > 70 {
		s = strings.ToValidUTF8(s[:70], "") + "…"
	}
	return fmt.Sprintf("%q", s)
}

// textOf is the sample's text.
func (s *sample) textOf() string { return s.text }

// setText puts another text in place of the sample's.
func (s *sample) setText(text string) { s.text, s.lines = text, thinned(text) }
