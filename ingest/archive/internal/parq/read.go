package parq

import (
	"fmt"
	"os"
	"slices"

	"github.com/apache/arrow/go/v15/parquet"
	"github.com/apache/arrow/go/v15/parquet/file"
	"github.com/apache/arrow/go/v15/parquet/schema"
)

// open opens a Parquet file and checks its footer.
func open(path string, opts ...file.ReadOption) (r *file.Reader, f *os.File, err error) {
	f, err = os.Open(path)
	if err != nil {
		return nil, nil, err
	}
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("%s is not a sound parquet file: %v", path, p)
		}
		if err != nil {
			f.Close()
		}
	}()
	r, err = file.NewParquetReader(f, opts...)
	if err != nil {
		return nil, nil, fmt.Errorf("%s is not a sound parquet file: %w", path, err)
	}
	return r, f, nil
}

// Rows reads the number of rows from the footer.
func Rows(path string) (int64, error) {
	r, f, err := open(path)
	if err != nil {
		return 0, err
	}
	defer f.Close()
	return r.NumRows(), nil
}

// ReadTable reads a whole file that WriteTable wrote; names chooses columns,
// none means all.
func ReadTable(path string, names ...string) (cols []Column, err error) {
	r, f, err := open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	defer func() {
		if p := recover(); p != nil {
			cols, err = nil, fmt.Errorf("read %s: %v", path, p)
		}
	}()
	cols, at, err := choose(r, path, names)
	if err != nil {
		return nil, err
	}
	for g := 0; g < r.NumRowGroups(); g++ {
		rg := r.RowGroup(g)
		for i := range cols {
			cr, err := rg.Column(at[i])
			if err != nil {
				return nil, fmt.Errorf("read %s: %w", path, err)
			}
			if err := readColumn(cr, &cols[i], rg.NumRows()); err != nil {
				return nil, fmt.Errorf("read %s, column %s: %w", path, cols[i].Name, err)
			}
		}
	}
	return cols, nil
}

// choose gives the columns of a file by name, empty, and where they stand.
func choose(r *file.Reader, path string, names []string) (cols []Column, at []int, err error) {
	for i := 0; i < r.MetaData().Schema.NumColumns(); i++ {
		d := r.MetaData().Schema.Column(i)
		if !chosen(names, d.Name()) {
			continue
		}
		t, err := typeOf(d)
		if err != nil {
			return nil, nil, fmt.Errorf("read %s: %w", path, err)
		}
		cols = append(cols, Column{Name: d.Name(), Type: t, Nullable: d.MaxDefinitionLevel() > 0})
		at = append(at, i)
	}
	if len(names) > 0 && len(cols) != len(names) {
		return nil, nil, fmt.Errorf("read %s: it lacks one of the columns %v", path, names)
	}
	return cols, at, nil
}

func chosen(names []string, name string) bool {
	if len(names) == 0 {
		return true
	}
	for _, n := range names {
		if n == name {
			return true
		}
	}
	return false
}

func typeOf(d *schema.Column) (Type, error) {
	switch d.PhysicalType() {
	case parquet.Types.Int64:
		if d.ConvertedType() == schema.ConvertedTypes.TimestampMicros {
			return Timestamp, nil
		}
		return Int64, nil
	case parquet.Types.Int32:
		if d.ConvertedType() == schema.ConvertedTypes.Date {
			return Date, nil
		}
		return Int32, nil
	case parquet.Types.Double:
		return Float64, nil
	case parquet.Types.ByteArray:
		return String, nil
	case parquet.Types.Boolean:
		return Bool, nil
	}
	return 0, fmt.Errorf("column %s has a physical type that the archive never writes", d.Name())
}

// readColumn appends one column chunk to c.
func readColumn(cr file.ColumnChunkReader, c *Column, rows int64) error {
	n := int(rows)
	var levels []int16
	if c.Nullable {
		levels = make([]int16, n)
	}
	var err error
	switch cr := cr.(type) {
	case *file.Int64ColumnChunkReader:
		c.Int, err = readInto(c.Int, n, cr.ReadBatch, levels)
	case *file.Int32ColumnChunkReader:
		v := make([]int32, n)
		if n, err = fill(cr.ReadBatch, v, levels); err == nil {
			c.Int = spread(c.Int, v[:n], levels, func(v int32) int64 { return int64(v) })
		}
	case *file.Float64ColumnChunkReader:
		c.Float, err = readInto(c.Float, n, cr.ReadBatch, levels)
	case *file.BooleanColumnChunkReader:
		v := make([]bool, n)
		if n, err = fill(cr.ReadBatch, v, levels); err == nil {
			c.Flag = spread(c.Flag, v[:n], levels, func(v bool) bool { return v })
		}
	case *file.ByteArrayColumnChunkReader:
		v := make([]parquet.ByteArray, n)
		if n, err = fill(cr.ReadBatch, v, levels); err == nil {
			same := map[string]string{}
			last := ""
			c.Text = spread(c.Text, v[:n], levels, func(v parquet.ByteArray) string {
				if string(v) == last { // tables are in order: mostly the one before
					return last
				}
				s, ok := same[string(v)]
				if !ok {
					s = string(v)
					same[s] = s
				}
				last = s
				return s
			})
		}
	}
	if err != nil {
		return err
	}
	at := len(c.Valid)
	c.Valid = slices.Grow(c.Valid, len(levels))[:at+len(levels)]
	for i, l := range levels {
		c.Valid[at+i] = l == 1
	}
	return nil
}

// fill reads until every row has come: a batch ends at each page. It gives the
// number of values, which is less than the rows where some are null.
func fill[T any](read func(int64, []T, []int16, []int16) (int64, int, error), v []T, levels []int16) (int, error) {
	rows, got := 0, 0
	for rows < len(v) {
		var lv []int16
		if levels != nil {
			lv = levels[rows:]
		}
		total, n, err := read(int64(len(v)-rows), v[got:], lv, nil)
		if err != nil {
			return got, err
		}
		if total == 0 {
			return got, fmt.Errorf("%d of %d rows are there", rows, len(v))
		}
		rows += int(total)
		got += n
	}
	return got, nil
}

// readInto reads rows straight behind what is there already. The values that are
// not null come without gaps and are moved to their rows, the last first.
func readInto[T any](out []T, rows int, read func(int64, []T, []int16, []int16) (int64, int, error),
	levels []int16) ([]T, error) {
	at := len(out)
	out = slices.Grow(out, rows)[:at+rows]
	in := out[at:]
	n, err := fill(read, in, levels)
	if err != nil || n == rows { // nothing is null
		return out, err
	}
	var none T
	for i := rows - 1; i >= 0; i-- {
		if levels[i] == 0 {
			in[i] = none
			continue
		}
		n--
		in[i] = in[n]
	}
	return out, nil
}

func spread[A, B any](out []B, v []A, levels []int16, to func(A) B) []B {
	if levels == nil {
		for _, x := range v {
			out = append(out, to(x))
		}
		return out
	}
	var none B
	for _, l := range levels {
		if l == 0 {
			out = append(out, none)
			continue
		}
		out = append(out, to(v[0]))
		v = v[1:]
	}
	return out
}
