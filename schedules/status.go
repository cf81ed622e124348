package schedules

import "time"

// Status is how a job stands, for a page or a health check.
type Status struct {
	Name     string
	Line     string
	Last     time.Time // last slot done, or from when slots count; zero before Run
	Next     time.Time // first slot after Last: in the past where it is late
	Running  time.Time // the slot that runs now, or zero
	Missed   int       // slots given up since the job was first seen
	Failures int       // in a row
	Error    error     // of the last failure, nil after a success
}

// Status gives how each job stands, in the order listed. It may be called from
// any goroutine at any time.
func (s *Scheduler) Status() []Status {
	s.mu.Lock()
	defer s.mu.Unlock()
	all := make([]Status, len(s.jobs))
	for i, j := range s.jobs {
		st := Status{Name: j.Name, Line: j.Line, Failures: j.failures, Error: j.lastErr}
		if p, ok := s.state[j.Name]; ok {
			st.Last, st.Missed = p.Last.In(s.zone), p.Missed
			st.Next = j.line.Next(s.zone, p.Last)
		}
		if s.current == j {
			st.Running = s.slot
		}
		all[i] = st
	}
	return all
}
