package columnar

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"strings"

	"github.com/apache/arrow/go/v15/parquet/file"

	"wane/ingest/decode/emit"
	"wane/ingest/decode/unwrap"
	"wane/ingest/source"
)

// Rows is a Parquet file with columns of its own, as rows of text cells. It is a
// tabled.Rows. Lists and maps in a row are no cells: such columns are left out.
type Rows struct {
	ctx     context.Context
	name    string
	size    int64
	rd      *file.Reader
	names   []string
	leaves  []leaf
	group   int // the next one
	left    int64
	have, k int // rows of the piece, and the one that comes
	cells   []string
}

// leaf is a column that is read.
type leaf struct {
	at     int // in the file
	write  func(*column, int) string
	column column
	depth  int16 // definition level of a value
}

// NewRows opens a file. raw is used where it can be read at any place, else br
// is copied into memory within lim. Of its columns those that d names are read;
// all where d is nil.
func NewRows(ctx context.Context, name string, raw io.Reader, br *bufio.Reader, lim unwrap.Limits,
	d *source.Description) (rows *Rows, err error) {
	at, size, err := unwrap.RandomAccess(name, raw, br, lim)
	if err != nil {
		return nil, err
	}
	r := &Rows{ctx: ctx, name: name, size: size}
	defer r.guard(&err)
	if r.rd, err = open(at, size); err != nil {
		return nil, r.broken(err)
	}
	r.bind(d)
	return r, nil
}

// Names lists the columns of the file that can be cells.
func (r *Rows) Names() []string { return r.names }

// Close gives the file's memory up.
func (r *Rows) Close() error { return r.rd.Close() }

func (r *Rows) broken(why any) error { return brokenFile(r.name, why) }

// guard makes an error of the library's panics on some damage; a damaged file is
// no reason to stop.
func (r *Rows) guard(err *error) {
	if p := recover(); p != nil {
		*err = r.broken(p)
	}
}

func (r *Rows) bind(d *source.Description) {
	sc := r.rd.MetaData().Schema
	for i := range sc.NumColumns() {
		node := sc.Column(i)
		write := writer(node)
		if node.MaxRepetitionLevel() > 0 || write == nil {
			continue
		}
		name := node.ColumnPath().String()
		if names(d, name) {
			r.leaves = append(r.leaves, leaf{at: i, write: write, depth: node.MaxDefinitionLevel()})
		} else {
			r.leaves = append(r.leaves, leaf{at: -1})
		}
		r.names = append(r.names, name)
	}
	r.cells = make([]string, len(r.leaves))
}

// names tells whether a description names a column.
func names(d *source.Description, name string) bool {
	if d == nil {
		return true
	}
	for _, n := range d.Names() {
		if n == name || strings.Join(strings.Fields(n), " ") == strings.Join(strings.Fields(name), " ") {
			return true
		}
	}
	for i := range d.Columns {
		if p := d.Columns[i].Pattern(); p != nil && p.MatchString(name) {
			return true
		}
	}
	return false
}

// Next gives the next row.
func (r *Rows) Next() (cells []string, err error) {
	defer r.guard(&err)
	for r.k == r.have {
		if err := r.piece(); err != nil {
			return nil, err
		}
	}
	for i := range r.leaves {
		l := &r.leaves[i]
		if l.at < 0 {
			continue
		}
		r.cells[i] = ""
		if v, ok := l.column.index(r.k); ok {
			r.cells[i] = l.write(&l.column, v)
		}
	}
	r.k++
	return r.cells, nil
}

// piece decodes the next rows.
func (r *Rows) piece() error {
	if err := r.ctx.Err(); err != nil {
		return err
	}
	for r.left == 0 {
		if r.group == r.rd.NumRowGroups() {
			return io.EOF
		}
		if err := soundGroup(r.rd, r.group, r.size); err != nil {
			return r.broken(err)
		}
		rg := r.rd.RowGroup(r.group)
		r.group++
		r.left = rg.NumRows()
		for i := range r.leaves {
			l := &r.leaves[i]
			if l.at < 0 {
				continue
			}
			cr, err := rg.Column(l.at)
			if err != nil {
				return r.broken(err)
			}
			l.column.reset(cr, l.depth)
		}
	}
	n := int(min(r.left, chunk))
	for i := range r.leaves {
		if l := &r.leaves[i]; l.at >= 0 {
			if err := l.column.read(n); err != nil {
				return r.broken(fmt.Errorf("column %s: %w", r.names[i], err))
			}
		}
	}
	r.have, r.k = n, 0
	r.left -= int64(n)
	return nil
}

// IsPlain tells whether a Parquet file has the columns of the plain form. One
// that cannot be read is said to: its decoder refuses it in words.
func IsPlain(name string, raw io.Reader, br *bufio.Reader, lim unwrap.Limits) (plain bool) {
	defer func() {
		if recover() != nil {
			plain = true
		}
	}()
	r, err := NewRows(context.Background(), name, raw, br, lim, nil)
	if err != nil {
		return true
	}
	defer r.Close()
	for _, w := range wanted {
		if r.rd.MetaData().Schema.ColumnIndexByName(w) < 0 {
			return false
		}
	}
	return true
}

// brokenFile is a file that the library cannot read.
func brokenFile(name string, why any) error {
	return &emit.FileError{File: name, What: fmt.Sprintf("not a Parquet file that can be read (%v)", why),
		Do: "write it again"}
}

// soundGroup refuses a group of rows whose sizes cannot be.
func soundGroup(rd *file.Reader, g int, size int64) error {
	meta := rd.MetaData().RowGroup(g)
	for c := range meta.NumColumns() {
		cc, err := meta.ColumnChunk(c)
		if err != nil {
			return err
		}
		if n := cc.TotalCompressedSize(); n < 0 || n > size {
			return fmt.Errorf("a column is larger than the file")
		}
	}
	return nil
}
