package decode

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"wane/ingest/decode/columnar"
	"wane/ingest/decode/emit"
	"wane/ingest/decode/unwrap"
	"wane/ingest/reading"
	"wane/ingest/source"
)

// Kind is what a file's beginning shows it to be.
type Kind string

// The kinds. All but Unknown and Survey are read by Plain.
const (
	Unknown      Kind = "unknown"       // text of some logger: a description is needed
	PlainCSV     Kind = "plain"         // header time,sensor,channel,value
	PlainJSON    Kind = "plain-jsonl"   // JSON lines with these keys
	PlainParquet Kind = "plain-parquet" // Parquet with these columns
	SenML        Kind = "senml"         // an RFC 8428 JSON pack
	Survey       Kind = "survey"        // a survey sheet: not readings of a logger, package surveysheet reads it
)

const (
	plainHeader  = "time,sensor,channel,value"
	surveyHeader = "survey,taken_at,fixture,height_m,row,col,ppfd"
)

// plainCSV describes the plain form. It is parsed once; that it is sound is in
// the tests.
var plainCSV = must(`name: plain
files: ["*"]
layout: long
time: {columns: [time], format: rfc3339}
long: {sensor: sensor, channel: channel, value: value}
`)

var plainJSON = must("name: plain\nfiles: ['*']\nformat: jsonl\n")
var plainParquet = must("name: plain\nfiles: ['*']\nformat: parquet\n")
var plainSenML = must("name: plain\nfiles: ['*']\nformat: senml\n")

func must(text string) *source.Description {
	d, err := source.Load([]byte(text), "plain form")
	if err != nil {
		panic(err)
	}
	return d
}

// KindOf looks at the beginning of a file, unpacked if need be, and tells what
// it is. The error says what the file is that cannot be read at all (empty, a
// picture, a broken archive). Of a zip the first member counts.
func KindOf(name string, r io.Reader) (Kind, error) {
	kind := Unknown
	err := unwrap.Each(name, r, unwrap.Default, func(_ string, br *bufio.Reader) error {
		head, err := br.Peek(unwrap.Peek)
		if err != nil && err != io.EOF {
			return err
		}
		if err := unwrap.Refuse(name, head); err != nil {
			return err
		}
		if kind = kindOf(head); kind == PlainParquet && !columnar.IsPlain(name, r, br, unwrap.Default) {
			kind = Unknown
		}
		return errSeen
	}, func(string) error { return nil })
	if errors.Is(err, errSeen) {
		err = nil
	}
	return kind, err
}

var errSeen = errors.New("seen")

func kindOf(head []byte) Kind {
	if bytes.HasPrefix(head, []byte("PAR1")) {
		return PlainParquet
	}
	if enc, n := unwrap.BOM(head); enc == "utf-8" {
		head = head[n:]
	} else if enc != "" {
		return Unknown
	}
	first, _, _ := bytes.Cut(head, []byte{'\n'})
	switch names := headerNames(first); names {
	case plainHeader:
		return PlainCSV
	case surveyHeader:
		return Survey
	}
	switch text := bytes.TrimSpace(head); {
	case bytes.HasPrefix(text, []byte("[")) && hasKey(text, "n", "bn") &&
		hasKey(text, "v", "vs", "vb", "vd", "s", "bv", "bs"):
		return SenML
	case bytes.HasPrefix(text, []byte("{")):
		first, _, _ := bytes.Cut(text, []byte{'\n'})
		if hasKey(first, "time") && hasKey(first, "sensor") && hasKey(first, "channel") && hasKey(first, "value") {
			return PlainJSON
		}
	}
	return Unknown
}

// headerNames gives a header line without the freedoms that CSV allows.
func headerNames(line []byte) string {
	cells := strings.Split(strings.TrimRight(string(line), "\r"), ",")
	for i, c := range cells {
		c = strings.TrimSpace(c)
		if len(c) > 1 && c[0] == '"' && c[len(c)-1] == '"' {
			c = c[1 : len(c)-1]
		}
		cells[i] = c
	}
	return strings.Join(cells, ",")
}

// hasKey tells whether one of the keys stands in JSON text.
func hasKey(text []byte, keys ...string) bool {
	for _, k := range keys {
		if bytes.Contains(text, []byte(`"`+k+`"`)) {
			return true
		}
	}
	return false
}

// ErrNotPlain is under the error of Plain for a file of another kind.
var ErrNotPlain = errors.New("not in a plain form")

// Plain reads a file that needs no description: the plain form as CSV, JSON
// lines or Parquet, or a SenML pack.
func Plain(ctx context.Context, r io.Reader, name string, sink reading.Sink, opts ...Option) (Counts, error) {
	o := apply(opts)
	e := emit.New(sink, o.now)
	err := unwrap.Each(name, r, o.limits, func(member string, br *bufio.Reader) error {
		head, err := br.Peek(unwrap.Peek)
		if err != nil && err != io.EOF {
			return err
		}
		if err := unwrap.Refuse(name, head); err != nil {
			return err
		}
		var d *source.Description
		switch kind := kindOf(head); kind {
		case PlainCSV:
			d = plainCSV
		case PlainJSON:
			d = plainJSON
		case PlainParquet:
			d = plainParquet
		case SenML:
			d = plainSenML
		case Survey:
			return fmt.Errorf("%s is a survey sheet: %w", name, ErrNotPlain)
		default:
			return fmt.Errorf("%s: %w (header %s with RFC 3339 times); describe it in sources/", name, ErrNotPlain, plainHeader)
		}
		return one(ctx, name, member, r, br, d, e, o)
	}, passed(e))
	return finish(e, err)
}
