package jsontable

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"wane/ingest/decode/tabled"
)

const (
	MaxDoc   = 32 << 20 // bytes of one document, or of one element of a list that is read element by element
	MaxDepth = 64       // levels of lists and objects in each other
	maxLine  = 1 << 20  // bytes of one line of JSON lines
	peek     = 64 << 10
)

var (
	errTooLong = fmt.Errorf("more than %d MiB in one piece", MaxDoc>>20)
	errTooDeep = fmt.Errorf("more than %d levels of lists and objects", MaxDepth)
)

// docs gives the documents of a file.
type docs struct {
	br     *bufio.Reader
	dec    *json.Decoder
	bound  *bounded
	lines  bool // a document a line
	stream bool // the file is one list, whose elements come one by one
	no     int  // line of the document last given; with lines only
}

// doc is one document, or what is in its place.
type doc struct {
	value   any
	element bool   // value is an element of the list that the document is
	blank   bool   // with lines: the line is blank
	text    []byte // with lines: the line
	bad     error  // with lines: why it is no document
}

// newDocs looks at the beginning of UTF-8 text. elements asks for the elements
// of a file that is one list.
func newDocs(r io.Reader, elements bool) *docs {
	d := &docs{br: bufio.NewReaderSize(r, peek)}
	head, _ := d.br.Peek(peek)
	first, _, whole := bytes.Cut(bytes.TrimLeft(head, " \t\r\n"), []byte{'\n'})
	if whole && json.Valid(lenientBytes(bytes.TrimRight(first, "\r"))) {
		d.lines = true
		return d
	}
	d.bound = &bounded{r: &lenient{r: d.br}, left: MaxDoc}
	d.dec = json.NewDecoder(d.bound)
	d.dec.UseNumber()
	d.stream = elements && bytes.HasPrefix(bytes.TrimLeft(head, " \t\r\n"), []byte{'['})
	return d
}

// next gives the next document; io.EOF behind the last.
func (d *docs) next() (doc, error) {
	if d.lines {
		return d.line()
	}
	d.bound.left = MaxDoc
	if !d.stream {
		v, err := value(d.dec, 0)
		return doc{value: v}, d.said(err)
	}
	if d.dec.InputOffset() == 0 {
		if _, err := d.dec.Token(); err != nil {
			return doc{}, d.said(err)
		}
	}
	if !d.dec.More() {
		if _, err := d.dec.Token(); err != nil { // the closing bracket
			return doc{}, d.said(cut(err))
		}
		if _, err := d.dec.Token(); err != io.EOF {
			return doc{}, errors.New("text follows the end of the list")
		}
		return doc{}, io.EOF
	}
	v, err := value(d.dec, 1)
	return doc{value: v, element: true}, d.said(cut(err))
}

// cut makes the end of the file an unexpected one.
func cut(err error) error {
	if err == io.EOF {
		return io.ErrUnexpectedEOF
	}
	return err
}

// said puts words to an error of the JSON library, which keeps that of the reader.
func (d *docs) said(err error) error {
	if d.bound.full {
		return errTooLong
	}
	return err
}

func (d *docs) line() (doc, error) {
	text, long, err := tabled.ReadLine(d.br, maxLine)
	if err != nil {
		return doc{}, err
	}
	d.no++
	out := doc{text: text}
	switch text = bytes.TrimSpace(bytes.TrimPrefix(text, []byte{0x1e})); {
	case long:
		out.bad = fmt.Errorf("the line has more than %d bytes", maxLine)
	case len(text) == 0:
		out.blank = true
	default:
		dec := json.NewDecoder(bytes.NewReader(lenientBytes(text)))
		dec.UseNumber()
		if out.value, out.bad = value(dec, 0); out.bad == nil {
			if _, err := dec.Token(); err != io.EOF {
				out.bad = errors.New("text follows the document")
			}
		}
		out.bad = cut(out.bad)
	}
	return out, nil
}

// value reads one value. An object that names a member twice says two things,
// and none of them is taken.
func value(dec *json.Decoder, depth int) (any, error) {
	if depth > MaxDepth {
		return nil, errTooDeep
	}
	tok, err := dec.Token()
	if err != nil {
		return nil, err
	}
	switch tok {
	case json.Delim('{'):
		m := map[string]any{}
		for dec.More() {
			name, err := dec.Token()
			if err != nil {
				return nil, cut(err)
			}
			if _, twice := m[name.(string)]; twice {
				return nil, fmt.Errorf("an object has the member %q twice", name)
			}
			if m[name.(string)], err = value(dec, depth+1); err != nil {
				return nil, cut(err)
			}
		}
		_, err = dec.Token()
		return m, cut(err)
	case json.Delim('['):
		list := []any{}
		for dec.More() {
			v, err := value(dec, depth+1)
			if err != nil {
				return nil, cut(err)
			}
			list = append(list, v)
		}
		_, err = dec.Token()
		return list, cut(err)
	}
	if text, ok := tok.(string); ok && len(text) > 1 {
		if v, ok := inText(text, depth); ok {
			return v, nil
		}
	}
	return tok, nil
}

// inText reads a text that is an object or a list in JSON by itself, as brokers hand on the
// payload of a message: paths go on into it.
func inText(text string, depth int) (any, bool) {
	text = strings.TrimSpace(text)
	if !strings.HasPrefix(text, "{") && !strings.HasPrefix(text, "[") || !json.Valid([]byte(text)) {
		return nil, false
	}
	dec := json.NewDecoder(strings.NewReader(text))
	dec.UseNumber()
	v, err := value(dec, depth+1)
	return v, err == nil
}

// bounded ends a piece that is too long: the library holds a whole token.
type bounded struct {
	r    io.Reader
	left int
	full bool
}

func (b *bounded) Read(p []byte) (int, error) {
	if b.left <= 0 {
		b.full = true
		return 0, errTooLong
	}
	n, err := b.r.Read(p[:min(len(p), b.left)])
	b.left -= n
	return n, err
}

// lenient turns the words NaN, Infinity and -Infinity, which common writers of
// JSON print and the standard has not, into null: no value.
type lenient struct {
	r                 *bufio.Reader
	inString, escaped bool
	rest              string // of what stands in place of a word
}

var notNumbers = []string{"NaN", "Infinity", "-Infinity"}

func (l *lenient) Read(p []byte) (int, error) {
	for i := range p {
		if len(l.rest) > 0 {
			p[i], l.rest = l.rest[0], l.rest[1:]
			continue
		}
		if i > 0 && l.r.Buffered() == 0 {
			return i, nil // hand on what is there
		}
		c, err := l.r.ReadByte()
		if err != nil {
			return i, err
		}
		switch {
		case l.escaped:
			l.escaped = false
		case l.inString && c == '\\':
			l.escaped = true
		case c == '"':
			l.inString = !l.inString
		case !l.inString && (c == 'N' || c == 'I' || c == '-'):
			c = l.word(c)
		}
		p[i] = c
	}
	return len(p), nil
}

// word gives c, or the beginning of null where a word begins with it.
func (l *lenient) word(c byte) byte {
	for _, w := range notNumbers {
		if w[0] != c {
			continue
		}
		if next, _ := l.r.Peek(len(w) - 1); string(next) == w[1:] {
			l.r.Discard(len(w) - 1) // was peeked: cannot fail
			l.rest = "ull"
			return 'n'
		}
	}
	return c
}

// lenientBytes is lenient for a text in memory.
func lenientBytes(b []byte) []byte {
	if !bytes.Contains(b, []byte("NaN")) && !bytes.Contains(b, []byte("Infinity")) {
		return b
	}
	out, _ := io.ReadAll(&lenient{r: bufio.NewReader(bytes.NewReader(b))}) // reading from memory cannot fail
	return out
}
