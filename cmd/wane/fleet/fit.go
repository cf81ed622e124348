package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/apache/beam/sdks/v2/go/pkg/beam"
	"github.com/apache/beam/sdks/v2/go/pkg/beam/register"

	fitting "wane/cmd/wane/internal/group"
	"wane/ingest/group"
	"wane/transform/forecast"
)

func init() {
	register.DoFn2x0[string, func(string, Chunk)](&startFn{})
	register.DoFn6x1[context.Context, string, Chunk, Chunk, func(string, Chunk), func(Chunk), error](&siteFn{})
	register.DoFn3x2[context.Context, Chunk, Chunk, Chunk, error](&groupFn{})
	register.DoFn5x1[context.Context, string, Chunk, Chunk, func(Chunk), error](&answerFn{})
	register.DoFn4x1[context.Context, int, func(*Chunk) bool, Chunk, error](&keepFn{})
	register.Combiner1[Chunk](&addFn{})
	register.Emitter1[Chunk]()
}

// fit has the group fitted by the engine, and gives the file that tells the group's night
// of it; "" where no site can be fitted yet.
func fit(ctx context.Context, folder, dir string) (string, error) {
	folder, err := filepath.Abs(folder)
	if err != nil {
		return "", err
	}
	c, err := group.Folder(folder).Load()
	if err != nil {
		return "", err
	}
	last := keepFn{Path: filepath.Join(dir, "fitted")}
	if err := os.Remove(last.Path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return "", err
	}
	if last.Names, last.Key = fitting.Ready(group.Folder(folder), c); len(last.Names) == 0 {
		return "", nil
	}
	begin, err := pack(fitting.Begin(c))
	if err != nil {
		return "", err
	}
	if err := executed(ctx, fitPipeline(folder, begin, last)); err != nil {
		return "", err
	}
	if _, err := os.Stat(last.Path); err != nil {
		return "", errors.New("not all sites could be fitted")
	}
	return last.Path, nil
}

// fitPipeline is the steps of forecast.Joined, one after the other: at each site, then
// with what all of them said.
func fitPipeline(folder string, begin Chunk, last keepFn) *beam.Pipeline {
	p, s := beam.NewPipelineWithRoot()
	state := beam.Create(s, begin)
	kept := beam.ParDo(s, &startFn{}, beam.CreateList(s, last.Names))
	for step := range forecast.Steps {
		in := s.Scope(fmt.Sprintf("Step %d", step))
		var said beam.PCollection
		kept, said = beam.ParDo2(in, &siteFn{folder, step}, beam.Reshuffle(in, kept), beam.SideInput{Input: state})
		state = beam.ParDo(in, &groupFn{step}, beam.Combine(in, &addFn{}, said), beam.SideInput{Input: state})
	}
	in := s.Scope("Answer")
	answers := beam.ParDo(in, &answerFn{folder}, beam.Reshuffle(in, kept), beam.SideInput{Input: state})
	beam.ParDo0(in, &last, beam.GroupByKey(in, beam.AddFixedKey(in, answers)), beam.SideInput{Input: state})
	return p
}

type startFn struct{}

// ProcessElement begins with a site, of which nothing is known.
func (*startFn) ProcessElement(name string, emit func(string, Chunk)) { emit(name, Chunk{}) }

// siteFn does a step at a site.
type siteFn struct {
	Folder string
	Step   int
}

// ProcessElement leaves out a site whose step cannot be done: the fit is without it then,
// and not kept.
func (f *siteFn) ProcessElement(ctx context.Context, name string, was, state Chunk, keep func(string, Chunk),
	say func(Chunk)) error {
	var next forecast.Kept
	var said forecast.Said
	err := atSite(ctx, f.Folder, name, was, state, func(j *forecast.Joined, kept forecast.Kept, p *fitting.Part) error {
		var err error
		next, said, err = j.Site(f.Step, p.Input(), kept)
		return err
	})
	if err != nil {
		return leave(ctx, name, err)
	}
	a, err1 := pack(next)
	b, err2 := pack(said)
	if err := errors.Join(err1, err2); err != nil {
		return err
	}
	keep(name, a)
	say(b)
	return nil
}

// atSite opens a site and takes up the fit where it stands.
func atSite(ctx context.Context, folder, name string, was, state Chunk,
	do func(*forecast.Joined, forecast.Kept, *fitting.Part) error) (err error) {
	var kept forecast.Kept
	j, err := joinedOf(state)
	if err = errors.Join(err, was.into(&kept)); err != nil {
		return err
	}
	c, err := group.Folder(folder).Load()
	if err != nil {
		return err
	}
	p, err := fitting.OpenPart(ctx, group.Folder(folder), c, name)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, p.Close()) }()
	return do(j, kept, p)
}

// leave says that a site is left to the group's night, unless the time is over.
func leave(ctx context.Context, name string, err error) error {
	if ctx.Err() != nil {
		return ctx.Err()
	}
	fmt.Fprintf(os.Stderr, "fleet: site %s: the fit is left to the group's night: %v\n", name, err)
	return nil
}

func joinedOf(state Chunk) (*forecast.Joined, error) {
	var s forecast.JoinedState
	if err := state.into(&s); err != nil {
		return nil, err
	}
	return s.Joined()
}

// addFn adds up what sites said, in any order.
type addFn struct{}

// MergeAccumulators adds two.
func (*addFn) MergeAccumulators(a, b Chunk) (Chunk, error) {
	var x, y forecast.Said
	if err := errors.Join(a.into(&x), b.into(&y)); err != nil {
		return Chunk{}, err
	}
	return pack(x.Add(y))
}

// groupFn does the group's part of a step.
type groupFn struct{ Step int }

// ProcessElement takes what all sites said.
func (f *groupFn) ProcessElement(_ context.Context, all, state Chunk) (Chunk, error) {
	var said forecast.Said
	j, err := joinedOf(state)
	if err = errors.Join(err, all.into(&said)); err != nil {
		return Chunk{}, err
	}
	if err := j.Group(f.Step, said); err != nil {
		return Chunk{}, err
	}
	return pack(j.State())
}

// answerFn answers a site by the fit.
type answerFn struct{ Folder string }

// ProcessElement leaves out a site that cannot be answered, as siteFn does.
func (f *answerFn) ProcessElement(ctx context.Context, name string, was, state Chunk, emit func(Chunk)) error {
	var a fitting.Answer
	err := atSite(ctx, f.Folder, name, was, state, func(j *forecast.Joined, kept forecast.Kept, p *fitting.Part) error {
		fit, err := j.Fit(p.Input(), kept)
		if err != nil {
			return err
		}
		a, err = p.Answer(ctx, fit)
		return err
	})
	if err != nil {
		return leave(ctx, name, err)
	}
	out, err := pack(a)
	if err == nil {
		emit(out)
	}
	return err
}

// keepFn writes the fit down where all sites are in it.
type keepFn struct {
	Path, Key string
	Names     []string
}

// ProcessElement puts the answers into the order of the group.
func (f *keepFn) ProcessElement(_ context.Context, _ int, next func(*Chunk) bool, state Chunk) error {
	out := fitting.Fitted{Key: f.Key}
	if err := state.into(&out.State); err != nil {
		return err
	}
	of := map[string]fitting.Answer{}
	var c Chunk
	for next(&c) {
		var a fitting.Answer
		if err := c.into(&a); err != nil {
			return err
		}
		of[a.Site.Site] = a
	}
	for _, name := range f.Names {
		a, ok := of[name]
		if !ok {
			return nil
		}
		out.Answers = append(out.Answers, a)
	}
	var b bytes.Buffer
	if err := out.Write(&b); err != nil {
		return err
	}
	return write(f.Path, b.Bytes())
}
