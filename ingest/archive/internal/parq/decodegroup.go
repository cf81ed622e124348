package parq

import (
	"errors"
	"fmt"
	"os"

	"github.com/apache/arrow/go/v15/parquet"
	"github.com/apache/arrow/go/v15/parquet/file"

	"wane/ingest/reading"
)

// integers gives a column of integers of a row group from front to back.
type integers interface{ next(dst []int64) error }

// booleans does the same for flags.
type booleans interface{ next(dst []bool) error }

// group reads the columns of one row group of a file of readings: by the
// decodings here if they are of the form that Readings writes, else by the
// library.
type group struct {
	f    *os.File
	rg   *file.RowGroupReader
	rows int64
	*desk
}

// desk is the memory for reading a row group. It goes from file to file.
type desk struct {
	pager
	name, time, value, conflict scratch
	sensors, channels           []stretch // of the row group
	runs                        []trace   // in order
}

// series notes the runs of series.
func (g *group) series() error {
	sensors, sensor, err := g.names(colSensor, g.sensors[:0])
	if err != nil {
		return fmt.Errorf("column sensor: %w", err)
	}
	channels, channel, err := g.names(colChannel, g.channels[:0])
	if err != nil {
		return fmt.Errorf("column channel: %w", err)
	}
	g.sensors, g.channels, g.runs = sensor, channel, g.runs[:0]
	for len(sensor) > 0 && len(channel) > 0 {
		s, c := &sensor[0], &channel[0]
		n := min(s.n, c.n)
		g.runs = append(g.runs, trace{run: run{reading.Series{Sensor: sensors[s.name], Channel: channels[c.name]}, n}})
		if s.n -= n; s.n == 0 {
			sensor = sensor[1:]
		}
		if c.n -= n; c.n == 0 {
			channel = channel[1:]
		}
	}
	return nil
}

// page gives a column's page of the encoding asked for, or errForeign.
func (g *group) page(col int, room *scratch, encoding parquet.Encoding) (chunkPage, error) {
	meta, err := g.rg.MetaData().ColumnChunk(col)
	if err != nil {
		return chunkPage{}, err
	}
	p, err := g.pager.page(g.f, meta, g.rows, room)
	if err == nil && p.encoding != encoding {
		err = errForeign
	}
	return p, err
}

// names gives the names of a column, and how they follow each other, in room.
func (g *group) names(col int, room []stretch) ([]string, []stretch, error) {
	p, err := g.page(col, &g.name, parquet.Encodings.RLEDict)
	if errors.Is(err, errForeign) {
		return g.foreignNames(col)
	}
	if err != nil {
		return nil, nil, err
	}
	s, err := stretches(p.data, int(g.rows), len(p.names), room)
	return p.names, s, err
}

func (g *group) integers(col int, room *scratch) (integers, error) {
	p, err := g.page(col, room, parquet.Encodings.DeltaBinaryPacked)
	if errors.Is(err, errForeign) {
		cr, err := g.rg.Column(col)
		if err != nil {
			return nil, err
		}
		return foreign[int64]{cr.(*file.Int64ColumnChunkReader).ReadBatch}, nil
	}
	if err != nil {
		return nil, err
	}
	return newDeltas(p.data, int(g.rows))
}

func (g *group) booleans(col int, room *scratch) (booleans, error) {
	p, err := g.page(col, room, parquet.Encodings.Plain)
	if errors.Is(err, errForeign) {
		cr, err := g.rg.Column(col)
		if err != nil {
			return nil, err
		}
		return foreign[bool]{cr.(*file.BooleanColumnChunkReader).ReadBatch}, nil
	}
	if err != nil {
		return nil, err
	}
	return newFlags(p.data, int(g.rows))
}

// foreign has the library read a column.
type foreign[T any] struct {
	read func(int64, []T, []int16, []int16) (int64, int, error)
}

func (f foreign[T]) next(dst []T) error {
	_, err := fill(f.read, dst, nil)
	return err
}

// foreignNames has the library read a column of names.
func (g *group) foreignNames(col int) (names []string, out []stretch, err error) {
	cr, err := g.rg.Column(col)
	if err != nil {
		return nil, nil, err
	}
	read := foreign[parquet.ByteArray]{cr.(*file.ByteArrayColumnChunkReader).ReadBatch}
	at := map[string]int{}
	buf := make([]parquet.ByteArray, min(step, g.rows))
	for left := g.rows; left > 0; left -= int64(len(buf)) {
		buf = buf[:min(int64(len(buf)), left)]
		if err := read.next(buf); err != nil {
			return nil, nil, err
		}
		for _, b := range buf {
			if k := len(out); k > 0 && names[out[k-1].name] == string(b) {
				out[k-1].n++
				continue
			}
			i, ok := at[string(b)]
			if !ok {
				i = len(names)
				at[string(b)] = i
				names = append(names, string(b))
			}
			out = append(out, stretch{i, 1})
		}
	}
	return names, out, nil
}
