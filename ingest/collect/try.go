package collect

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"sort"
	"sync"
	"time"

	"wane/ingest/collect/secret"
	"wane/ingest/collect/spool"
	"wane/ingest/reading"
	"wane/ingest/source"
)

// Trial is what a source would bring. Nothing of it was stored, and nothing was
// taken away from the source.
type Trial struct {
	Bodies  []TrialBody
	Lines   int
	Series  []TrialSeries // by name
	Rejects []reading.Reject
	Counts  Came
}

// TrialBody is one body.
type TrialBody struct {
	Name  string
	Bytes int64
	Came
}

// TrialSeries is a series that would be stored.
type TrialSeries struct {
	Series   reading.Series
	Readings int64
	First    time.Time
	Last     time.Time
	Value    reading.Value // the last in the order of coming
}

// mostRejects is how many rejects a trial keeps.
const mostRejects = 20

// Try connects to a source and shows what it would bring, from the beginning.
func Try(ctx context.Context, o Options, d *source.Description) (*Trial, error) {
	vault := secret.New(o.Dir)
	kind, err := o.Make(Setting{Description: d, Dir: o.Dir, Vault: vault, Now: o.Now, Try: true})
	if err != nil {
		return nil, fmt.Errorf("source %s: %w", d.Name, vault.HideError(err))
	}
	b := &tryBox{limit: int64(d.Collect.Limit), quiet: o.quiet(), series: map[reading.Series]*TrialSeries{},
		came: make(chan struct{}, 1)}
	b.read = reader(d, o.Now, b)
	ctx, cancel := context.WithTimeout(ctx, d.Collect.Timeout.Std())
	defer cancel()
	switch k := kind.(type) {
	case Poller:
		err = k.Poll(ctx, b)
	case Listener:
		err = b.hear(ctx, cancel, k)
	}
	return b.trial(), vault.HideError(err)
}

// hear listens until something came and it is quiet, or until the time is over.
func (b *tryBox) hear(ctx context.Context, cancel context.CancelFunc, k Listener) error {
	var lost error
	go func() {
		select {
		case <-b.came:
			wait(ctx, b.quiet)
			cancel()
		case <-ctx.Done():
		}
	}()
	err := k.Listen(ctx, b, func(e error) {
		if e != nil {
			lost = e
			cancel()
		}
	})
	if err == nil {
		err = lost
	}
	return err
}

// tryBox keeps nothing but what is to be shown.
type tryBox struct {
	limit int64
	quiet time.Duration
	read  func(string, spool.File) Came

	mu     sync.Mutex
	out    Trial
	series map[reading.Series]*TrialSeries
	came   chan struct{}
}

func (b *tryBox) Put(ctx context.Context, name string, body io.Reader) (Came, error) {
	data, err := io.ReadAll(io.LimitReader(body, b.limit+1))
	if err == nil && int64(len(data)) > b.limit {
		err = ErrTooLarge
	}
	if err != nil {
		return Came{}, fmt.Errorf("%s: %w", spool.Name(name), err)
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	came := b.read(spool.Name(name), bytes.NewReader(data))
	b.out.Bodies = append(b.out.Bodies, TrialBody{Name: spool.Name(name), Bytes: int64(len(data)), Came: came})
	b.take(came)
	return came, ctx.Err()
}

func (b *tryBox) Append(_ context.Context, lines ...[]byte) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.out.Lines += len(lines)
	b.take(b.read("lines", bytes.NewReader(bytes.Join(lines, nil))))
	return nil
}

func (b *tryBox) take(c Came) {
	b.out.Counts.Readings += c.Readings
	b.out.Counts.Rejects += c.Rejects
	b.out.Counts.Unreadable = errors.Join(b.out.Counts.Unreadable, c.Unreadable)
	select {
	case b.came <- struct{}{}:
	default:
	}
}

func (b *tryBox) Recent() [][]byte       { return nil }
func (b *tryBox) Load(any) (bool, error) { return false, nil }
func (b *tryBox) Save(any) error         { return nil }

// Readings and Reject take what the decoder makes of a body.
func (b *tryBox) Readings(r *reading.Batch) error {
	for i := range r.Time {
		name, at := r.Series[r.Of[i]], time.UnixMicro(r.Time[i]).UTC()
		s := b.series[name]
		if s == nil {
			s = &TrialSeries{Series: name, First: at, Last: at}
			b.series[name] = s
		}
		s.Readings++
		s.Value = r.Value[i]
		if at.Before(s.First) {
			s.First = at
		}
		if at.After(s.Last) {
			s.Last = at
		}
	}
	return nil
}

func (b *tryBox) Reject(r reading.Reject) error {
	if len(b.out.Rejects) < mostRejects {
		b.out.Rejects = append(b.out.Rejects, r)
	}
	return nil
}

func (b *tryBox) trial() *Trial {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, s := range b.series {
		b.out.Series = append(b.out.Series, *s)
	}
	sort.Slice(b.out.Series, func(i, j int) bool { return b.out.Series[i].Series.String() < b.out.Series[j].Series.String() })
	return &b.out
}
