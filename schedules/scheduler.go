package schedules

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"github.com/robfig/cron/v3"
)

// Options is what a Scheduler is made of.
type Options struct {
	Zone  *time.Location   // the site's time zone
	State StateStore       // what was done in earlier processes
	Jobs  []Job            // asked in this order at each tick
	Log   *slog.Logger     // nil: no log
	Now   func() time.Time // nil: time.Now
	Grace time.Duration    // how long a cancelled job may take to return; 0: DefaultGrace
}

// DefaultGrace is how long a job may take to return once it was told to stop.
const DefaultGrace = 30 * time.Second

// Scheduler runs jobs at their slots, one at a time. Make it with New.
type Scheduler struct {
	zone  *time.Location
	store StateStore
	log   *slog.Logger
	now   func() time.Time
	grace time.Duration
	jobs  []*job // the slice is fixed; the fields are written by ticks under mu

	mu        sync.Mutex
	running   bool  // Run was called and has not returned in good order
	state     State // as it is to be stored
	unsaved   bool  // state is ahead of the store
	current   *job  // whose slot runs now, or nil
	slot      time.Time
	abandoned bool // Run gave up waiting: nothing more is stored
}

// job is a Job with its place in time.
type job struct {
	Job
	line     Line
	failures int   // in a row
	lastErr  error // of the last failure, nil after a success
	wait     int   // ticks until it is tried again
	ahead    int   // ticks for which the state has been ahead of the clock
}

// New checks the options, and reports all that is wrong with them.
func New(o Options) (*Scheduler, error) {
	s := &Scheduler{zone: o.Zone, store: o.State, log: o.Log, now: o.Now, grace: o.Grace}
	var found []error
	if s.zone == nil {
		found = append(found, errors.New("schedules need the site's time zone"))
	}
	if s.store == nil {
		found = append(found, errors.New("schedules need a place for their state"))
	}
	if s.log == nil {
		s.log = slog.New(slog.DiscardHandler)
	}
	if s.now == nil {
		s.now = time.Now
	}
	if s.grace == 0 {
		s.grace = DefaultGrace
	}
	if s.grace < 0 {
		found = append(found, fmt.Errorf("grace time %v is negative", s.grace))
	}
	names := map[string]bool{}
	for _, j := range o.Jobs {
		line, err := j.check()
		if err != nil {
			found = append(found, err)
		}
		if names[j.Name] {
			found = append(found, fmt.Errorf("job %q is listed twice; give each its own name", j.Name))
		}
		names[j.Name] = true
		s.jobs = append(s.jobs, &job{Job: j, line: line})
	}
	if len(o.Jobs) == 0 {
		found = append(found, errors.New("there is no job to schedule"))
	}
	if err := errors.Join(found...); err != nil {
		return nil, err
	}
	return s, nil
}

// StillRunningError is Run's when a job outlasted the grace time. The job's
// goroutine is still there, so the process should end; the slot stays due.
type StillRunningError struct {
	Job   string
	Slot  time.Time
	Grace time.Duration
}

// Error says which job would not stop.
func (e *StillRunningError) Error() string {
	return fmt.Sprintf("job %s, slot %s, did not stop within %v of being told to; it will be run again",
		e.Job, e.Slot.Format(time.RFC3339), e.Grace)
}

// Run ticks until ctx is cancelled, waits for the running job to return, and
// gives nil, or a StillRunningError if it does not return in the grace time.
// Other errors are of the state store, before the first tick.
func (s *Scheduler) Run(ctx context.Context) error {
	s.mu.Lock()
	if s.running {
		s.mu.Unlock()
		return errors.New("the scheduler is running already")
	}
	s.running = true
	s.mu.Unlock()

	if err := s.load(); err != nil {
		s.ended()
		return err
	}
	logger := cronLog{s.log}
	// Recover is innermost: outside of SkipIfStillRunning a panic would leave
	// the skip's token taken, and nothing would ever run again.
	c := cron.New(cron.WithLocation(time.UTC), cron.WithLogger(logger),
		cron.WithChain(cron.SkipIfStillRunning(logger), cron.Recover(logger)))
	c.Schedule(&minutely{}, cron.FuncJob(func() { s.tick(ctx) }))
	c.Start()
	s.log.Info("schedules started", logZone, s.zone.String(), logJobs, len(s.jobs))

	<-ctx.Done()
	done := c.Stop().Done()
	grace := time.NewTimer(s.grace)
	defer grace.Stop()
	select {
	case <-done:
	case <-grace.C:
		if err := s.abandon(); err != nil {
			s.log.Error("schedules stopped with a job still running", logError, err)
			return err
		}
		<-done
	}
	s.ended()
	s.log.Info("schedules stopped")
	return nil
}

func (s *Scheduler) ended() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.running = false
}

// abandon gives up the slot that runs, if one still does.
func (s *Scheduler) abandon() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.current == nil {
		return nil
	}
	s.abandoned = true
	return &StillRunningError{Job: s.current.Name, Slot: s.slot, Grace: s.grace}
}
