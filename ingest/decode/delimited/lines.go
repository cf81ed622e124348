package delimited

import (
	"bytes"
	"fmt"
	"io"
	"sync"
)

const (
	blockSize  = 256 << 10
	maxLine    = 1 << 20  // bytes; a line of 16384 columns fits many times over
	maxQuoted  = 64 << 10 // bytes of a record whose quoted cell holds line breaks
	maxWrapped = 20       // lines of such a record
)

// lines cuts a stream into lines without copying: a line is a piece of the
// block buffer, good until the next call.
type lines struct {
	r   io.Reader
	buf []byte
	pos int // where the next line begins
	end int // where the read bytes end
	eof bool
	no  int // number of the line last given
}

// line is one line without its end.
type line struct {
	text       []byte
	no         int
	terminated bool // a line break stood behind it
	tooLong    bool // only its first bytes are here
	raw        int  // bytes of the stream it took, with its end
	firstRaw   int  // those of its first line, where quoted cells made it span several; else 0
}

// blocks are buffers that go from file to file.
var blocks = sync.Pool{New: func() any { return new([blockSize]byte) }}

func newLines(r io.Reader) *lines {
	return &lines{r: r, buf: blocks.Get().(*[blockSize]byte)[:]}
}

// leave gives the buffer up, and with it every line.
func (l *lines) leave() {
	if len(l.buf) == blockSize { // it has not grown for a long line
		blocks.Put((*[blockSize]byte)(l.buf))
	}
	l.buf = nil
}

// fill reads more behind end, keeping everything from keep on. It reports
// whether anything came.
func (l *lines) fill(keep int) (shift int, err error) {
	if l.eof {
		return 0, nil
	}
	if keep > 0 {
		copy(l.buf, l.buf[keep:l.end])
		l.pos -= keep
		l.end -= keep
	}
	if l.end == len(l.buf) {
		l.buf = append(l.buf, make([]byte, len(l.buf))...)
	}
	for tries := 0; ; tries++ {
		n, err := l.r.Read(l.buf[l.end:])
		l.end += n
		if err == io.EOF {
			l.eof = true
			return keep, nil
		}
		if err != nil {
			return keep, err
		}
		if n > 0 {
			return keep, nil
		}
		if tries == 100 {
			return keep, io.ErrNoProgress
		}
	}
}

// next gives the next line; io.EOF after the last.
func (l *lines) next() (line, error) {
	from := l.pos
	for {
		if i := bytes.IndexByte(l.buf[from:l.end], '\n'); i >= 0 {
			ln := line{text: trimCR(l.buf[l.pos : from+i]), terminated: true, raw: from + i + 1 - l.pos}
			ln.tooLong = len(ln.text) > maxLine
			l.pos = from + i + 1
			l.no++
			ln.no = l.no
			return ln, nil
		}
		if l.end-l.pos > maxLine {
			return l.skipLong()
		}
		if l.eof {
			if l.pos == l.end {
				return line{}, io.EOF
			}
			ln := line{text: l.buf[l.pos:l.end], raw: l.end - l.pos}
			l.pos = l.end
			l.no++
			ln.no = l.no
			return ln, nil
		}
		from = l.end
		shift, err := l.fill(l.pos)
		if err != nil {
			return line{}, err
		}
		from -= shift
	}
}

// skipLong passes over a line beyond the limit without holding it.
func (l *lines) skipLong() (line, error) {
	ln := line{text: bytes.Clone(l.buf[l.pos : l.pos+400]), tooLong: true}
	l.pos = l.end
	for {
		if i := bytes.IndexByte(l.buf[l.pos:l.end], '\n'); i >= 0 {
			l.pos += i + 1
			ln.terminated = true
			break
		}
		l.pos = l.end
		if l.eof {
			break
		}
		if _, err := l.fill(l.pos); err != nil {
			return line{}, err
		}
	}
	l.no++
	ln.no = l.no
	return ln, nil
}

// extend adds the next line to one whose quoted cell is still open; ok is false
// where the record would become too long or the file ends.
func (l *lines) extend(ln line) (longer line, ok bool, err error) {
	begin := l.pos - ln.raw
	from := l.pos
	for {
		if i := bytes.IndexByte(l.buf[from:l.end], '\n'); i >= 0 {
			l.pos = from + i + 1
			l.no++
			ln.text, ln.terminated = trimCR(l.buf[begin:from+i]), true
			ln.raw = l.pos - begin
			return ln, true, nil
		}
		if l.end-begin > maxQuoted || l.eof && l.pos == l.end {
			ln.text = l.buf[begin : begin+ln.raw]
			return ln, false, nil
		}
		if l.eof {
			l.pos = l.end
			l.no++
			ln.text, ln.terminated = l.buf[begin:l.end], false
			ln.raw = l.pos - begin
			return ln, true, nil
		}
		from = l.end
		shift, err := l.fill(begin)
		if err != nil {
			return line{}, false, err
		}
		begin -= shift
		from -= shift
	}
}

// record gives the next line cut into cells, with as many further lines as its
// quoted cells need. open is true where a quote is never closed: then the line
// is only the first one, and reading goes on behind it.
func (l *lines) record(s *splitter) (ln line, open bool, err error) {
	if ln, err = l.next(); err != nil || ln.tooLong {
		return ln, false, err
	}
	if s.split(ln.text) == nil {
		return ln, false, nil
	}
	long := ln
	for range maxWrapped {
		var ok bool
		if long, ok, err = l.extend(long); err != nil {
			return line{}, false, err
		}
		if !ok {
			break
		}
		if s.split(long.text) == nil {
			long.firstRaw = ln.raw
			return long, false, nil
		}
	}
	long.firstRaw = ln.raw
	return l.firstOf(long), true, nil
}

// firstOf gives all but the first line of a record just read back to the stream.
// The whole of it is still in the buffer.
func (l *lines) firstOf(ln line) line {
	begin := l.pos - ln.raw
	l.pos, l.no = begin+ln.firstRaw, ln.no
	first := l.buf[begin:l.pos]
	terminated := bytes.HasSuffix(first, []byte{'\n'})
	return line{text: trimCR(bytes.TrimSuffix(first, []byte{'\n'})), no: ln.no, terminated: terminated, raw: ln.firstRaw}
}

func trimCR(b []byte) []byte {
	if n := len(b); n > 0 && b[n-1] == '\r' {
		return b[:n-1]
	}
	return b
}

// span is one cell of a line: bytes [a,b) of the line, or of the scratch buffer
// where the cell had to be unquoted.
type span struct {
	a, b    int32
	scratch bool
}

// splitter cuts lines into cells.
type splitter struct {
	delim   byte
	quote   byte // 0 for none
	line    []byte
	cells   []span
	scratch []byte
}

// errOpenQuote says that a quoted cell is not closed in this line.
var errOpenQuote = fmt.Errorf("open quote")

// split cuts a line. Cells are without surrounding blanks and quotes.
func (s *splitter) split(text []byte) error {
	s.line = text
	s.cells = s.cells[:0]
	s.scratch = s.scratch[:0]
	if s.quote != 0 && bytes.IndexByte(text, s.quote) >= 0 {
		return s.splitQuoted(text)
	}
	delim := s.delim
	a := 0
	for i, c := range text {
		if c == delim {
			s.cells = append(s.cells, span{a: int32(a), b: int32(i)})
			a = i + 1
		}
	}
	s.cells = append(s.cells, span{a: int32(a), b: int32(len(text))})
	return nil
}

// splitQuoted cuts a line that has quote characters. A quote counts only at the
// start of a cell; anywhere else it is text.
func (s *splitter) splitQuoted(text []byte) error {
	i := 0
	for {
		a := i
		for i < len(text) && text[i] == ' ' {
			i++
		}
		if i < len(text) && text[i] == s.quote {
			from := int32(len(s.scratch))
			i++
			for {
				k := bytes.IndexByte(text[i:], s.quote)
				if k < 0 {
					return errOpenQuote
				}
				s.scratch = append(s.scratch, text[i:i+k]...)
				i += k + 1
				if i < len(text) && text[i] == s.quote {
					s.scratch = append(s.scratch, s.quote)
					i++
					continue
				}
				break
			}
			// Behind a closing quote only blanks may stand: else one of the
			// quotes is astray and the cells cannot be told.
			k := bytes.IndexByte(text[i:], s.delim)
			rest := text[i:]
			if k >= 0 {
				rest = text[i : i+k]
			}
			if len(trim(rest)) > 0 {
				return errOpenQuote
			}
			s.cells = append(s.cells, span{a: from, b: int32(len(s.scratch)), scratch: true})
			if k < 0 {
				return nil
			}
			i += k + 1
			continue
		}
		k := bytes.IndexByte(text[i:], s.delim)
		if k < 0 {
			s.cells = append(s.cells, span{a: int32(a), b: int32(len(text))})
			return nil
		}
		s.cells = append(s.cells, span{a: int32(a), b: int32(i + k)})
		i += k + 1
	}
}

// cell gives the i-th cell, trimmed.
func (s *splitter) cell(i int) []byte {
	c := s.cells[i]
	b := s.line[c.a:c.b:c.b]
	if c.scratch {
		b = s.scratch[c.a:c.b:c.b]
	}
	return trimmed(b)
}

// trimmed is trim for cells that mostly need none.
func trimmed(b []byte) []byte {
	if n := len(b); n > 0 && (b[0] <= ' ' || b[n-1] <= ' ' || b[0] == 0xc2) {
		return trim(b)
	}
	return b
}

// trim takes blanks off both ends, the no-break space of spreadsheets too.
func trim(b []byte) []byte {
	for {
		n := len(b)
		switch {
		case n > 0 && (b[0] == ' ' || b[0] == '\t' || b[0] == '\r' || b[0] == '\n'):
			b = b[1:]
		case n > 0 && (b[n-1] == ' ' || b[n-1] == '\t' || b[n-1] == '\r' || b[n-1] == '\n'):
			b = b[:n-1]
		case n > 1 && b[0] == 0xc2 && b[1] == 0xa0:
			b = b[2:]
		case n > 1 && b[n-2] == 0xc2 && b[n-1] == 0xa0:
			b = b[:n-2]
		default:
			return b
		}
	}
}
