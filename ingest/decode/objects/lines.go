package objects

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"

	"wane/ingest/decode/emit"
	"wane/ingest/decode/stamp"
	"wane/ingest/source"
)

const maxLine = 1 << 20 // bytes of one line

// Lines reads JSON lines in the plain form: an object a line with time, sensor,
// channel and value. Other keys are passed over; a value of null is blank.
func Lines(ctx context.Context, r io.Reader, name string, d *source.Description, e *emit.Emitter) error {
	br := bufio.NewReaderSize(r, maxLine)
	p := stamp.NewParser(d.Stamp(), d.Location())
	for no := 1; ; no++ {
		if no&1023 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		text, err := br.ReadSlice('\n')
		if err == bufio.ErrBufferFull {
			head := bytes.Clone(text[:200])
			for err == bufio.ErrBufferFull {
				_, err = br.ReadSlice('\n')
			}
			if rerr := e.Reject(no, "", "line-too-long", fmt.Sprintf("the line has more than %d bytes; is the file damaged?",
				maxLine), head); rerr != nil {
				return rerr
			}
			text = nil
		}
		if err != nil && err != io.EOF {
			return err
		}
		terminated := err == nil
		if text = bytes.TrimSpace(text); len(text) > 0 {
			if err := jsonLine(text, no, terminated, p, e); err != nil {
				return err
			}
		}
		if !terminated {
			return e.Flush()
		}
	}
}

func jsonLine(text []byte, no int, terminated bool, p *stamp.Parser, e *emit.Emitter) error {
	m, err := fieldsOf(text)
	if err != nil {
		if !terminated {
			return e.Reject(no, "", "truncated-line", "the last line is no whole object: the file was cut short; export it again", text)
		}
		return e.Reject(no, "", "bad-json", fmt.Sprintf("not a JSON object (%v)", err), text)
	}
	v, ok := m["value"]
	if !ok {
		return e.Reject(no, "value", "no-value", "the object has no value", text)
	}
	if v == nil {
		e.Blank++
		return nil
	}
	x, err := decimalOf(v)
	if err != nil {
		return e.Reject(no, "value", "bad-number", err.Error(), text)
	}
	sensor, ok1 := m["sensor"].(string)
	channel, ok2 := m["channel"].(string)
	if !ok1 || !ok2 {
		return e.Reject(no, "sensor", "bad-name", "sensor and channel must both be there, as text", text)
	}
	id, bad := e.Series(sensor, channel)
	if bad != nil {
		return e.Reject(no, "sensor", bad.Code, bad.Reason, text)
	}
	var when []byte
	switch t := m["time"].(type) {
	case string:
		when = []byte(t)
	case json.Number:
		when = []byte(t)
	default:
		return e.Reject(no, "time", "bad-time", "the object has no time", text)
	}
	at, bad := p.Parse(when)
	if bad != nil {
		return e.Reject(no, "time", bad.Code, bad.Reason, when)
	}
	us, bad := e.Place(id, at, p.Zone())
	if bad != nil {
		return e.Reject(no, "time", bad.Code, bad.Reason, when)
	}
	return e.Add(id, us, x, no)
}
