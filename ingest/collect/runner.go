package collect

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"path/filepath"
	"runtime/debug"
	"sync"
	"time"

	"wane/ingest/collect/secret"
	"wane/ingest/collect/spool"
	"wane/ingest/source"
)

// Make makes the kind of a source: a Poller or a Listener. Package kinds has the
// one for all.
type Make func(Setting) (any, error)

// Options is what a Runner is made of.
type Options struct {
	Dir  string // the site folder
	Zone *time.Location
	Make Make
	Now  func() time.Time
	Log  *slog.Logger // nil: no log

	SealAfter time.Duration // see spool.Options
	Quiet     time.Duration // how long a source that is heard once may say nothing before that is all; 0: three seconds
}

func (o *Options) quiet() time.Duration {
	if o.Quiet == 0 {
		return quiet
	}
	return o.Quiet
}

// Runner collects one source. Make it with Open.
type Runner struct {
	o     Options
	d     *source.Description
	when  slots // nil for listeners
	kind  any
	spool *spool.Spool
	vault *secret.Vault
	log   *slog.Logger

	mu     sync.Mutex
	status Status
}

// Open opens a source for collecting; errors under spool.ErrBusy say that another
// process does so.
func Open(o Options, d *source.Description) (*Runner, error) {
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	r := &Runner{o: o, d: d, vault: secret.New(o.Dir), log: o.Log.With("source", d.Name, "kind", d.Collect.Kind())}
	var err error
	if d.Collect.Polls() {
		if r.when, err = slotsOf(d.Collect, o.Zone); err != nil {
			return nil, err
		}
	}
	if r.kind, err = o.Make(Setting{Description: d, Dir: o.Dir, Vault: r.vault, Now: o.Now}); err != nil {
		return nil, fmt.Errorf("source %s: %w", d.Name, r.vault.HideError(err))
	}
	r.spool, err = spool.Open(spool.Options{
		Dir: o.Dir, Source: d.Name, Limit: int64(d.Collect.Limit), Now: o.Now, Read: reader(d, o.Now, nil),
		SealAfter: o.SealAfter,
	})
	if err != nil {
		return nil, err
	}
	s, err := readStatus(filepath.Join(o.Dir, spool.Folder, d.Name, statusName))
	if err != nil {
		r.log.Warn("the source's status is begun anew", "error", err)
		s = &Status{}
	}
	s.Source, s.Kind, s.Connected = d.Name, d.Collect.Kind(), false
	if now := o.Now(); r.when == nil && !s.Seen.IsZero() && s.Open() == nil && now.Sub(s.Seen) > unheard {
		s.miss(0, s.Seen, notRunning)
	}
	r.status = *s
	return r, nil
}

// unheard is how long a source that sends may go without a listener before that
// is a gap: a restart is none.
const unheard = 2 * time.Minute

const notRunning = "wane was not running"

// Close seals what came and lets the source go.
func (r *Runner) Close() error { return r.spool.Close() }

// Seal makes whole files of what came, for an ingest that follows.
func (r *Runner) Seal() error {
	err := r.spool.Seal()
	r.update(func(*Status) {}) // what came is counted
	return err
}

// Status is how the source stands.
func (r *Runner) Status() Status {
	r.mu.Lock()
	defer r.mu.Unlock()
	s := r.status
	s.Gaps = append([]Gap(nil), s.Gaps...)
	return s
}

// update changes the status and keeps it.
func (r *Runner) update(fn func(*Status)) {
	kept := r.spool.Count()
	r.mu.Lock()
	defer r.mu.Unlock()
	r.status.add(kept, r.o.Now())
	r.status.Seen = r.o.Now()
	fn(&r.status)
	if err := writeStatus(r.o.Dir, &r.status); err != nil {
		r.log.Warn("the status could not be kept", "error", err)
	}
}

// Once polls a source now, or listens until quiet for a moment or the time-out
// is over.
func (r *Runner) Once(ctx context.Context) error {
	if r.when == nil {
		return r.listenOnce(ctx)
	}
	now := r.o.Now()
	r.account(now)
	return r.poll(ctx, now, r.d.Collect.Retries)
}

// Run collects until ctx ends.
func (r *Runner) Run(ctx context.Context) {
	var beside sync.WaitGroup
	defer beside.Wait()
	beside.Go(func() { r.sealing(ctx) })
	if r.when == nil {
		r.listen(ctx)
		return
	}
	for ctx.Err() == nil {
		now := r.o.Now()
		if at := r.next(now); at.After(now) {
			wait(ctx, at.Sub(now))
			continue
		}
		r.account(now)
		retries := r.d.Collect.Retries
		if r.Status().Failures > 0 {
			retries = 0 // the pause between the slots has taken their place
		}
		_ = r.poll(ctx, now, retries) // said in the status and the log
	}
}

// next is when the source is to be asked: now where it never was.
func (r *Runner) next(now time.Time) time.Time {
	r.mu.Lock()
	s := r.status
	r.mu.Unlock()
	if s.Slot.IsZero() {
		return now
	}
	at := r.when.Next(s.Slot)
	if s.Slot.After(now) { // the clock was set back: what is done is not done again
		return at
	}
	if s.Failures > 1 {
		if later := s.Tried.Add(pause(s.Failures, backoffFirst, backoffLast)); later.After(at) {
			return later
		}
	}
	return at
}

// account counts the slots that passed unused, and makes the last one current.
func (r *Runner) account(now time.Time) {
	r.mu.Lock()
	slot := r.status.Slot
	r.mu.Unlock()
	if slot.IsZero() {
		r.update(func(s *Status) { s.Slot = now })
		return
	}
	n, last := between(r.when, slot, now)
	if n == 0 {
		return
	}
	r.update(func(s *Status) {
		s.Slot = last
		if n > 1 {
			why := notRunning
			if s.Failures > 0 {
				why = s.Error
			}
			s.miss(n-1, since(s, slot), why)
		}
	})
}

// since is from when on a source has not been collected.
func since(s *Status, slot time.Time) time.Time {
	if s.Succeeded.IsZero() {
		return slot
	}
	return s.Succeeded
}

// poll asks the source, again where that helps.
func (r *Runner) poll(ctx context.Context, slot time.Time, retries int) error {
	var err error
	for try := 0; ; try++ {
		err = r.attempt(ctx)
		if err == nil || ctx.Err() != nil || IsRefused(err) || try == retries {
			break
		}
		r.log.Info("once more", "error", err)
		wait(ctx, pause(try+1, retryFirst, retryLast))
	}
	if ctx.Err() != nil {
		return ctx.Err() // ended from outside: neither success nor failure
	}
	now := r.o.Now()
	r.update(func(s *Status) {
		s.Tried = now
		if err == nil {
			s.well(now)
			return
		}
		s.Failures++
		s.Error = err.Error()
		s.miss(1, since(s, slot), s.Error)
	})
	if err != nil {
		r.log.Warn("could not collect", "error", err)
	}
	return err
}

// attempt is one try, within its time, whose faults are its own.
func (r *Runner) attempt(ctx context.Context) (err error) {
	ctx, cancel := context.WithTimeout(ctx, r.d.Collect.Timeout.Std())
	defer cancel()
	defer func() {
		if p := recover(); p != nil {
			r.log.Error("a fault in the program", "panic", r.vault.Hide(fmt.Sprint(p)), "stack", string(debug.Stack()))
			err = fmt.Errorf("a fault in the program: %v", p)
		}
		if errors.Is(err, context.DeadlineExceeded) {
			err = fmt.Errorf("no end after %v (collect.timeout): %w", r.d.Collect.Timeout.Std(), err)
		}
		err = r.vault.HideError(err)
	}()
	return r.kind.(Poller).Poll(ctx, box{r.spool, r})
}

// sealing seals what has been open for long, and keeps the counts.
func (r *Runner) sealing(ctx context.Context) {
	for ctx.Err() == nil {
		wait(ctx, time.Minute)
		if err := r.spool.SealOld(); err != nil {
			r.log.Warn("could not seal what came", "error", err)
		}
		if r.when == nil {
			r.update(func(*Status) {})
		}
	}
}

// wait waits for d or the end of ctx.
func wait(ctx context.Context, d time.Duration) {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
	case <-ctx.Done():
	}
}

// box is the spool as a kind sees it; what could not be read stands in the
// status.
type box struct {
	*spool.Spool
	r *Runner
}

// Put keeps a body, see Box.
func (b box) Put(ctx context.Context, name string, body io.Reader) (Came, error) {
	came, err := b.Spool.Put(ctx, name, body)
	if err == nil {
		said := ""
		if came.Unreadable != nil {
			said = b.r.vault.Hide(fmt.Sprintf("%s: %v", spool.Name(name), came.Unreadable))
			b.r.log.Warn("came, and does not read as described", "what", said)
		}
		b.r.mu.Lock()
		b.r.status.Unreadable = said
		b.r.mu.Unlock()
	}
	return came, err
}
