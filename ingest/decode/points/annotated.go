package points

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"wane/ingest/decode/emit"
)

// table is one table of an annotated CSV: its annotations, and its header.
type table struct {
	types, groups, defaults []string
	names                   []string
}

// numeric are the types whose values are numbers.
var numeric = []string{"double", "long", "unsignedLong"}

// Annotated reads annotated CSV and hands each point to fn with its line. Rows
// that cannot be read go to bad. It is done with the file or at fn's error.
func Annotated(ctx context.Context, r io.Reader, fn func(line int, p *Point) error,
	bad func(line int, why string, text string) error) error {
	in := &bounded{r: r}
	c := csv.NewReader(in)
	c.FieldsPerRecord = -1
	var t table
	for n := 0; ; n++ {
		if n&1023 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		in.left = maxLine
		rec, err := c.Read()
		var syntax *csv.ParseError
		switch {
		case err == io.EOF:
			return nil
		case errors.As(err, &syntax):
			if err := bad(syntax.StartLine, "a quote stands astray", ""); err != nil {
				return err
			}
			continue
		case err != nil:
			return err
		}
		line, _ := c.FieldPos(0)
		if err := t.row(line, rec, fn, bad); err != nil {
			return err
		}
	}
}

func (t *table) row(line int, rec []string, fn func(int, *Point) error, bad func(int, string, string) error) error {
	if strings.HasPrefix(rec[0], "#") {
		if t.names != nil {
			*t = table{}
		}
		switch rec[0] {
		case "#datatype":
			t.types = rec
		case "#group":
			t.groups = rec
		case "#default":
			t.defaults = rec
		}
		return nil
	}
	if t.names == nil {
		if t.names = rec; !slices.Contains(rec, "_time") {
			return bad(line, "the header has no column _time", strings.Join(rec, ","))
		}
		return nil
	}
	if slices.Equal(rec, t.names) {
		return nil
	}
	if len(rec) != len(t.names) {
		return bad(line, fmt.Sprintf("%d cells where the header has %d", len(rec), len(t.names)), strings.Join(rec, ","))
	}
	for _, p := range t.points(rec) {
		if err := fn(line, &p); err != nil {
			return err
		}
	}
	return nil
}

func (t *table) at(list []string, i int) string {
	if i < len(list) {
		return list[i]
	}
	return ""
}

// points gives the points of a row: one where a column _value holds it, else one
// for each column of numbers.
func (t *table) points(rec []string) (out []Point) {
	var p Point
	var values []int
	for i, name := range t.names {
		cell := rec[i]
		if cell == "" {
			cell = t.at(t.defaults, i)
		}
		typ := t.at(t.types, i)
		switch name {
		case "", "result", "table", "_start", "_stop":
		case "_time":
			p.Time = cell
		case "_field":
			p.Field = cell
		case "_measurement":
			p.Measurement = cell
		case "_value":
			values = []int{i}
		default:
			if t.at(t.groups, i) != "true" && slices.Contains(numeric, typ) && !slices.Contains(t.names, "_value") {
				values = append(values, i)
			} else if cell != "" && (t.at(t.groups, i) == "true" || t.groups == nil) {
				p.Tags = append(p.Tags, Tag{name, cell})
			}
		}
	}
	for _, i := range values {
		q := p
		q.Value, q.Text = rec[i], t.types != nil && !slices.Contains(numeric, t.at(t.types, i))
		if q.Field == "" {
			q.Field = strings.TrimPrefix(t.names[i], "_")
		}
		out = append(out, q)
	}
	return out
}

func (s *sink) annotated(ctx context.Context, r io.Reader) error {
	err := Annotated(ctx, r, s.point, func(line int, why, text string) error {
		return s.e.Reject(line, "", "bad-line", why, []byte(text))
	})
	if errors.Is(err, errTooLong) {
		return &emit.FileError{File: s.name, What: "a row has more than a million bytes: a quote is never closed",
			Do: "export it again"}
	}
	if err != nil {
		return err
	}
	return s.end()
}

var errTooLong = errors.New("row too long")

// bounded ends a row that never ends.
type bounded struct {
	r    io.Reader
	left int
}

func (b *bounded) Read(p []byte) (int, error) {
	if b.left <= 0 {
		return 0, errTooLong
	}
	n, err := b.r.Read(p)
	b.left -= n
	return n, err
}
