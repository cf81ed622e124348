package collect

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"wane/ingest/source"
)

// Described is a description and its text, by which a change is seen.
type Described struct {
	*source.Description
	Text []byte
}

// Supervisor keeps every source of a site going, each on its own.
type Supervisor struct {
	o    Options
	read func() ([]Described, error)

	mu      sync.Mutex
	running map[string]*running
	said    string // the last error of read
}

type running struct {
	text   []byte
	runner *Runner // nil: it could not be opened, and is tried again
	stop   context.CancelFunc
	done   chan struct{}
	said   string
}

// NewSupervisor makes one; read gives the descriptions as they now are.
func NewSupervisor(o Options, read func() ([]Described, error)) *Supervisor {
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	return &Supervisor{o: o, read: read, running: map[string]*running{}}
}

// Run keeps the sources going until ctx ends, and then seals what came. People
// edit descriptions by day: they are read again every minute.
func (s *Supervisor) Run(ctx context.Context) {
	for ctx.Err() == nil {
		s.look(ctx)
		wait(ctx, time.Minute)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	for name := range s.running {
		s.stop(name)
	}
}

// look brings what runs in line with the descriptions. Where these cannot be read,
// what runs goes on.
func (s *Supervisor) look(ctx context.Context) {
	all, err := s.read()
	s.mu.Lock()
	defer s.mu.Unlock()
	if err != nil {
		if err.Error() != s.said {
			s.o.Log.Warn("the sources cannot be read; those known go on", "error", err)
		}
		s.said = err.Error()
		return
	}
	s.said = ""
	want := map[string]Described{}
	for _, d := range all {
		if d.Collect != nil {
			want[d.Name] = d
		}
	}
	for name, r := range s.running {
		if d, ok := want[name]; !ok || !bytes.Equal(d.Text, r.text) {
			s.stop(name)
		}
	}
	for name, d := range want {
		if r := s.running[name]; r == nil || r.runner == nil {
			s.start(ctx, d)
		}
	}
}

func (s *Supervisor) start(ctx context.Context, d Described) {
	before := s.running[d.Name]
	r := &running{text: d.Text, done: make(chan struct{})}
	s.running[d.Name] = r
	runner, err := Open(s.o, d.Description)
	if err != nil {
		r.said = err.Error()
		if before == nil || before.said != r.said {
			s.o.Log.Warn("the source cannot be collected", "source", d.Name, "error", err)
		}
		close(r.done)
		r.stop = func() {}
		return
	}
	r.runner = runner
	own, stop := context.WithCancel(ctx)
	r.stop = stop
	go func() {
		defer close(r.done)
		runner.Run(own)
	}()
}

// stop ends a source and lets it go; others are not held up longer than its kind
// takes to end.
func (s *Supervisor) stop(name string) {
	r := s.running[name]
	r.stop()
	<-r.done
	if r.runner != nil {
		if err := r.runner.Close(); err != nil {
			s.o.Log.Warn("what came could not be sealed; the next start does it", "source", name, "error", err)
		}
	}
	delete(s.running, name)
}

// Seal makes whole files of what came so far, for an ingest that follows.
func (s *Supervisor) Seal() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	var all []error
	for name, r := range s.running {
		if r.runner != nil {
			if err := r.runner.Seal(); err != nil {
				all = append(all, fmt.Errorf("source %s: %w", name, err))
			}
		}
	}
	return errors.Join(all...)
}
