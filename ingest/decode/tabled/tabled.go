// Package tabled is the way by which files that are no text tables (JSON,
// workbooks, Parquet with columns of its own, line protocol …) are read as if
// they were: each comes to rows of text cells, and package delimited reads those
// as it reads any table. So a time, a number, a flag or a missing code means the
// same in every kind of file.
package tabled

import (
	"bufio"
	"bytes"
	"io"
	"strings"
)

// Rows is a file as rows of cells. Its methods are called by one goroutine.
type Rows interface {
	// Next gives the cells of the next row, good until the next call; none for a
	// blank row, io.EOF behind the last. The k-th row counts as line k.
	Next() ([]string, error)
}

// Reader gives the rows as text with commas and quotes (RFC 4180), a line a row.
func Reader(rows Rows) io.Reader { return &reader{rows: rows} }

// blockSize is about how much text is made at a time.
const blockSize = 32 << 10

type reader struct {
	rows Rows
	buf  []byte
	pos  int
	err  error
}

func (r *reader) Read(p []byte) (int, error) {
	if r.pos == len(r.buf) {
		r.fill()
	}
	if r.pos == len(r.buf) {
		return 0, r.err
	}
	n := copy(p, r.buf[r.pos:])
	r.pos += n
	return n, nil
}

func (r *reader) fill() {
	r.buf, r.pos = r.buf[:0], 0
	for r.err == nil && len(r.buf) < blockSize {
		var cells []string
		if cells, r.err = r.rows.Next(); r.err == nil {
			r.buf = AppendRow(r.buf, cells)
		}
	}
}

// AppendRow appends a row as text. A line break inside a cell becomes a blank, so
// that a row is a line.
func AppendRow(b []byte, cells []string) []byte {
	for i, c := range cells {
		if i > 0 {
			b = append(b, ',')
		}
		if !strings.ContainsAny(c, ",\"\r\n") {
			b = append(b, c...)
			continue
		}
		b = append(b, '"')
		for k := range len(c) {
			switch c[k] {
			case '"':
				b = append(b, '"', '"')
			case '\r', '\n':
				b = append(b, ' ')
			default:
				b = append(b, c[k])
			}
		}
		b = append(b, '"')
	}
	return append(b, '\n')
}

// ReadLine gives the next line without its end, of its own memory; of one that is
// longer than most only its beginning. io.EOF behind the last.
func ReadLine(br *bufio.Reader, most int) (text []byte, long bool, err error) {
	for {
		part, err := br.ReadSlice('\n')
		if room := most - len(text); len(part) > room {
			part, long = part[:max(room, 0)], true
		}
		text = append(text, part...)
		switch {
		case err == bufio.ErrBufferFull:
			continue
		case err == io.EOF && len(text) > 0, err == nil:
			return bytes.TrimRight(text, "\r\n"), long, nil
		}
		return nil, false, err
	}
}
