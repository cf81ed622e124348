// Package points reads the forms in which time-series databases and metric
// endpoints hand out single values with a name and tags: line protocol, the text
// exposition of metrics, and annotated CSV.
//
// A value's series is its measurement with all of its tags, as line protocol
// writes them (ppfd,bay=b1,lamp=3), so that no two series are ever taken for one.
// The description may name one tag as the sensor in its place. Texts and truth
// values are no readings and count as blank.
package points

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"wane/ingest/decode/emit"
	"wane/ingest/decode/number"
	"wane/ingest/decode/stamp"
	"wane/ingest/decode/tabled"
	"wane/ingest/source"
)

const maxLine = 1 << 20 // bytes

// Tag is a name with its value.
type Tag struct{ Name, Value string }

// Point is one value.
type Point struct {
	Measurement string
	Tags        []Tag
	Field       string
	Value       string // as printed
	Text        bool   // the value is a text or a truth value: no reading
	Time        string // "" where the line states none
}

// Series is the measurement with its tags.
func (p *Point) Series() string {
	var b strings.Builder
	b.WriteString(p.Measurement)
	for _, t := range p.Tags {
		b.WriteString("," + t.Name + "=" + t.Value)
	}
	return b.String()
}

// Of gives what a description means by a name: series, measurement, field, or a
// tag; "" where the point has no such tag.
func (p *Point) Of(name string) string {
	switch name {
	case "series":
		return p.Series()
	case "measurement":
		return p.Measurement
	case "field":
		return p.Field
	}
	for _, t := range p.Tags {
		if t.Name == name {
			return t.Value
		}
	}
	return ""
}

// Parse takes a line of a form apart; none where the line is a remark.
type Parse func(line string) ([]Point, error)

// Decode reads UTF-8 text in one of the forms, as d says.
func Decode(ctx context.Context, r io.Reader, name string, d *source.Description, e *emit.Emitter) error {
	s := &sink{d: d, e: e, name: name, parser: stamp.NewParser(d.Stamp(), d.Location())}
	if d.Format == source.Annotated {
		return s.annotated(ctx, r)
	}
	parse := Line
	if d.Format == source.Exposed {
		parse = Metric
	}
	br := bufio.NewReaderSize(r, 64<<10)
	for no := 1; ; no++ {
		if no&1023 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		text, long, err := tabled.ReadLine(br, maxLine)
		if err == io.EOF {
			return s.end()
		}
		if err != nil {
			return err
		}
		if long {
			err = errors.New("the line has more than a million bytes; is the file damaged?")
		}
		var list []Point
		if err == nil {
			list, err = parse(string(text))
		}
		if err != nil {
			if err := e.Reject(no, "", "bad-line", err.Error(), text); err != nil {
				return err
			}
			continue
		}
		for i := range list {
			if err := s.point(no, &list[i]); err != nil {
				return err
			}
		}
	}
}

// sink hands points on as readings.
type sink struct {
	d      *source.Description
	e      *emit.Emitter
	name   string
	parser *stamp.Parser
}

func (s *sink) end() error { return s.e.Flush() }

var notation = number.Notation{Decimal: '.'}

// point hands on one point.
func (s *sink) point(line int, p *Point) error {
	if p.Text {
		s.e.Blank++
		return nil
	}
	switch strings.ToLower(p.Value) {
	case "nan", "":
		s.e.Blank++
		return nil
	}
	if p.Time == "" {
		return s.e.Reject(line, "time", "bad-time", "the value has no time stamp, and the file does not say when it was read; have it written with one", []byte(p.Value))
	}
	v, st := notation.Parse([]byte(p.Value))
	if st != number.OK {
		return s.e.Reject(line, p.Field, "bad-number", "not a finite number below 2^53 (and, unless it is 0, not 0 at 9 decimals)", []byte(p.Value))
	}
	sensor, channel := s.d.Sensor, s.d.Channel
	if n := s.d.Long.Sensor.Name; n != "" {
		sensor = p.Of(n)
	}
	if n := s.d.Long.Channel.Name; n != "" {
		channel = p.Of(n)
	}
	id, bad := s.e.Series(sensor, channel)
	if bad != nil {
		return s.e.Reject(line, "sensor", bad.Code, bad.Reason, []byte(p.Series()))
	}
	m, bad := s.parser.Parse([]byte(p.Time))
	if bad != nil {
		return s.e.Reject(line, "time", bad.Code, bad.Reason, []byte(p.Time))
	}
	at, bad := s.e.Place(id, m, s.parser.Zone())
	if bad != nil {
		return s.e.Reject(line, "time", bad.Code, bad.Reason, []byte(p.Time))
	}
	return s.e.Add(id, at, v, line)
}

// errEnds says that a line ends too soon.
func errEnds(what string) error { return fmt.Errorf("the line ends before %s", what) }
