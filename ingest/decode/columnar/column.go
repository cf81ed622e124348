package columnar

import (
	"fmt"

	"github.com/apache/arrow/go/v15/parquet"
	"github.com/apache/arrow/go/v15/parquet/file"
)

// column reads one column chunk piece by piece. Of the value slices one is in
// use, by the column's type.
type column struct {
	reader file.ColumnChunkReader
	depth  int16 // definition level of a value; 0 where each row has one
	levels []int16
	place  []int32 // row in the piece to value, -1 for null

	int32s  []int32
	int64s  []int64
	floats  []float32
	doubles []float64
	bytes   []parquet.ByteArray
	bools   []bool
	int96s  []parquet.Int96
	fixed   []parquet.FixedLenByteArray
}

func (c *column) reset(r file.ColumnChunkReader, depth int16) {
	*c = column{reader: r, depth: depth, levels: make([]int16, chunk), place: make([]int32, chunk)}
	switch r.(type) {
	case *file.Int32ColumnChunkReader:
		c.int32s = make([]int32, chunk)
	case *file.Int64ColumnChunkReader:
		c.int64s = make([]int64, chunk)
	case *file.Float32ColumnChunkReader:
		c.floats = make([]float32, chunk)
	case *file.Float64ColumnChunkReader:
		c.doubles = make([]float64, chunk)
	case *file.ByteArrayColumnChunkReader:
		c.bytes = make([]parquet.ByteArray, chunk)
	case *file.BooleanColumnChunkReader:
		c.bools = make([]bool, chunk)
	case *file.Int96ColumnChunkReader:
		c.int96s = make([]parquet.Int96, chunk)
	case *file.FixedLenByteArrayColumnChunkReader:
		c.fixed = make([]parquet.FixedLenByteArray, chunk)
	}
}

// read decodes the next n rows. The library gives fewer at the end of a page,
// and its byte arrays are good only until its next page: text is copied.
func (c *column) read(n int) error {
	row, value := 0, 0
	for row < n {
		total, _, err := c.batch(n-row, row, value)
		if err != nil {
			return err
		}
		if total == 0 {
			return fmt.Errorf("ends after %d of %d rows", row, n)
		}
		for k := range int(total) {
			c.place[row+k] = -1
			if c.levels[row+k] == c.depth || c.depth == 0 {
				c.place[row+k] = int32(value)
				if c.bytes != nil {
					c.bytes[value] = append(parquet.ByteArray(nil), c.bytes[value]...)
				}
				if c.fixed != nil {
					c.fixed[value] = append(parquet.FixedLenByteArray(nil), c.fixed[value]...)
				}
				value++
			}
		}
		row += int(total)
	}
	return nil
}

func (c *column) batch(n, row, value int) (total int64, got int, err error) {
	lv := c.levels[row:]
	switch r := c.reader.(type) {
	case *file.Int32ColumnChunkReader:
		return r.ReadBatch(int64(n), c.int32s[value:], lv, nil)
	case *file.Int64ColumnChunkReader:
		return r.ReadBatch(int64(n), c.int64s[value:], lv, nil)
	case *file.Float32ColumnChunkReader:
		return r.ReadBatch(int64(n), c.floats[value:], lv, nil)
	case *file.Float64ColumnChunkReader:
		return r.ReadBatch(int64(n), c.doubles[value:], lv, nil)
	case *file.ByteArrayColumnChunkReader:
		return r.ReadBatch(int64(n), c.bytes[value:], lv, nil)
	case *file.BooleanColumnChunkReader:
		return r.ReadBatch(int64(n), c.bools[value:], lv, nil)
	case *file.Int96ColumnChunkReader:
		return r.ReadBatch(int64(n), c.int96s[value:], lv, nil)
	case *file.FixedLenByteArrayColumnChunkReader:
		return r.ReadBatch(int64(n), c.fixed[value:], lv, nil)
	}
	return 0, 0, fmt.Errorf("type %s", c.reader.Type())
}

// index gives where the k-th row of the piece has its value; ok is false for
// null.
func (c *column) index(k int) (int, bool) { return int(c.place[k]), c.place[k] >= 0 }

// integer gives the i-th value of a column of integers.
func (c *column) integer(i int) int64 {
	if c.int32s != nil {
		return int64(c.int32s[i])
	}
	return c.int64s[i]
}
