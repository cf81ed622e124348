package collecttest

import (
	"context"
	"io"
	"testing"

	"wane/ingest/collect"
)

func testOnce(t *testing.T, b *bench) {
	one := b.offer(0)
	b.mustCollect()
	b.want(one)
	b.mustCollect() // nothing is new
	b.want(one)
	two := b.offer(1)
	b.mustCollect()
	b.want(one, two)
}

func testTrial(t *testing.T, b *bench) {
	one := b.offer(0)
	got, err := collect.Try(t.Context(), b.options(b.f.Make), b.description())
	if err != nil {
		t.Fatal(err)
	}
	if !b.f.Queued && got.Counts.Readings < int64(len(one)) {
		t.Errorf("shown are %d readings of %d", got.Counts.Readings, len(one))
	}
	if len(b.stored()) != 0 {
		t.Error("a trial stored something")
	}
	b.mustCollect()
	b.want(one)
}

// Everything is on disk, and the process ends before the source hears of it.
func testKilled(t *testing.T, b *bench) {
	one := b.offer(0)
	if _, err := b.collect(KilledAfterKeeping(b.f.Make)); err == nil && !b.f.Sends {
		t.Fatal("no error where the box failed")
	}
	b.mustCollect()
	b.want(one)
}

// The same, between the keeping and the saving of where it stopped.
func testUnsaved(t *testing.T, b *bench) {
	one := b.offer(0)
	broken := wrap(b.f.Make, func(box collect.Box) collect.Box { return fragile{Box: box, save: true} })
	_, _ = b.collect(broken) // not every kind saves
	b.mustCollect()
	b.want(one)
}

func testRestarted(t *testing.T, b *bench) {
	one := b.offer(0)
	b.mustCollect()
	b.other.Restart(t)
	two := b.offer(1)
	b.mustCollect()
	b.want(one, two)
}

func testTwice(t *testing.T, b *bench) {
	one := b.offer(0)
	b.mustCollect()
	b.other.Again(t)
	b.mustCollect()
	b.want(one)
}

// A fault is told in words, nothing half is stored, and when it is mended all is
// there.
func testFaults(t *testing.T, b *bench) {
	for i, f := range b.f.Faults {
		t.Run(string(f), func(t *testing.T) {
			b := &bench{t: t, f: b.f, dir: t.TempDir(), other: b.f.Start(t), clock: Start}
			one := b.offer(i)
			b.other.Break(t, f)
			s, err := b.collect(b.f.Make)
			if err == nil && !b.f.Sends {
				t.Error("no error")
			}
			if s.Error == "" && !b.f.Sends {
				t.Errorf("nothing is said of it: %+v", s)
			}
			b.noSecret(s.Error)
			if got := b.stored(); len(got) != 0 && !b.f.Piecewise {
				t.Errorf("%d readings stored", len(got))
			}
			b.other.Mend(t)
			b.mustCollect()
			b.want(one)
		})
	}
}

func testSecret(t *testing.T, b *bench) {
	b.offer(0)
	b.mustCollect()
	b.stored()
	b.noSecret()
}

// KilledAfterKeeping makes a kind whose box keeps what it is given and then fails,
// as where the process ends before the source hears that it was kept.
func KilledAfterKeeping(make collect.Make) collect.Make {
	return wrap(make, func(box collect.Box) collect.Box { return fragileBox{fragile{Box: box, keep: true}} })
}

// fragileBox keeps a body and then says that it did not.
type fragileBox struct{ fragile }

func (f fragileBox) Put(ctx context.Context, name string, r io.Reader) (collect.Came, error) {
	came, err := f.Box.Put(ctx, name, r)
	if err == nil {
		err = errKilled
	}
	return came, err
}

// wrap puts something between a kind and its box.
func wrap(make collect.Make, box func(collect.Box) collect.Box) collect.Make {
	return func(s collect.Setting) (any, error) {
		kind, err := make(s)
		switch k := kind.(type) {
		case collect.Poller:
			return poller{k, box}, err
		case collect.Listener:
			return listener{k, box}, err
		}
		return kind, err
	}
}

type poller struct {
	collect.Poller
	box func(collect.Box) collect.Box
}

func (p poller) Poll(ctx context.Context, b collect.Box) error { return p.Poller.Poll(ctx, p.box(b)) }

type listener struct {
	collect.Listener
	box func(collect.Box) collect.Box
}

func (l listener) Listen(ctx context.Context, b collect.Box, up func(error)) error {
	return l.Listener.Listen(ctx, l.box(b), up)
}
