package archive

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path/filepath"

	"wane/ingest/archive/internal/parq"
	"wane/ingest/reading"
)

// Column is one column of a table other than readings; see parq.Column for
// which slice goes with which Type.
type Column = parq.Column

// Type is the type of a Column.
type Type = parq.Type

// TableCursor goes through a part a few rows at a time.
type TableCursor = parq.TableCursor

// The types of columns.
const (
	Int64     = parq.Int64     // Int
	Int32     = parq.Int32     // Int
	Date      = parq.Date      // Int: days since 1970-01-01
	Timestamp = parq.Timestamp // Int: microseconds since 1970-01-01T00:00:00Z
	Float64   = parq.Float64   // Float, finite
	String    = parq.String    // Text
	Bool      = parq.Bool      // Flag
)

// ErrGone says that a part of this view has been replaced since: open a new
// view and start again.
var ErrGone = errors.New("the archive has moved on")

// Archive is a view for reading: one manifest. It holds no file open and may be
// used from many goroutines.
type Archive struct {
	dir  string
	m    *Manifest
	seen *verified
}

func view(dir string, m *Manifest, seen *verified) *Archive { return &Archive{dir, m, seen} }

// Open views the archive in dir as it is now. A folder without a manifest is an
// empty archive.
func Open(dir string) (*Archive, error) { return Place{Dir: dir}.Open() }

// View opens the archive in dir for fn; see Place.View.
func View(dir string, fn func(*Archive) error) error { return Place{Dir: dir}.View(fn) }

// Dir is the archive's folder.
func (a *Archive) Dir() string { return a.dir }

// Manifest is what the view holds; it is not to be changed.
func (a *Archive) Manifest() *Manifest { return a.m }

// Parts lists the parts of a table in order of their paths.
func (a *Archive) Parts(table string) []Part { return a.m.table(table) }

// Path is where a part lies.
func (a *Archive) Path(p Part) string { return filepath.Join(a.dir, filepath.FromSlash(p.Path)) }

// Run is some readings of one series in order of time. Value i is Mantissa[i]
// over ten to the power Scale. Conflict[i] says that the series has another
// value at the same moment, so that neither is to be used. The slices are valid
// until the function that received them returns.
type Run struct {
	Series   reading.Series
	Scale    int
	Time     []int64 // microseconds since 1970-01-01T00:00:00Z
	Mantissa []int64
	Conflict []bool
	More     int // readings of the series that are known to follow
}

// Floats gives the values, using buf's memory if it is large enough.
func (r *Run) Floats(buf []float64) []float64 {
	buf = buf[:0]
	for _, m := range r.Mantissa {
		buf = append(buf, reading.Value{Mantissa: m, Digits: uint8(r.Scale)}.Float())
	}
	return buf
}

// ReadReadings gives the readings of one part of the table Readings to fn, in
// order of sensor, channel and time. A long series comes in several runs. The
// part is held against its checksum before, as in all that reads a part.
func (a *Archive) ReadReadings(p Part, fn func(*Run) error) error {
	if err := a.verify(p); err != nil {
		return err
	}
	c, err := parq.OpenReadings(a.Path(p), p.Scale)
	if err != nil {
		return gone(err)
	}
	defer c.Close()
	return eachRun(c, p, fn)
}

// ReadWanted is ReadReadings for the series that want says yes to; what holds
// none of them is not decoded.
func (a *Archive) ReadWanted(p Part, want func(reading.Series) bool, fn func(*Run) error) error {
	if err := a.verify(p); err != nil {
		return err
	}
	c, err := parq.OpenReadings(a.Path(p), p.Scale)
	if err != nil {
		return gone(err)
	}
	defer c.Close()
	c.Want(want)
	return eachRun(c, p, fn)
}

func eachRun(c *parq.Cursor, p Part, fn func(*Run) error) error {
	run := Run{Scale: p.Scale}
	for {
		s, err := c.Next()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		run.Series, run.Time, run.Mantissa, run.Conflict, run.More = s.Series, s.Time, s.Mantissa, s.Conflict, s.More
		if err := fn(&run); err != nil {
			return err
		}
	}
}

// ReadTable reads a part of any table but Readings; names chooses columns, none
// means all.
func (a *Archive) ReadTable(p Part, names ...string) ([]Column, error) {
	if err := a.verify(p); err != nil {
		return nil, err
	}
	cols, err := parq.ReadTable(a.Path(p), names...)
	return cols, gone(err)
}

// OpenTable opens a part of any table but Readings to be read a few rows at a
// time; names chooses columns, none means all.
func (a *Archive) OpenTable(p Part, names ...string) (*TableCursor, error) {
	if err := a.verify(p); err != nil {
		return nil, err
	}
	c, err := parq.OpenTable(a.Path(p), names...)
	return c, gone(err)
}

func gone(err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%w: %v", ErrGone, err)
	}
	return err
}
