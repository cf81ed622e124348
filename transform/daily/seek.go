package daily

import "sort"

// seeker finds a series' values at moments that mostly come in order, as those
// of a day do: it starts where it stood last.
type seeker struct {
	track Track
	next  int // the first reading after the moment asked about last
}

// nearSteps is how many readings are passed one by one before the rest is
// searched: the next moment is mostly one reading on.
const nearSteps = 16

// latest gives the last value at or before t that is not older than within.
func (s *seeker) latest(at, within int64) (float64, bool) {
	t := s.track.Time
	i := s.next
	if i > 0 && t[i-1] > at { // back again
		i = sort.Search(i, func(k int) bool { return t[k] > at })
	}
	for end := min(len(t), i+nearSteps); i < end && t[i] <= at; i++ {
	}
	if i < len(t) && t[i] <= at {
		i += sort.Search(len(t)-i, func(k int) bool { return t[i+k] > at })
	}
	s.next = i
	if i == 0 || at-t[i-1] > within {
		return 0, false
	}
	return s.track.Value[i-1], true
}
