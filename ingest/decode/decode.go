// Package decode turns a logger's file into readings and rejects.
//
//  1. The file is unwrapped: gzip and zip opened within bounds, what is no
//     logger file refused in words (unwrap).
//  2. The decoder of its format takes it apart: delimited, senml, jsonl,
//     parquet. What is no table and can be read as one (json) comes to rows of
//     text cells, which go the way of delimited (tabled). Times go through stamp,
//     numbers through number.
//  3. Everything goes to the sink through emit, which counts.
//
// File reads by a description; Plain reads what is always accepted without
// one; KindOf tells which it is.
//
// A line or value that cannot be used is a reject, never an error. An error
// means that the file as a whole is not to be used, even though the sink may
// have been given a part of it. Counts.Rows is what the sink was given.
// Memory is bounded whatever the file holds.
package decode

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"wane/ingest/decode/aligned"
	"wane/ingest/decode/columnar"
	"wane/ingest/decode/delimited"
	"wane/ingest/decode/emit"
	"wane/ingest/decode/jsontable"
	"wane/ingest/decode/messages"
	"wane/ingest/decode/objects"
	"wane/ingest/decode/points"
	"wane/ingest/decode/tabled"
	"wane/ingest/decode/unwrap"
	"wane/ingest/decode/workbook"
	"wane/ingest/reading"
	"wane/ingest/source"
)

// Counts says what one file came to.
type Counts = emit.Counts

// FileError is a file that cannot be used as a whole.
type FileError = emit.FileError

// Option changes how a file is taken.
type Option func(*options)

type options struct {
	now    time.Time
	limits unwrap.Limits
}

// Now is the run's time: readings dated more than a day after it are rejects.
// Without it there is no such check.
func Now(t time.Time) Option { return func(o *options) { o.now = t } }

// File reads one file by its description. name is its name as dropped: its base
// name feeds sensorFrom.fileName, the whole of it stands in messages. r should
// be an *os.File or another io.ReaderAt for zip and Parquet; else up to 64 MiB
// of these are held in memory. The members of a zip are read one after the
// other, each by its own name; lines are counted in each.
func File(ctx context.Context, r io.Reader, name string, d *source.Description, sink reading.Sink,
	opts ...Option) (Counts, error) {
	if d.Format == source.Plain {
		return Plain(ctx, r, name, sink, opts...)
	}
	o := apply(opts)
	e := emit.New(sink, o.now)
	err := unwrap.Each(name, r, o.limits, func(member string, br *bufio.Reader) error {
		return one(ctx, name, member, r, br, d, e, o)
	}, passed(e))
	return finish(e, err)
}

// passed puts into quarantine what is said of a hidden member of a zip.
func passed(e *emit.Emitter) func(string) error {
	return func(member string) error {
		e.NextMember("")
		return e.Reject(0, "", "hidden-member", "a hidden file of the zip, not read; if it holds readings, hand it in by "+
			"itself, under a name without a dot before it", []byte(member))
	}
}

func apply(opts []Option) options {
	o := options{limits: unwrap.Default}
	for _, f := range opts {
		f(&o)
	}
	return o
}

// finish hands over what is left, also before an error, so that Counts always
// says what the sink was given.
func finish(e *emit.Emitter, err error) (Counts, error) {
	if err == nil {
		err = e.Flush()
	}
	e.Leave()
	return e.Counts, err
}

// one reads an unwrapped file.
func one(ctx context.Context, name, member string, raw io.Reader, br *bufio.Reader, d *source.Description,
	e *emit.Emitter, o options) error {
	if base := unwrap.Base(name); member == base || strings.HasPrefix(base, member+".") {
		e.NextMember("") // the file, or what a gzip holds
	} else {
		e.NextMember(member)
	}
	if d.Format == source.Parquet && d.Tabled() {
		rows, err := columnar.NewRows(ctx, name, raw, br, o.limits, d)
		if err != nil {
			return err
		}
		return errors.Join(delimited.DecodeRows(ctx, tabled.Reader(rows), name, member, rows.Names(), d, e), rows.Close())
	}
	if d.Format == source.Workbook {
		return sheet(ctx, name, member, raw, br, d, e, o)
	}
	if d.Format == source.Parquet {
		return columnar.Decode(ctx, name, raw, br, o.limits, d, e)
	}
	text, err := unwrap.Text(name, br, d.Encoding)
	if err != nil {
		return err
	}
	switch d.Format {
	case source.Delimited:
		return delimited.Decode(ctx, text, name, member, d, e)
	case source.SenML:
		return objects.SenML(ctx, text, name, d.Channel, e)
	case source.JSONLines:
		return objects.Lines(ctx, text, name, d, e)
	case source.JSON:
		names := d.Names()
		rows, err := jsontable.New(name, text, jsontable.Spec(d.JSON), names, d.DecimalChar, e)
		if err != nil {
			return err
		}
		return delimited.DecodeRows(ctx, tabled.Reader(rows), name, member, names, d, e)
	case source.Aligned:
		return delimited.Decode(ctx, tabled.Reader(aligned.New(text, d.ColumnStarts, e)), name, member, d, e)
	case source.Lines, source.Exposed, source.Annotated:
		return points.Decode(ctx, text, name, d, e)
	case source.Messages, source.Registers:
		return messages.Decode(ctx, text, name, d, e)
	}
	return fmt.Errorf("format %q has no decoder", d.Format)
}

// sheet reads one sheet of a workbook.
func sheet(ctx context.Context, name, member string, raw io.Reader, br *bufio.Reader, d *source.Description,
	e *emit.Emitter, o options) (err error) {
	if head, _ := br.Peek(4); string(head) != "PK\x03\x04" {
		return &emit.FileError{File: name, What: "this is no workbook (.xlsx), as its description says",
			Do: "describe it as what it is; inspect proposes that"}
	}
	b, err := workbook.Open(name, raw, br, o.limits)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	picked, err := b.Pick(d.Sheet)
	if err != nil {
		return err
	}
	rows, err := b.Rows(picked, d.DecimalChar)
	if err != nil {
		return err
	}
	return errors.Join(delimited.Decode(ctx, tabled.Reader(rows), name, member, d, e), rows.Close())
}
