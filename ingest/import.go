package ingest

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"runtime"
	"strings"
	"sync"
	"time"

	"wane/ingest/archive"
	"wane/ingest/decode"
	"wane/ingest/reading"
	"wane/ingest/site"
	"wane/ingest/source"
	"wane/transform/fleet"
)

// Options is one round of import.
type Options struct {
	Site     site.Folder
	Register *fleet.Register // to tell which series it does not know; they are kept all the same
	Now      time.Time
	Files    []string // these instead of inbox and sources; they stay where they are
	Progress func(string)
	Workers  int // 0: one a core
}

// Import does one round under the archive's lock. A file that cannot be used is
// named in the Summary and the rest goes on; the error is of the site or the
// disk, and then nothing of the round counts. A part of the archive that the
// disk has changed is made again from the originals before anything is added to
// it, and the Summary says so.
func Import(ctx context.Context, l *archive.Lock, o Options) (*Summary, error) {
	if o.Progress == nil {
		o.Progress = func(string) {}
	}
	s, err := importOnce(ctx, l, o)
	if !errors.Is(err, archive.ErrDamaged) {
		return s, err
	}
	o.Progress("making damaged parts again")
	mended, merr := Mend(ctx, l)
	if merr != nil {
		return nil, fmt.Errorf("%w; nothing was imported, since it cannot be made again: %w", err, merr)
	}
	if s, err = importOnce(ctx, l, o); s != nil {
		s.Mended = mended
	}
	return s, err
}

func importOnce(ctx context.Context, l *archive.Lock, o Options) (*Summary, error) {
	all, err := Descriptions(o.Site)
	if err != nil {
		return nil, err
	}
	files, notes, err := find(o, all)
	if err != nil {
		return nil, err
	}
	imp, err := archive.Begin(l, archive.Options{Now: o.Now})
	if err != nil {
		return nil, err
	}
	defer imp.Discard()
	r := &round{imp: imp, all: all, now: o.Now, progress: o.Progress, summary: &Summary{Notes: notes, Swept: imp.Swept}}
	if err := r.run(ctx, files, o.workers()); err != nil {
		return nil, err
	}
	o.Progress("writing readings")
	unknown := newUnknowns(o.Register)
	var looked sync.WaitGroup
	looked.Go(func() { r.eachSeries(unknown.add) }) // while the commit waits for the disk
	res, err := imp.Commit(ctx)
	looked.Wait()
	if err != nil {
		return nil, fmt.Errorf("commit what was imported: %w", err)
	}
	r.summary.add(res, unknown)
	return r.summary, nil
}

func (o Options) workers() int {
	if o.Workers > 0 {
		return o.Workers
	}
	return runtime.GOMAXPROCS(0)
}

// copied is what came of offering a file: a copy, or why the file stays where
// it is (left), or why the round ends (err), or nothing.
type copied struct {
	kept *archive.Kept
	by   *Described
	left error
	err  error
}

func (r *round) copy(ctx context.Context, f offered) copied {
	st, err := os.Lstat(f.path)
	if err != nil {
		return copied{left: err}
	}
	if !f.remove && r.imp.Untouched(f.name, st.Size(), st.ModTime()) {
		return copied{} // a source's folder keeps its old files: nothing to say
	}
	if !st.Mode().IsRegular() {
		return copied{left: archive.ErrNotRegular} // opening a pipe would wait for ever
	}
	if f.remove && openElsewhere(f.path) {
		return copied{left: archive.ErrMoving} // removing it would lose what is still to come
	}
	by, kind, err := r.recognise(f)
	if err != nil {
		return copied{left: err}
	}
	in := archive.Input{Path: f.path, Name: f.name, Remove: f.remove}
	switch {
	case by != nil:
		in.Source, in.Describe = by.Name, by.Text
	case kind == decode.Survey:
		in.Source = SurveySource
	}
	kept, err := r.imp.Keep(ctx, in)
	if errors.Is(err, archive.ErrMoving) || errors.Is(err, archive.ErrNotRegular) || errors.Is(err, os.ErrPermission) ||
		unreadable(err, f.path) {
		return copied{left: err}
	}
	return copied{kept: kept, by: by, err: err}
}

// unreadable says whether the file itself could not be read, as from a memory
// card that is worn out: its fault, not the archive's.
func unreadable(err error, path string) bool {
	var p *fs.PathError
	return errors.As(err, &p) && p.Op == "read" && p.Path == path
}

// errUndescribed says that nothing tells how the file reads.
var errUndescribed = errors.New("nothing says how this file reads")

// recognise tells how a file reads. A file that is broken as a whole is
// recognised all the same: its decoder refuses it in words, and it is kept.
func (r *round) recognise(f offered) (*Described, decode.Kind, error) {
	if f.by != nil {
		return f.by, decode.Unknown, nil
	}
	fd, err := os.Open(f.path)
	if err != nil {
		return nil, "", err
	}
	kind, kerr := decode.KindOf(f.name, fd)
	if err := fd.Close(); err != nil {
		return nil, "", err
	}
	if kerr == nil && kind != decode.Unknown {
		return nil, kind, nil
	}
	var fit []*Described
	for _, d := range r.all {
		if d.Match(f.name) {
			fit = append(fit, d)
		}
	}
	switch {
	case len(fit) == 1:
		return fit[0], decode.Unknown, nil
	case len(fit) > 1:
		names := make([]string, len(fit))
		for i, d := range fit {
			names[i] = d.File()
		}
		return nil, "", fmt.Errorf("%s fit its name; make their `files` patterns narrower", strings.Join(names, " and "))
	case kerr != nil:
		return nil, decode.Unknown, nil // refused in words when it is read
	}
	if known, err := r.knownAs(f.path, f.name); err == nil && len(known) > 0 {
		return nil, "", fmt.Errorf("%w, but it reads by %s; widen the `files` patterns there so that they fit its name",
			errUndescribed, strings.Join(known, " and by "))
	}
	return nil, "", fmt.Errorf("%w; `wane inspect %s` proposes a description for sources/", errUndescribed, f.path)
}

// read decodes a file into the sink and ends the sink. A file that is wrong as a
// whole is refused: one reject stands for all of it. said tells where the file's
// time turns. The error is the disk's or the context's.
func read(ctx context.Context, f archive.Content, name string, by *source.Description, sheet bool, now time.Time,
	sink *archive.Sink) (said string, err error) {
	var counts decode.Counts
	switch {
	case by != nil:
		counts, err = decode.File(ctx, f, name, by, sink, decode.Now(now))
	case sheet:
		err = surveyRows(f, sink)
	default:
		counts, err = decode.Plain(ctx, f, name, sink, decode.Now(now))
	}
	var whole *decode.FileError
	if errors.As(err, &whole) || errors.Is(err, decode.ErrNotPlain) {
		return "", sink.Refuse(reading.Reject{Code: archive.CodeWholeFile, Reason: err.Error()})
	}
	if err != nil {
		return "", fmt.Errorf("%s: %w", name, err)
	}
	err = sink.Done(counts.Blank)
	return timeReversals(sink.TimeReversals()), err
}

func (r *round) left(name string, err error) {
	r.summary.Left = append(r.summary.Left, fmt.Sprintf("%s: %v", name, err))
}
