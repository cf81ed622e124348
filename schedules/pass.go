package schedules

import (
	"context"
	"fmt"
	"runtime/debug"
	"time"
)

// Keys of log entries.
const (
	logJob      = "job"
	logSlot     = "slot"
	logError    = "error"
	logStack    = "stack"
	logLate     = "late"
	logTook     = "took"
	logMissed   = "missed"
	logPolicy   = "catch_up"
	logFailures = "failures"
	logRetry    = "retry_in_minutes"
	logLast     = "last_done"
	logNow      = "now"
	logZone     = "zone"
	logJobs     = "jobs"
)

const (
	maxBackoff   = 60        // ticks
	aheadAllowed = time.Hour // a correction of the clock not worth a warning
	aheadWarn    = 24 * 60   // ticks from one such warning to the next
)

// tick runs what is due now, job by job. Slots that come due meanwhile wait for
// the next tick, so that no job keeps the others from their turn.
func (s *Scheduler) tick(ctx context.Context) {
	now := s.now()
	for _, j := range s.jobs {
		if ctx.Err() != nil {
			return
		}
		s.turn(ctx, j, now)
	}
	s.save()
}

// turn runs one job's due slots until one fails.
func (s *Scheduler) turn(ctx context.Context, j *job, now time.Time) {
	if s.waits(j) {
		return
	}
	s.mu.Lock()
	last := s.state[j.Name].Last
	s.mu.Unlock()
	s.watchClock(j, last, now)

	p := j.plan(j.line, s.zone, last, now)
	if p.missed > 0 && j.failures == 0 {
		s.log.Warn("slots missed", logJob, j.Name, logMissed, p.missed, logPolicy, j.CatchUp.String())
	}
	for _, slot := range p.run {
		if ctx.Err() != nil || !s.run(ctx, j, slot, p.missed) {
			return
		}
		p.missed = 0 // they are counted with the first slot done after them
	}
}

// waits counts a tick off the wait after a failure. Ticks and not times are
// counted: a clock set back must not prolong the wait.
func (s *Scheduler) waits(j *job) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	if j.wait > 0 {
		j.wait--
	}
	return j.wait > 0
}

// watchClock warns of a state that is ahead of the clock, since nothing of this
// job runs until the clock is past it.
func (s *Scheduler) watchClock(j *job, last, now time.Time) {
	if last.Sub(now) <= aheadAllowed {
		j.ahead = 0
		return
	}
	if j.ahead%aheadWarn == 0 {
		s.log.Warn("the clock is behind the last slot done, nothing runs until it has passed it; set the clock, "+
			"or if it was wrong before, stop, take the job out of the state file and start again",
			logJob, j.Name, logLast, last.In(s.zone), logNow, now.In(s.zone))
	}
	j.ahead++
}

// run does one slot and notes how it ended; true if it is done.
func (s *Scheduler) run(ctx context.Context, j *job, slot time.Time, missed int) bool {
	began := s.now()
	s.mu.Lock()
	s.current, s.slot = j, slot
	s.mu.Unlock()
	log := s.log.With(logJob, j.Name, logSlot, slot)
	log.Info("slot started", logLate, began.Sub(slot).Round(time.Second))

	err := call(ctx, j, slot)
	took := s.now().Sub(began).Round(time.Millisecond)

	s.mu.Lock()
	defer s.mu.Unlock()
	s.current = nil
	if s.abandoned {
		return false
	}
	if err != nil && ctx.Err() != nil {
		log.Info("slot cut short by the stop; it stays due", logTook, took, logError, err)
		return false
	}
	if err != nil {
		j.failures++
		j.lastErr = err
		j.wait = backoff(j.failures)
		if p, ok := err.(*PanicError); ok {
			log = log.With(logStack, string(p.Stack))
		}
		log.Error("slot failed", logTook, took, logError, err, logFailures, j.failures, logRetry, j.wait)
		return false
	}
	j.failures, j.lastErr, j.wait = 0, nil, 0
	p := s.state[j.Name]
	s.state[j.Name] = Progress{Last: slot, Missed: p.Missed + missed}
	s.unsaved = true
	log.Info("slot done", logTook, took)
	s.saveLocked()
	return true
}

// backoff gives the ticks to wait after so many failures in a row: 1, 2, 4 …
func backoff(failures int) int {
	if failures > 6 {
		return maxBackoff
	}
	return 1 << (failures - 1)
}

// PanicError is a job's panic as the error of its slot.
type PanicError struct {
	Value any
	Stack []byte
}

// Error gives the panic's value.
func (e *PanicError) Error() string { return fmt.Sprintf("panic: %v", e.Value) }

// call runs the job's function and turns a panic into its error, so that it
// counts as a failure of this slot and the jobs after it get their turn.
func call(ctx context.Context, j *job, slot time.Time) (err error) {
	defer func() {
		if v := recover(); v != nil {
			err = &PanicError{Value: v, Stack: debug.Stack()}
		}
	}()
	return j.Run(ctx, slot)
}

// save stores what an earlier save could not.
func (s *Scheduler) save() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.saveLocked()
}

// saveLocked stores the state. A failure is no reason to stop or to run a slot
// again: this process knows what is done, and tries to store it at each tick.
func (s *Scheduler) saveLocked() {
	if !s.unsaved || s.abandoned {
		return
	}
	if err := s.store.Save(s.state); err != nil {
		s.log.Error("schedule state not stored; slots done since would be run again after a restart", logError, err)
		return
	}
	s.unsaved = false
}
