// Package parq writes and reads the archive's Parquet files with the low-level
// interface of the Parquet library: columns go in as slices and come out as
// slices, and the same columns always give the same bytes.
//
//  1. A Table is any list of columns (Column); WriteTable and ReadTable.
//  2. Readings have their own writer and reader, which know that they are
//     sorted by series, encode and decode a run of one series as such, and take
//     a column's numbers at once. Files of the same columns that others wrote
//     are read by the library.
//
// Promises: timestamps are microseconds in UTC and say so; a float that is not
// finite is refused; strings are dictionary-encoded; integers are delta-packed;
// a row group holds RowGroup rows.
package parq

import (
	"fmt"
	"math"
)

// RowGroup is the number of rows in every row group but the last. It is what
// SQL engines take in one piece.
const RowGroup = 122880

// CreatedBy stands in the footer of every file.
const CreatedBy = "wane"

// Type is the type of a column.
type Type uint8

// The types a column may have, with the Go field that holds it and its Parquet
// type.
const (
	Int64     Type = iota // Int: INT64
	Int32                 // Int: INT32
	Date                  // Int: days since 1970-01-01, DATE
	Timestamp             // Int: microseconds since 1970-01-01T00:00:00Z, TIMESTAMP(micros, UTC)
	Float64               // Float: DOUBLE, finite
	String                // Text: UTF8
	Bool                  // Flag: BOOLEAN
)

// String names the type.
func (t Type) String() string {
	return [...]string{"int64", "int32", "date", "timestamp", "float64", "string", "bool"}[t]
}

// Column is one column of a table. Exactly the slice that its type names is
// used. A column with Valid may hold nulls: where Valid is false the value is
// ignored when written and zero when read. Without Valid it is required.
type Column struct {
	Name     string
	Type     Type
	Nullable bool // set when read; when written, Valid != nil decides unless this is set
	Int      []int64
	Float    []float64
	Text     []string
	Flag     []bool
	Valid    []bool
}

// Len is the number of rows.
func (c *Column) Len() int {
	switch c.Type {
	case Float64:
		return len(c.Float)
	case String:
		return len(c.Text)
	case Bool:
		return len(c.Flag)
	default:
		return len(c.Int)
	}
}

func (c *Column) nullable() bool { return c.Nullable || c.Valid != nil }

func (c *Column) isNull(i int) bool { return c.Valid != nil && !c.Valid[i] }

// check refuses what must never be written.
func (c *Column) check(rows int) error {
	if c.Name == "" {
		return fmt.Errorf("a column without a name")
	}
	if c.Len() != rows {
		return fmt.Errorf("column %s has %d rows, the first column %d", c.Name, c.Len(), rows)
	}
	if c.Valid != nil && len(c.Valid) != rows {
		return fmt.Errorf("column %s has %d rows and %d validity flags", c.Name, rows, len(c.Valid))
	}
	switch c.Type {
	case Float64:
		for i, f := range c.Float {
			if (math.IsNaN(f) || math.IsInf(f, 0)) && !c.isNull(i) {
				return fmt.Errorf("column %s, row %d is %v: a value that is not finite must be null with a reason beside it",
					c.Name, i, f)
			}
		}
	case Int32, Date:
		for i, v := range c.Int {
			if (v < math.MinInt32 || v > math.MaxInt32) && !c.isNull(i) {
				return fmt.Errorf("column %s, row %d is %d, beyond 32 bits", c.Name, i, v)
			}
		}
	}
	return nil
}
