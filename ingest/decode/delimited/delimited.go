// Package delimited reads text tables: lines of cells, wide or long, as a
// source.Description says.
//
// It works in three steps:
//
//  1. The title lines and the header block are read, and the described columns
//     are looked up in it (header.go). What does not fit there stops the file:
//     nothing after it could be trusted.
//  2. Each line is cut into cells, without copying (lines.go).
//  3. The time stamp is read once a line, then each value (rows.go). What does
//     not fit there is a reject, and the next line is read.
//
// Lines without any oddity, nearly all, take a shorter way through steps 2 and 3
// to the same result (clean.go, cells.go).
//
// No cell is allocated: numbers are read as integers and decimals from the
// block buffer, names of sensors are interned, the day of a stamp is kept.
package delimited

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"strings"

	"wane/ingest/decode/emit"
	"wane/ingest/decode/number"
	"wane/ingest/decode/stamp"
	"wane/ingest/source"
)

// Decode reads UTF-8 text. name is for messages; fileName is what the patterns
// on file names see.
func Decode(ctx context.Context, r io.Reader, name, fileName string, d *source.Description, e *emit.Emitter) error {
	t := newTable(r, name, fileName, d, e)
	defer t.lines.leave()
	return t.decode(ctx)
}

// DecodeRows reads the lines of a table whose columns have names by themselves:
// no line of the text is a header.
func DecodeRows(ctx context.Context, r io.Reader, name, fileName string, names []string, d *source.Description,
	e *emit.Emitter) error {
	t := newTable(r, name, fileName, d, e)
	defer t.lines.leave()
	t.zone = d.Location()
	t.parser = stamp.NewParser(d.Stamp(), t.zone)
	constant, err := t.constantSensor(nil)
	if err != nil {
		return err
	}
	for _, n := range names {
		t.names = append(t.names, oneLine([]byte(n)))
	}
	if err := t.bind(constant); err != nil {
		return err
	}
	if err := t.rows(ctx); err != nil {
		return err
	}
	return t.e.Flush()
}

func newTable(r io.Reader, name, fileName string, d *source.Description, e *emit.Emitter) *table {
	t := &table{
		d:        d,
		name:     name,
		fileName: fileName,
		e:        e,
		lines:    newLines(r),
		cut:      splitter{delim: d.Delimiter[0]},
		sensors:  map[string]int32{},
		channels: map[string]int32{},
		pairs:    map[uint64]int32{},
		notation: number.Notation{Decimal: d.DecimalChar[0], Group: d.GroupChar},
	}
	if d.QuoteChar != "" {
		t.cut.quote = d.QuoteChar[0]
	}
	return t
}

func (t *table) decode(ctx context.Context) error {
	if err := t.header(); err != nil {
		return err
	}
	if err := t.rows(ctx); err != nil {
		return err
	}
	return t.e.Flush()
}

// table is one file being read.
type table struct {
	d        *source.Description
	name     string
	fileName string
	e        *emit.Emitter
	lines    *lines
	cut      splitter
	notation number.Notation

	titles [][]byte // title lines, to know them when a restarted logger repeats them
	names  []string // header names by column; nil where there is no header
	nameAt int      // line of the file that held them

	zone       stamp.Zone
	parser     *stamp.Parser
	times      []int // columns of the stamp
	values     []value
	sensorAt   int   // column of the sensor, -1 for none
	nameAts    []int // the columns that name it together, where it is several
	channAt    int   // column of the channel, -1 for none
	need       int   // cells that a full line has
	headCells  int   // cells of the header, with those at its end that have no name
	extent     int   // cells up to the last one that is used
	firstWidth int   // cells of the first line that has more than extent, where there is no header

	sensors  map[string]int32 // interned names
	known    []sensor
	lastSen  int32
	channels map[string]int32

	channelNames []channelName
	pairs        map[uint64]int32 // long files: sensor and channel to index in pairList
	pairList     []pair

	footer int // line that ended the data; 0 for none yet

	joined   []byte // a stamp of several columns
	called   []byte // a sensor's name of several columns
	stampWas []byte // the last stamp and what it said
	moment   stamp.Moment
	haveWas  bool

	seen  int   // lines so far, more or less: now and then the context is asked
	clean clean // how lines without oddities are read

	ends ends // of the last cells of all lines so far
}

// value is one value column.
type value struct {
	at      int
	label   string
	sensor  string // "" takes the line's
	channel string
	unit    string
	codes   number.Codes
	texts   []string
	flagAt  int // -1 for none
	good    []string
}

// sensor is a name met in this file, with the series of each column of a wide
// file; -1 where not met yet.
type sensor struct {
	name   string
	bare   bool
	next   int32   // the sensor that followed it last time
	series []int32 // long files keep theirs in table.pairs
	full   bool    // no series is -1
}

// channelName is a channel met in a long file.
type channelName struct {
	name string
	bare bool
}

// pair is a sensor and channel met in a long file.
type pair struct {
	sen, ch int32
	series  int32
	next    int32 // the pair that followed it last time
}

func (t *table) fail(line int, what, do string) error {
	return &emit.FileError{File: t.name, Line: line, What: what, Do: do}
}

// label names a column in messages.
func (t *table) label(i int) string {
	if i < len(t.names) && t.names[i] != "" {
		return t.names[i]
	}
	return fmt.Sprintf("column %d", i+1)
}

// isComment tells whether a line is one to pass over.
func (t *table) isComment(text []byte) bool {
	p := t.d.CommentPrefix
	return p != "" && len(text) >= len(p) && string(text[:len(p)]) == p
}

func isBlank(text []byte) bool { return len(bytes.TrimSpace(text)) == 0 }

// oneLine brings a header name with line breaks and runs of blanks to one line.
func oneLine(b []byte) string {
	return strings.Join(strings.Fields(strings.ReplaceAll(string(b), "\u00a0", " ")), " ")
}
