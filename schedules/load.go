package schedules

import (
	"errors"
	"fmt"
	"time"
)

// load takes the stored state up and gives each job that has none a place to
// count from.
func (s *Scheduler) load() error {
	now := s.now()
	state, err := s.store.Load()
	torn := errors.Is(err, ErrTorn)
	switch {
	case torn:
		s.log.Error("schedule state lost; the latest slot of each job is run, perhaps once more", logError, err)
		state = State{}
	case err != nil:
		return err
	case state == nil:
		state = State{}
	}

	s.mu.Lock()
	defer s.mu.Unlock()
	s.state = state
	for _, j := range s.jobs {
		j.failures, j.lastErr, j.wait, j.ahead = 0, nil, 0, 0
		if _, known := state[j.Name]; known {
			continue
		}
		// A job never seen before starts with its next slot. Where the state was
		// torn it may have been seen, and a slot run again does no harm while
		// one left out does.
		from := now
		if slot, ok := j.line.latest(s.zone, now); torn && ok {
			from = slot.Add(-time.Second)
		}
		s.state[j.Name] = Progress{Last: from}
		s.unsaved = true
	}
	// Saved before anything runs: a folder that cannot be written to shows now,
	// and slots missed before the first success are counted from here.
	if !s.unsaved {
		return nil
	}
	if err := s.store.Save(s.state); err != nil {
		return fmt.Errorf("keep track of slots: %w", err)
	}
	s.unsaved = false
	return nil
}
