package messages

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"github.com/theory/jsonpath"

	"wane/ingest/decode/emit"
	"wane/ingest/decode/number"
	"wane/ingest/decode/objects"
	"wane/ingest/decode/stamp"
	"wane/ingest/reading"
	"wane/ingest/source"
)

// maxLine is the most bytes of one line: a message of some megabytes as text.
const maxLine = 16 << 20

var point = number.Notation{Decimal: '.'}

// Decode reads the lines by the description: messages, or registers.
func Decode(ctx context.Context, r io.Reader, name string, d *source.Description, e *emit.Emitter) error {
	dec := decoder{d: d, e: e, paths: map[string]*jsonpath.Path{}}
	if d.Format == source.Messages {
		dec.stamps = stamp.NewParser(d.Stamp(), d.Location())
	}
	lines := bufio.NewScanner(r)
	lines.Buffer(make([]byte, 0, 64<<10), maxLine)
	for no := 1; lines.Scan(); no++ {
		if no&255 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		if text := bytes.TrimSpace(lines.Bytes()); len(text) > 0 {
			if err := dec.line(ctx, text, no); err != nil {
				return err
			}
		}
	}
	if err := lines.Err(); err == bufio.ErrTooLong {
		return &emit.FileError{File: name, What: fmt.Sprintf("a line has more than %d bytes", maxLine),
			Do: "is the file damaged?"}
	} else if err != nil {
		return err
	}
	return e.Flush()
}

type decoder struct {
	d      *source.Description
	e      *emit.Emitter
	stamps *stamp.Parser
	paths  map[string]*jsonpath.Path
}

func (d *decoder) line(ctx context.Context, text []byte, no int) error {
	var l Line
	if err := json.Unmarshal(text, &l); err != nil || l.At.IsZero() {
		return d.e.Reject(no, "", "bad-json", "the line is no message that the collector wrote", text)
	}
	if d.d.Format == source.Registers {
		return d.registers(&l, text, no)
	}
	for i := range d.d.Messages {
		if m := &d.d.Messages[i]; l.Topic != "" {
			if groups, ok := m.Groups(l.Topic); ok {
				return d.message(ctx, m, groups, &l, no)
			}
		}
	}
	return d.e.Reject(no, "topic", "unknown-topic",
		fmt.Sprintf("no line of messages fits topic %q; add one", l.Topic), text)
}

func (d *decoder) message(ctx context.Context, m *source.Message, groups []string, l *Line, no int) error {
	switch m.Payload {
	case "senml":
		return d.senml(ctx, m, groups, l, no)
	case "json":
		return d.object(m, groups, l, no)
	}
	text := bytes.TrimSpace(l.Bytes())
	if len(text) == 0 || l.Retained {
		d.e.Blank++ // what was retained does not say when it was measured
		return nil
	}
	return d.value(m.Sensor, m.Channel, groups, l.At.UnixMicro(), text, no)
}

// senml reads a pack; times in it may count from when the message came, unless
// the broker had kept it from before.
func (d *decoder) senml(ctx context.Context, m *source.Message, groups []string, l *Line, no int) error {
	arrived := l.At.UnixMicro()
	if l.Retained {
		arrived = 0
	}
	return objects.Message(ctx, l.Bytes(), no, arrived, source.Fill(m.Channel, groups), d.e)
}

// object reads a JSON message.
func (d *decoder) object(m *source.Message, groups []string, l *Line, no int) error {
	var doc any
	dec := json.NewDecoder(bytes.NewReader(l.Bytes()))
	dec.UseNumber()
	if err := dec.Decode(&doc); err != nil {
		return d.e.Reject(no, "payload", "bad-json", fmt.Sprintf("the message is not JSON (%v)", err), l.Bytes())
	}
	at := l.At.UnixMicro()
	if m.Time != "" {
		when, found := d.find(m.Time, doc)
		if !found {
			return d.e.Reject(no, "time", "bad-time", "the message has no time at "+m.Time, l.Bytes())
		}
		moment, bad := d.stamps.Parse([]byte(when))
		if bad != nil {
			return d.e.Reject(no, "time", bad.Code, bad.Reason, []byte(when))
		}
		var err *stamp.Error
		if at, err = d.e.Place(0, moment, d.stamps.Zone()); err != nil {
			return d.e.Reject(no, "time", err.Code, err.Reason, []byte(when))
		}
	} else if l.Retained {
		d.e.Blank++
		return nil
	}
	for i := range m.Values {
		v := &m.Values[i]
		text, found := d.find(v.Path, doc)
		if !found || text == "" {
			d.e.Blank++
			continue
		}
		if err := d.value(v.Sensor, v.Channel, groups, at, []byte(text), no); err != nil {
			return err
		}
	}
	return nil
}

// find gives the scalar at a path, as it is printed.
func (d *decoder) find(path string, doc any) (string, bool) {
	p := d.paths[path]
	if p == nil {
		p = jsonpath.MustParse(path) // checked when the description was read
		d.paths[path] = p
	}
	nodes := p.Select(doc)
	if len(nodes) != 1 {
		return "", false
	}
	switch v := nodes[0].(type) {
	case string:
		return strings.TrimSpace(v), true
	case json.Number:
		return v.String(), true
	case bool:
		return fmt.Sprint(v), true
	case nil:
		return "", false
	}
	return fmt.Sprintf("%.40v", nodes[0]), true // an object: no number, and told so
}

// value hands on one number.
func (d *decoder) value(sensor, channel string, groups []string, at int64, text []byte, no int) error {
	v, st := point.Parse(text)
	switch st {
	case number.Bad:
		return d.e.Reject(no, "payload", "bad-number", "not a number", text)
	case number.TooLarge:
		return d.e.Reject(no, "payload", "bad-number", "a number of 2^53 or more", text)
	case number.TooSmall:
		return d.e.Reject(no, "payload", "bad-number", "a number that is 0 at 9 decimals, and not 0 as printed", text)
	}
	return d.add(source.Fill(sensor, groups), source.Fill(channel, groups), at, v, no, text)
}

func (d *decoder) add(sensor, channel string, at int64, v reading.Value, no int, text []byte) error {
	id, bad := d.e.Series(sensor, channel)
	if bad != nil {
		return d.e.Reject(no, "topic", bad.Code, bad.Reason, text)
	}
	us, bad := d.e.Place(id, stamp.Moment{UTC: at, Resolved: true}, stamp.UTC)
	if bad != nil {
		return d.e.Reject(no, "time", bad.Code, bad.Reason, text)
	}
	return d.e.Add(id, us, v, no)
}
