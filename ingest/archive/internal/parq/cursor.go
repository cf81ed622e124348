package parq

import (
	"fmt"
	"io"
	"os"
	"unsafe"

	"github.com/apache/arrow/go/v15/parquet"
	"github.com/apache/arrow/go/v15/parquet/file"

	"wane/ingest/reading"
)

// step is how many rows a cursor holds at a time.
const step = 8192

// Cursor reads a file of readings from front to back with little memory, a
// stretch of one series at a time.
type Cursor struct {
	path string
	r    *file.Reader
	f    *os.File

	group    int   // next row group
	left     int64 // rows of the open row group that are not yet read
	sensor   *file.ByteArrayColumnChunkReader
	channel  *file.ByteArrayColumnChunkReader
	time     *file.Int64ColumnChunkReader
	value    *file.Int64ColumnChunkReader
	conflict *file.BooleanColumnChunkReader

	sensors, channels []parquet.ByteArray
	times, values     []int64
	conflicts         []bool
	at, n             int // window in the slices above
	last              reading.Series
}

// Stretch is some readings of one series, in order of time. A long series
// comes as several. The slices are valid until the next call.
type Stretch struct {
	Series   reading.Series
	Time     []int64
	Mantissa []int64
	Conflict []bool
}

// OpenReadings opens a file that Readings wrote, whose scale must be as given.
func OpenReadings(path string, scale int) (*Cursor, error) {
	r, f, err := open(path)
	if err != nil {
		return nil, err
	}
	if !r.MetaData().Schema.Root().Equals(readingsSchema(scale)) {
		f.Close()
		return nil, fmt.Errorf("%s does not hold readings of %d decimals: its columns are other ones", path, scale)
	}
	n := min(step, r.NumRows())
	return &Cursor{
		path: path, r: r, f: f,
		sensors: make([]parquet.ByteArray, n), channels: make([]parquet.ByteArray, n),
		times: make([]int64, n), values: make([]int64, n), conflicts: make([]bool, n),
	}, nil
}

// Close closes the file.
func (c *Cursor) Close() error { return c.f.Close() }

// Rows is the number of readings in the file.
func (c *Cursor) Rows() int64 { return c.r.NumRows() }

// Next gives the next stretch, or io.EOF.
func (c *Cursor) Next() (s Stretch, err error) {
	if c.at == c.n {
		if err := c.load(); err != nil {
			return s, err
		}
	}
	// Equal names of a page are the same bytes of its dictionary, so that
	// comparing the place finds the end of the stretch without reading them.
	i, sensor, channel := c.at, c.sensors[c.at], c.channels[c.at]
	for i++; i < c.n && same(c.sensors[i], sensor) && same(c.channels[i], channel); i++ {
	}
	if string(sensor) != c.last.Sensor || string(channel) != c.last.Channel {
		c.last = reading.Series{Sensor: string(sensor), Channel: string(channel)}
	}
	s = Stretch{Series: c.last, Time: c.times[c.at:i], Mantissa: c.values[c.at:i], Conflict: c.conflicts[c.at:i]}
	c.at = i
	return s, nil
}

func same(a, b parquet.ByteArray) bool {
	return len(a) == len(b) && (unsafe.SliceData(a) == unsafe.SliceData(b) || string(a) == string(b))
}

// load reads the next rows.
func (c *Cursor) load() (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("read %s: %v", c.path, p)
		}
	}()
	for c.left == 0 {
		if c.group == c.r.NumRowGroups() {
			return io.EOF
		}
		if err := c.openGroup(); err != nil {
			return fmt.Errorf("read %s: %w", c.path, err)
		}
	}
	n := int(min(step, c.left))
	for _, err := range []error{
		exactly(c.sensor.ReadBatch, c.sensors[:n]), exactly(c.channel.ReadBatch, c.channels[:n]),
		exactly(c.time.ReadBatch, c.times[:n]), exactly(c.value.ReadBatch, c.values[:n]),
		exactly(c.conflict.ReadBatch, c.conflicts[:n]),
	} {
		if err != nil {
			return fmt.Errorf("read %s: %w", c.path, err)
		}
	}
	c.left -= int64(n)
	c.at, c.n = 0, n
	return nil
}

func exactly[T any](read func(int64, []T, []int16, []int16) (int64, int, error), v []T) error {
	_, err := fill(read, v, nil)
	return err
}

func (c *Cursor) openGroup() error {
	rg := c.r.RowGroup(c.group)
	c.group++
	c.left = rg.NumRows()
	for i := range colConflict + 1 {
		cr, err := rg.Column(i)
		if err != nil {
			return err
		}
		switch i {
		case colSensor:
			c.sensor = cr.(*file.ByteArrayColumnChunkReader)
		case colChannel:
			c.channel = cr.(*file.ByteArrayColumnChunkReader)
		case colTime:
			c.time = cr.(*file.Int64ColumnChunkReader)
		case colValue:
			c.value = cr.(*file.Int64ColumnChunkReader)
		case colConflict:
			c.conflict = cr.(*file.BooleanColumnChunkReader)
		}
	}
	return nil
}
