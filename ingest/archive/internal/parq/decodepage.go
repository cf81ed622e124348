package parq

import (
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/apache/arrow/go/v15/parquet"
	"github.com/apache/arrow/go/v15/parquet/file"
	"github.com/apache/arrow/go/v15/parquet/metadata"
)

// errForeign says that a column chunk is not of the form that Readings writes:
// the library reads it.
var errForeign = errors.New("not of the archive's own form")

// chunkLimit is the largest column chunk that is read in one piece. Those that
// Readings writes have 1 MiB at most.
const chunkLimit = 64 << 20

// pager gets the pages of column chunks that are of the form that Readings
// writes: one data page, with a dictionary page before it for names. The
// library takes headers and compression apart; it does so in memory that is
// used again for the next chunk, since fresh memory is dear.
type pager struct {
	pages file.PageReader
	room  memoryOf // of the chunk being read
	chunk peeker
	raw   []byte // the chunk as it lies in the file
}

// chunkPage is the data page of a column chunk, and the names of its dictionary.
type chunkPage struct {
	encoding parquet.Encoding
	data     []byte // in the scratch it was read into
	names    []string
}

// page reads the page of a chunk of rows values into room, whose former content
// it overwrites.
func (p *pager) page(f *os.File, meta *metadata.ColumnChunkMetaData, rows int64,
	room *scratch) (c chunkPage, err error) {
	from, size := meta.DataPageOffset(), meta.TotalCompressedSize()
	if meta.HasDictionaryPage() && meta.DictionaryPageOffset() > 0 {
		from = min(from, meta.DictionaryPageOffset())
	}
	if meta.CryptoMetadata() != nil || meta.NumValues() != rows || size < 0 || size > chunkLimit {
		return c, errForeign
	}
	p.raw = sized(p.raw, int(size))
	if _, err := f.ReadAt(p.raw, from); err != nil {
		return c, fmt.Errorf("%d bytes at %d: %w", size, from, err)
	}
	p.chunk.left, p.room.scratch = p.raw, room
	if p.pages == nil {
		p.pages, err = file.NewPageReader(&p.chunk, rows, meta.Compression(), &p.room, nil)
		if err != nil {
			return c, err
		}
	} else {
		p.pages.Reset(&p.chunk, rows, meta.Compression(), nil)
		if err := p.pages.Err(); err != nil {
			return c, err
		}
	}
	for p.pages.Next() {
		switch page := p.pages.Page().(type) {
		case *file.DictionaryPage:
			if c.names != nil || parquet.Encoding(page.Encoding()) != parquet.Encodings.Plain {
				return c, errForeign
			}
			if c.names, err = dictionary(page.Data(), int(page.NumValues())); err != nil {
				return c, err
			}
		case *file.DataPageV1:
			if int64(page.NumValues()) != rows {
				return c, errForeign
			}
			c.encoding, c.data = parquet.Encoding(page.Encoding()), page.Data()
			return c, nil
		default:
			return c, errForeign
		}
	}
	if err := p.pages.Err(); err != nil {
		return c, err
	}
	return c, errCut
}

// scratch is the memory that the page of one column lies in.
type scratch []byte

func sized(b []byte, n int) []byte {
	if cap(b) < n {
		return make([]byte, n, n+n/8)
	}
	return b[:n]
}

// memoryOf has the library put a page into a scratch: it asks for memory once a
// page, and is done with it when the next page is asked for.
type memoryOf struct{ *scratch }

// Allocate gives the scratch, made larger where it must be.
func (m *memoryOf) Allocate(n int) []byte {
	*m.scratch = sized(*m.scratch, n)
	return *m.scratch
}

// Reallocate makes b larger or smaller.
func (m *memoryOf) Reallocate(n int, b []byte) []byte {
	if n <= cap(b) {
		return b[:n]
	}
	return append(make([]byte, 0, n), b...)[:n]
}

// Free does nothing: the library calls it before the page is read.
func (m *memoryOf) Free([]byte) {}

// peeker lets bytes be read as the library does it.
type peeker struct{ left []byte }

// Peek gives the next n bytes, or what there is of them with io.EOF.
func (p *peeker) Peek(n int) ([]byte, error) {
	if n > len(p.left) {
		return p.left, io.EOF
	}
	return p.left[:n], nil
}

// Discard passes n bytes over.
func (p *peeker) Discard(n int) (int, error) {
	if n > len(p.left) {
		return 0, io.EOF
	}
	p.left = p.left[n:]
	return n, nil
}

// Read reads as an io.Reader does.
func (p *peeker) Read(b []byte) (int, error) {
	if len(p.left) == 0 && len(b) > 0 {
		return 0, io.EOF
	}
	n := copy(b, p.left)
	p.left = p.left[n:]
	return n, nil
}
