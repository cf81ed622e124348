package parq

import (
	"fmt"
	"io"
	"os"

	"github.com/apache/arrow/go/v15/parquet"
	"github.com/apache/arrow/go/v15/parquet/file"
)

// TableCursor reads a file that WriteTable wrote a few rows at a time, so that
// many parts can be gone through side by side in little memory.
type TableCursor struct {
	path  string
	r     *file.Reader
	f     *os.File
	cols  []Column
	at    []int
	group int // next row group
	left  int // rows of the present one still to come
	from  []file.ColumnChunkReader
}

// OpenTable opens a table at its first row; names chooses columns, none means
// all. The caller closes it.
func OpenTable(path string, names ...string) (*TableCursor, error) {
	props := parquet.NewReaderProperties(nil)
	props.BufferedStreamEnabled, props.BufferSize = true, 16<<10 // not whole column chunks
	r, f, err := open(path, file.WithReadProps(props))
	if err != nil {
		return nil, err
	}
	c := &TableCursor{path: path, r: r, f: f}
	if c.cols, c.at, err = choose(r, path, names); err != nil {
		f.Close()
		return nil, err
	}
	c.from = make([]file.ColumnChunkReader, len(c.cols))
	return c, nil
}

// Next gives up to n of the next rows, of one row group; io.EOF after the last.
// The columns hold until the next call.
func (c *TableCursor) Next(n int) (cols []Column, err error) {
	defer func() {
		if p := recover(); p != nil {
			cols, err = nil, fmt.Errorf("read %s: %v", c.path, p)
		}
	}()
	for c.left == 0 {
		if c.group == c.r.NumRowGroups() {
			return nil, io.EOF
		}
		rg := c.r.RowGroup(c.group)
		c.group++
		c.left = int(rg.NumRows())
		for i := range c.cols {
			if c.from[i], err = rg.Column(c.at[i]); err != nil {
				return nil, fmt.Errorf("read %s: %w", c.path, err)
			}
		}
	}
	n = min(n, c.left)
	for i := range c.cols {
		col := &c.cols[i]
		col.Int, col.Float, col.Text, col.Flag, col.Valid = col.Int[:0], col.Float[:0], col.Text[:0], col.Flag[:0],
			col.Valid[:0]
		if err := readColumn(c.from[i], col, int64(n)); err != nil {
			return nil, fmt.Errorf("read %s, column %s: %w", c.path, col.Name, err)
		}
	}
	c.left -= n
	return c.cols, nil
}

// Close closes the file.
func (c *TableCursor) Close() error { return c.f.Close() }
