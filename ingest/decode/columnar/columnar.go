// Package columnar reads Parquet files: in the plain form, with the columns
// time, sensor, channel and value (Decode); or with columns of their own, as rows
// of text cells that are read as any table (Rows).
//
// Of the plain form,
// time is a timestamp in UTC of any unit, or RFC 3339 text; value is a float,
// an integer or a decimal; sensor and channel are text. Other columns are
// passed over. The line of a reading is its row in the file.
package columnar

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"

	"github.com/apache/arrow/go/v15/arrow/memory"
	"github.com/apache/arrow/go/v15/parquet"
	"github.com/apache/arrow/go/v15/parquet/file"
	"github.com/apache/arrow/go/v15/parquet/schema"

	"wane/ingest/decode/emit"
	"wane/ingest/decode/number"
	"wane/ingest/decode/stamp"
	"wane/ingest/decode/unwrap"
	"wane/ingest/reading"
	"wane/ingest/source"
)

const (
	chunk    = 8192      // rows decoded at a time
	maxAlloc = 256 << 20 // bytes that the library may hold at once
)

// Decode reads one file. raw is used where it can be read at any place, else br
// is copied into memory within lim.
func Decode(ctx context.Context, name string, raw io.Reader, br *bufio.Reader, lim unwrap.Limits, d *source.Description,
	e *emit.Emitter) (err error) {
	at, size, err := unwrap.RandomAccess(name, raw, br, lim)
	if err != nil {
		return err
	}
	broken := func(why any) error { return brokenFile(name, why) }
	// The library panics on some damage; a damaged file is no reason to stop.
	defer func() {
		if p := recover(); p != nil {
			err = broken(p)
		}
	}()
	rd, err := open(at, size)
	if err != nil {
		return broken(err)
	}
	defer rd.Close()
	t, err := bind(name, rd, d)
	if err != nil {
		return err
	}
	row := 0
	for g := range rd.NumRowGroups() {
		if err := soundGroup(rd, g, size); err != nil {
			return broken(err)
		}
		if err := t.group(ctx, rd.RowGroup(g), &row, e); err != nil {
			var lib *libError
			if errors.As(err, &lib) {
				return broken(lib.err)
			}
			return err
		}
	}
	return e.Flush()
}

// open hands a file to the library, with an upper bound on its memory.
func open(at io.ReaderAt, size int64) (*file.Reader, error) {
	return file.NewParquetReader(io.NewSectionReader(at, 0, size),
		file.WithReadProps(parquet.NewReaderProperties(&allocator{})))
}

// libError is an error of the Parquet library, as against one of the sink.
type libError struct{ err error }

func (e *libError) Error() string { return e.err.Error() }

// table is a file's columns, bound to the plain form.
type table struct {
	cols     [4]int // time, sensor, channel, value
	nodes    [4]*schema.Column
	perSec   int64 // units of an integer time in a second; 0 for text
	scale    int   // digits of a decimal value, -1 where it is none
	unsigned bool  // whole numbers without sign
	parser   *stamp.Parser
	columns  [4]column
}

var wanted = [4]string{"time", "sensor", "channel", "value"}

func bind(name string, rd *file.Reader, d *source.Description) (*table, error) {
	sc := rd.MetaData().Schema
	t := &table{scale: -1, parser: stamp.NewParser(d.Stamp(), d.Location())}
	fail := func(what, do string) error { return &emit.FileError{File: name, What: what, Do: do} }
	for i, w := range wanted {
		t.cols[i] = sc.ColumnIndexByName(w)
		if t.cols[i] < 0 {
			return nil, fail(fmt.Sprintf("the Parquet file has no column %q", w),
				"write it with the columns time, sensor, channel, value")
		}
		t.nodes[i] = sc.Column(t.cols[i])
		if t.nodes[i].MaxRepetitionLevel() > 0 || t.nodes[i].MaxDefinitionLevel() > 1 {
			return nil, fail(fmt.Sprintf("the column %q is nested", w), "write a flat table")
		}
	}
	tm := t.nodes[0]
	if lt, ok := tm.LogicalType().(*schema.TimestampLogicalType); ok {
		if !lt.IsAdjustedToUTC() {
			return nil, fail("the column time is a local time without zone", "write it as a timestamp in UTC")
		}
		t.perSec = map[schema.TimeUnitType]int64{schema.TimeUnitMillis: 1e3, schema.TimeUnitMicros: 1e6,
			schema.TimeUnitNanos: 1e9}[lt.TimeUnit()]
	}
	if t.perSec == 0 && tm.PhysicalType() != parquet.Types.ByteArray {
		return nil, fail("the column time is neither a timestamp nor text", "write it as a timestamp in UTC")
	}
	for _, i := range []int{1, 2} {
		if t.nodes[i].PhysicalType() != parquet.Types.ByteArray {
			return nil, fail(fmt.Sprintf("the column %q is not text", wanted[i]), "write it as a string")
		}
	}
	switch t.nodes[3].PhysicalType() {
	case parquet.Types.Double, parquet.Types.Float, parquet.Types.Int32, parquet.Types.Int64:
	default:
		return nil, fail("the column value is not a number", "write it as a double")
	}
	if dec, ok := t.nodes[3].LogicalType().(*schema.DecimalLogicalType); ok {
		t.scale = int(dec.Scale())
	}
	if whole, ok := t.nodes[3].LogicalType().(*schema.IntLogicalType); ok {
		t.unsigned = !whole.IsSigned()
	}
	return t, nil
}

// group reads one row group.
func (t *table) group(ctx context.Context, rg *file.RowGroupReader, row *int, e *emit.Emitter) error {
	for i := range t.columns {
		cr, err := rg.Column(t.cols[i])
		if err != nil {
			return &libError{err}
		}
		t.columns[i].reset(cr, t.nodes[i].MaxDefinitionLevel())
	}
	for left := rg.NumRows(); left > 0; {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		n := int(min(left, chunk))
		for i := range t.columns {
			if err := t.columns[i].read(n); err != nil {
				return &libError{fmt.Errorf("column %s: %w", wanted[i], err)}
			}
		}
		for k := range n {
			*row++
			if err := t.row(k, *row, e); err != nil {
				return err
			}
		}
		left -= int64(n)
	}
	return nil
}

// row hands on one row.
func (t *table) row(k, row int, e *emit.Emitter) error {
	tm, sen, ch, val := &t.columns[0], &t.columns[1], &t.columns[2], &t.columns[3]
	vi, ok := val.index(k)
	if !ok {
		e.Blank++
		return nil
	}
	v, text, ok := t.value(val, vi)
	if !ok {
		return e.Reject(row, "value", "bad-number", "not a finite number below 2^53", []byte(text))
	}
	si, ok1 := sen.index(k)
	ci, ok2 := ch.index(k)
	if !ok1 || !ok2 {
		return e.Reject(row, "sensor", "bad-name", "sensor or channel is null", nil)
	}
	id, bad := e.Series(string(sen.bytes[si]), string(ch.bytes[ci]))
	if bad != nil {
		return e.Reject(row, "sensor", bad.Code, bad.Reason, sen.bytes[si])
	}
	ti, ok := tm.index(k)
	if !ok {
		return e.Reject(row, "time", "bad-time", "the time is null", nil)
	}
	var m stamp.Moment
	if t.perSec == 0 {
		text = string(tm.bytes[ti])
		if m, bad = t.parser.Parse(tm.bytes[ti]); bad != nil {
			return e.Reject(row, "time", bad.Code, bad.Reason, tm.bytes[ti])
		}
	} else {
		raw := tm.int64s[ti]
		text = strconv.FormatInt(raw, 10)
		m.Resolved = true
		switch {
		case t.perSec == 1e9:
			m.UTC = raw / 1e3
		case t.perSec == 1e3 && (raw > math.MaxInt64/1000 || raw < math.MinInt64/1000):
			return e.Reject(row, "time", "bad-time", "the time is beyond all dates", []byte(text))
		default:
			m.UTC = raw * (1e6 / t.perSec)
		}
	}
	at, bad := e.Place(id, m, t.parser.Zone())
	if bad != nil {
		return e.Reject(row, "time", bad.Code, bad.Reason, []byte(text))
	}
	return e.Add(id, at, v, row)
}

// value reads the i-th value as a decimal, with its text for a reject.
func (t *table) value(c *column, i int) (v reading.Value, text string, ok bool) {
	point := number.Notation{Decimal: '.'}
	switch {
	case c.floats != nil: // the digits that a float32 stands for, not those of its double
		text = strconv.FormatFloat(float64(c.floats[i]), 'g', -1, 32)
		v, st := point.Parse([]byte(text))
		return v, text, st == number.OK || st == number.TooSmall // computed, not printed: rounded like a double
	case c.doubles != nil:
		v, ok = reading.Of(c.doubles[i])
		return v, strconv.FormatFloat(c.doubles[i], 'g', -1, 64), ok
	}
	switch {
	case t.unsigned && c.int32s != nil:
		text = strconv.FormatUint(uint64(uint32(c.int32s[i])), 10)
	case t.unsigned:
		text = strconv.FormatUint(uint64(c.int64s[i]), 10)
	default:
		text = strconv.FormatInt(c.integer(i), 10)
	}
	if t.scale > 0 {
		text += "e-" + strconv.Itoa(t.scale)
	}
	v, st := point.Parse([]byte(text))
	return v, text, st == number.OK
}

// allocator is the library's, with an upper bound: a page header may claim any
// size.
type allocator struct {
	memory.GoAllocator
	held int
}

func (a *allocator) Allocate(n int) []byte {
	a.take(n)
	return a.GoAllocator.Allocate(n)
}

func (a *allocator) Reallocate(n int, b []byte) []byte {
	a.take(n - len(b))
	return a.GoAllocator.Reallocate(n, b)
}

func (a *allocator) Free(b []byte) {
	a.held -= len(b)
	a.GoAllocator.Free(b)
}

func (a *allocator) take(n int) {
	if a.held += n; a.held > maxAlloc {
		panic(fmt.Sprintf("a page needs more than %d MiB", maxAlloc>>20))
	}
}
