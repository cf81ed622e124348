// Package objects reads readings that come as JSON objects: SenML packs (RFC
// 8428) and JSON lines in the plain form.
//
// Numbers are read from their printed digits; base values and base times are
// added as decimals, so nothing is lost to floats.
package objects

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"wane/ingest/decode/emit"
	"wane/ingest/decode/number"
	"wane/ingest/decode/stamp"
	"wane/ingest/reading"
)

var decimalPoint = number.Notation{Decimal: '.'}

// relativeBefore is the time below which SenML times count from now (RFC 8428
// section 4.5.3).
const relativeBefore = 1 << 28

// senmlVersion is the version of RFC 8428; packs of a later one are refused.
const senmlVersion = 10

// base holds the base fields that apply to the records behind them.
type base struct {
	name     string
	time     reading.Value
	value    reading.Value
	hasValue bool
	arrived  int64 // microseconds from which relative times count; 0 where nothing tells
}

// SenML reads a JSON pack. A record's name (base name and name) is parted at its
// last / or : into sensor and channel; one without either is the sensor, and
// its channel is the one given ("value" where that is empty). Units are the
// register's affair. The line of a reading is the number of its record.
func SenML(ctx context.Context, r io.Reader, name, channel string, e *emit.Emitter) error {
	if channel == "" {
		channel = "value"
	}
	s := splitter{r: bufio.NewReaderSize(r, 64<<10)}
	var b base
	for n := 1; ; n++ {
		if n&1023 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		c, err := s.next()
		if err == io.EOF {
			return e.Flush()
		}
		if err != nil {
			var fe *emit.FileError
			if errors.As(err, &fe) {
				return err
			}
			return &emit.FileError{File: name, Line: n, What: fmt.Sprintf("not a SenML pack (%v)", err),
				Do: "export the pack again"}
		}
		switch {
		case c.truncated:
			if err := e.Reject(n, "", "truncated-file",
				"the pack ends before its end: it was cut short; export it again", c.text); err != nil {
				return err
			}
			return e.Flush()
		case c.tooLong:
			// Its base fields would be lost for all records behind it.
			return &emit.FileError{File: name, Line: n, What: fmt.Sprintf("a record has more than %d bytes", maxObject),
				Do: "export the pack again"}
		}
		m, err := fieldsOf(c.text)
		if err != nil {
			return &emit.FileError{File: name, Line: n, What: fmt.Sprintf("a record is not JSON (%v)", err),
				Do: "export the pack again"}
		}
		if v, ok := m["bver"]; ok {
			if x, err := decimalOf(v); err != nil || x.Float() > senmlVersion {
				return &emit.FileError{File: name, Line: n, What: fmt.Sprintf("SenML version %v is later than %d, the one known", v,
					senmlVersion), Do: "export in version 10"}
			}
		}
		if column, bad := b.take(m); bad != nil {
			// Without its base fields the rest of the pack cannot be placed.
			return &emit.FileError{File: name, Line: n, What: fmt.Sprintf("%s: %s", column, bad.Reason),
				Do: "export the pack again"}
		}
		if err := b.record(m, n, c.text, channel, e); err != nil {
			return err
		}
	}
}

// Message reads a pack that came as one message, which is line no of its file, at
// the time arrived (microseconds; 0 where that is not known): times in it may
// count from then. A pack that cannot be read is a reject.
func Message(ctx context.Context, payload []byte, no int, arrived int64, channel string, e *emit.Emitter) error {
	if channel == "" {
		channel = "value"
	}
	refuse := func(why string) error {
		return e.Reject(no, "payload", "bad-senml", "not a SenML pack: "+why, payload)
	}
	s := splitter{r: bufio.NewReader(bytes.NewReader(payload))}
	b := base{arrived: arrived}
	for ctx.Err() == nil {
		c, err := s.next()
		switch {
		case err == io.EOF:
			return nil
		case err != nil:
			return refuse(err.Error())
		case c.truncated || c.tooLong:
			return refuse("a record is cut short or too long")
		}
		m, err := fieldsOf(c.text)
		if err != nil {
			return refuse(fmt.Sprintf("a record is not JSON (%v)", err))
		}
		if column, bad := b.take(m); bad != nil {
			return refuse(column + ": " + bad.Reason)
		}
		if err := b.record(m, no, c.text, channel, e); err != nil {
			return err
		}
	}
	return ctx.Err()
}

// take keeps the base fields of a record for it and all behind it.
func (b *base) take(m map[string]any) (column string, bad *stamp.Error) {
	if v, ok := m["bn"]; ok {
		s, isText := v.(string)
		if !isText {
			return "bn", &stamp.Error{Code: "bad-name", Reason: "the base name is not text"}
		}
		b.name = s
	}
	if v, ok := m["bt"]; ok {
		t, err := decimalOf(v)
		if err != nil {
			return "bt", &stamp.Error{Code: "bad-time", Reason: "the base time is " + err.Error()}
		}
		b.time = t
	}
	if v, ok := m["bv"]; ok {
		x, err := decimalOf(v)
		if err != nil {
			return "bv", &stamp.Error{Code: "bad-number", Reason: "the base value is " + err.Error()}
		}
		b.value, b.hasValue = x, true
	}
	return "", nil
}

// record hands on one record.
func (b *base) record(m map[string]any, n int, text []byte, channel string, e *emit.Emitter) error {
	for k := range m {
		if strings.HasSuffix(k, "_") {
			return e.Reject(n, "", "unknown-field", "a field ending in _ must be understood, and none is", text)
		}
	}
	given, has := m["v"]
	switch {
	case has:
	case hasAny(m, "vs", "vb", "vd"):
		return e.Reject(n, "", "not-a-number", "the record holds text, a truth value or data where a number is wanted", text)
	case hasAny(m, "s"):
		return e.Reject(n, "s", "sum-only", "the record holds only a sum over time; export the values", text)
	case b.hasValue && hasAny(m, "n", "t"):
		given = json.Number("0")
	case hasAny(m, "n", "t", "u"):
		return e.Reject(n, "", "no-value", "the record holds no value", text)
	default:
		return nil // base fields alone
	}
	v, err := decimalOf(given)
	if err == nil {
		v, err = sum(b.value, v)
	}
	if err != nil {
		return e.Reject(n, "v", "bad-number", err.Error(), text)
	}
	name := b.name
	if own, ok := m["n"]; ok {
		s, isText := own.(string)
		if !isText {
			return e.Reject(n, "n", "bad-name", "the name is not text", text)
		}
		name += s
	}
	sensor := name
	if k := strings.LastIndexAny(name, "/:"); k >= 0 {
		sensor = name[:k]
		if k+1 < len(name) {
			channel = name[k+1:]
		}
	}
	id, bad := e.Series(sensor, channel)
	if bad != nil {
		return e.Reject(n, "n", bad.Code, bad.Reason, text)
	}
	t := b.time
	if own, ok := m["t"]; ok {
		x, err := decimalOf(own)
		if err == nil {
			t, err = sum(t, x)
		}
		if err != nil {
			return e.Reject(n, "t", "bad-time", err.Error(), text)
		}
	}
	us := micros(t)
	if t.Float() < relativeBefore && b.arrived != 0 {
		us += b.arrived
	} else if t.Float() < relativeBefore {
		return e.Reject(n, "t", "relative-time", "the time counts from the moment of sending, which the file does not "+
			"tell; export with absolute times", text)
	}
	at, bad := e.Place(id, stamp.Moment{UTC: us, Resolved: true}, stamp.UTC)
	if bad != nil {
		return e.Reject(n, "t", bad.Code, bad.Reason, text)
	}
	return e.Add(id, at, v, n)
}

func hasAny(m map[string]any, keys ...string) bool {
	for _, k := range keys {
		if _, ok := m[k]; ok {
			return true
		}
	}
	return false
}

// decimalOf reads a JSON number exactly.
func decimalOf(v any) (reading.Value, error) {
	n, ok := v.(json.Number)
	if !ok {
		return reading.Value{}, fmt.Errorf("not a number")
	}
	x, st := decimalPoint.Parse([]byte(n))
	switch st {
	case number.Bad:
		return x, fmt.Errorf("not a number")
	case number.TooLarge:
		return x, fmt.Errorf("a number of 2^53 or more")
	case number.TooSmall:
		return x, fmt.Errorf("a number that is 0 at %d decimals, and not 0 as printed", reading.MaxDigits)
	}
	return x, nil
}

// sum adds two decimals exactly.
func sum(a, b reading.Value) (reading.Value, error) {
	for a.Digits < b.Digits {
		a.Mantissa, a.Digits = mul10(a.Mantissa), a.Digits+1
	}
	for b.Digits < a.Digits {
		b.Mantissa, b.Digits = mul10(b.Mantissa), b.Digits+1
	}
	m := a.Mantissa + b.Mantissa
	if abs(a.Mantissa) >= 1<<53 || abs(b.Mantissa) >= 1<<53 || abs(m) >= 1<<53 {
		// More digits than fit: what both are as floats, to fewer digits.
		v, ok := reading.Of(a.Float() + b.Float())
		if !ok {
			return v, fmt.Errorf("base and value add up to 2^53 or more")
		}
		return v, nil
	}
	return reading.Value{Mantissa: m, Digits: a.Digits}, nil
}

// mul10 multiplies, stopping short of overflow; a mantissa that large is caught
// by its magnitude.
func mul10(m int64) int64 {
	if abs(m) >= math.MaxInt64/10 {
		return m
	}
	return m * 10
}

func abs(m int64) int64 {
	if m < 0 {
		return -m
	}
	return m
}

// micros turns seconds into microseconds; finer digits are cut.
func micros(t reading.Value) int64 {
	m, d := t.Mantissa, int(t.Digits)
	for ; d > 6; d-- {
		m /= 10
	}
	for ; d < 6; d++ {
		if abs(m) >= math.MaxInt64/10 {
			return math.MaxInt64 // no time that is believed
		}
		m *= 10
	}
	return m
}
