package schedules

import (
	"bytes"
	"context"
	"log/slog"
	"maps"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"
)

// memory is a StateStore that a test can look into and break.
type memory struct {
	mu    sync.Mutex
	state State
	fail  error // of the next calls
	saves int
}

func (m *memory) Load() (State, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.fail != nil {
		return State{}, m.fail
	}
	return maps.Clone(m.state), nil
}

func (m *memory) Save(s State) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.fail != nil {
		return m.fail
	}
	m.state = maps.Clone(s)
	m.saves++
	return nil
}

func (m *memory) breakWith(err error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.fail = err
}

// site is a scheduler in a bubble of invented time: its clock starts where the
// test says and runs with the bubble's, and can be set, as after a sleep.
type site struct {
	t     *testing.T
	zone  *time.Location
	store *memory
	grace time.Duration

	mu   sync.Mutex
	off  time.Duration // the site's clock less the bubble's
	runs []string      // "job slot" of each run that ended well
	busy int           // runs going on
	log  bytes.Buffer

	sched *Scheduler
	stop  context.CancelFunc
	ended chan error
}

func newSite(t *testing.T, zoneName, start string) *site {
	s := &site{t: t, zone: zone(t, zoneName), store: &memory{}}
	s.set(start)
	return s
}

func (s *site) now() time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	return time.Now().Add(s.off)
}

// set sets the clock: ahead is what a machine sees that slept.
func (s *site) set(to string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.off = time.Until(at(s.t, to))
}

// Write takes log lines.
func (s *site) Write(b []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.log.Write(b)
}

func (s *site) logged() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.log.String()
}

// work makes a job's function: it notes the run, and fails the test where two
// overlap. do may be nil.
func (s *site) work(name string, do func(ctx context.Context, slot time.Time) error) func(context.Context,
	time.Time) error {
	return func(ctx context.Context, slot time.Time) error {
		s.mu.Lock()
		if s.busy++; s.busy > 1 {
			s.t.Errorf("%s runs beside another", name)
		}
		s.mu.Unlock()
		defer func() {
			s.mu.Lock()
			defer s.mu.Unlock()
			s.busy--
		}()
		if do != nil {
			if err := do(ctx, slot); err != nil {
				return err
			}
		}
		s.mu.Lock()
		defer s.mu.Unlock()
		s.runs = append(s.runs, name+" "+slot.Format(time.RFC3339))
		return nil
	}
}

func (s *site) start(jobs ...Job) {
	s.t.Helper()
	sched, err := New(Options{Zone: s.zone, Now: s.now, State: s.store, Jobs: jobs, Grace: s.grace,
		Log: slog.New(slog.NewTextHandler(s, nil))})
	if err != nil {
		s.t.Fatal(err)
	}
	ctx, stop := context.WithCancel(s.t.Context())
	s.sched, s.stop, s.ended = sched, stop, make(chan error, 1)
	go func() { s.ended <- sched.Run(ctx) }()
	synctest.Wait()
}

// pass lets time go by.
func (s *site) pass(d time.Duration) {
	time.Sleep(d)
	synctest.Wait()
}

func (s *site) end() error {
	s.stop()
	return <-s.ended
}

func (s *site) wantRuns(want ...string) {
	s.t.Helper()
	s.mu.Lock()
	defer s.mu.Unlock()
	if diff := cmp.Diff(want, s.runs); diff != "" {
		s.t.Errorf("runs (-want +got):\n%s\nlog:\n%s", diff, s.log.String())
	}
	s.runs = nil
}

func (s *site) wantLog(parts ...string) {
	s.t.Helper()
	for _, line := range strings.Split(s.logged(), "\n") {
		found := true
		for _, p := range parts {
			found = found && strings.Contains(line, p)
		}
		if found {
			return
		}
	}
	s.t.Errorf("no log line has %q in:\n%s", parts, s.logged())
}

func (s *site) nightly() Job {
	return Job{Name: "nightly", Line: "15 2 * * *", Run: s.work("nightly", nil)}
}
