package archive

// TimeReversals says which way the times of a file's series go, from reading to reading
// of a series.
type TimeReversals struct {
	Up, Down TimeSteps
}

// TimeSteps counts the steps in one direction and remembers the first.
type TimeSteps struct {
	Steps    int
	Line     int32
	From, To int64 // microseconds since 1970-01-01T00:00:00Z
}

func (t *TimeSteps) add(line int32, from, to int64) {
	if t.Steps++; t.Steps == 1 {
		t.Line, t.From, t.To = line, from, to
	}
}

// TimeReversals is what the times of the file did; it is complete after Done.
func (s *Sink) TimeReversals() TimeReversals { return s.reversals }

// countSteps counts the readings that came in step: the first step of a direction
// was looked at by watch, so that only their number is missing.
func (s *Sink) countSteps(c *column) {
	n := c.len() - c.counted
	if n == 0 {
		return
	}
	switch {
	case c.step > 0:
		s.reversals.Up.Steps += n
	case c.step < 0:
		s.reversals.Down.Steps += n
	}
	c.counted, c.before = c.len(), c.next-c.step
}

// watch looks at the time of a reading that is not in step.
func (s *Sink) watch(c *column, at int64, line int32) {
	s.countSteps(c)
	switch {
	case !c.seen || at == c.before:
	case at > c.before:
		s.reversals.Up.add(line, c.before, at)
	default:
		s.reversals.Down.add(line, c.before, at)
	}
	c.before, c.seen = at, true
}

// forgetOrder begins another file of a zip, whose lines start again.
func (s *Sink) forgetOrder() {
	for _, c := range s.by {
		s.countSteps(c)
		c.seen, c.room = false, 0
	}
}
