package workbook

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strconv"

	"github.com/xuri/excelize/v2"
)

// Rows is a sheet. It is a tabled.Rows: the k-th row is the k-th of the sheet.
type Rows struct {
	b       *Book
	rows    *excelize.Rows
	marks   *marks
	no      int
	decimal string
	cells   []string
}

// Rows begins to read a sheet; its numbers are written with the decimal sign.
func (b *Book) Rows(sheet, decimal string) (*Rows, error) {
	rows, err := b.f.Rows(sheet)
	if err != nil {
		return nil, b.broken(err)
	}
	f, err := b.zr.Open(b.parts[sheet])
	if err != nil {
		return nil, errors.Join(b.broken(err), rows.Close())
	}
	return &Rows{b: b, rows: rows, marks: &marks{f: f, dec: xml.NewDecoder(f)}, decimal: decimal}, nil
}

// Close gives the sheet up.
func (r *Rows) Close() error { return errors.Join(r.rows.Close(), r.marks.f.Close()) }

// Next gives the next row, as wide as the widest so far: a sheet does not store
// the blank cells at the end of a row.
func (r *Rows) Next() ([]string, error) {
	if !r.rows.Next() {
		if err := r.rows.Error(); err != nil {
			return nil, r.b.broken(err)
		}
		// The library takes damage for the end of the sheet.
		if err := r.marks.upTo(excelize.TotalRows + 1); err != io.EOF {
			return nil, r.b.broken(err)
		}
		return nil, io.EOF
	}
	r.no++
	raw, err := r.rows.Columns()
	if err != nil {
		return nil, r.b.broken(err)
	}
	if err := r.marks.upTo(r.no); err != nil && err != io.EOF {
		return nil, r.b.broken(err)
	}
	if len(raw) == 0 {
		return nil, nil
	}
	for len(r.cells) < len(raw) {
		r.cells = append(r.cells, "")
	}
	for i := range r.cells {
		r.cells[i] = ""
		if i < len(raw) && raw[i] != "" {
			r.cells[i] = r.b.text(raw[i], r.marks.of(r.no, i), r.decimal)
		}
	}
	return r.cells, nil
}

// mark is what a cell says of itself besides its value.
type mark struct {
	style int
	typ   string // as in the file: "" and n are numbers
}

// marks reads the marks of a sheet's cells, which the library does not hand out
// row by row.
type marks struct {
	f     io.ReadCloser
	dec   *xml.Decoder
	row   int // of cells; 0 before the first
	cells []mark
	begun int // the row whose element was read and is still to come
	err   error
}

// upTo reads on so that cells are those of row no, if it has any. io.EOF is the
// sound end of the sheet.
func (m *marks) upTo(no int) error {
	for m.row < no && m.err == nil {
		if m.begun > no {
			return nil
		}
		m.err = m.next()
	}
	return m.err
}

// next reads one row, of which the beginning has been read, and the beginning of
// the next.
func (m *marks) next() error {
	m.row, m.cells = m.begun, m.cells[:0]
	col := 0
	for {
		tok, err := m.dec.Token()
		if err != nil {
			return err
		}
		el, ok := tok.(xml.StartElement)
		if !ok {
			continue
		}
		switch el.Name.Local {
		case "row":
			m.begun = max(m.row, 0) + 1
			for _, a := range el.Attr {
				if a.Name.Local == "r" {
					if m.begun, err = strconv.Atoi(a.Value); err != nil || m.begun <= m.row {
						return fmt.Errorf("row %q stands behind row %d", a.Value, m.row)
					}
				}
			}
			return nil
		case "c":
			col++
			k := mark{}
			for _, a := range el.Attr {
				switch a.Name.Local {
				case "r":
					if c, _, err := excelize.CellNameToCoordinates(a.Value); err == nil {
						col = c
					}
				case "s":
					k.style, _ = strconv.Atoi(a.Value) // 0 is the plain style
				case "t":
					k.typ = a.Value
				}
			}
			for len(m.cells) < col {
				m.cells = append(m.cells, mark{})
			}
			m.cells[col-1] = k
		}
	}
}

// of gives the mark of a cell; i counts from 0.
func (m *marks) of(row, i int) mark {
	if m.row != row || i >= len(m.cells) {
		return mark{}
	}
	return m.cells[i]
}
