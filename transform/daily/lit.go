package daily

import "wane/transform/robust"

// moment is what the scan says of one reading.
type moment struct {
	lit   bool
	since int64 // microseconds that the lamp is known to be on
	last  bool  // the next reading of the day is unlit
	stuck bool
}

// litScan walks a series forward, day by day, and keeps what a day hands on to
// the next: whether the lamp burns, since when, and how long the value stands
// still. It never looks past the day that it is asked about.
type litScan struct {
	track  Track
	floor  float64
	gate   Gate
	sparse bool // one value a day or fewer: daily means, no edges to be found
	gap    int64

	next    int // first reading not scanned yet
	lit     bool
	onSince int64 // of the current lit stretch

	litH, edgeH, seenH float64 // of the day scanned last
	starts             int
	moments            []moment
	scratch            []float64
}

func newLitScan(t Track, floor float64, g Gate) *litScan {
	return &litScan{track: t, floor: floor, gate: g}
}

// lookBack is how many readings tell a series' cadence.
const lookBack = 100

// surePace is how many of them it takes before a slow logger's silences are
// bridged: a few readings with a gap between them are not yet a slow logger.
const surePace = 12

// paced sets what depends on the series' cadence from the readings before hi:
// those after cannot change what is said of a day. Fewer than three tell
// nothing.
func (s *litScan) paced(hi int) {
	s.sparse, s.gap = false, int64(s.gate.GapMinutes*60e6)
	lo := max(0, hi-lookBack)
	if hi-lo < 3 {
		return
	}
	s.scratch = s.scratch[:0]
	for i := lo + 1; i < hi; i++ {
		s.scratch = append(s.scratch, float64(s.track.Time[i]-s.track.Time[i-1]))
	}
	cadence := int64(robust.Nth(s.scratch, len(s.scratch)/2))
	s.sparse = cadence >= 6*microPerHour
	if c := cadence + cadence/2; c > s.gap && !s.sparse && hi-lo > surePace {
		s.gap = c
	}
}

// scan goes over the readings [lo, hi) of one day; readings before lo that it
// has not seen yet are walked first, for what they hand on.
func (s *litScan) scan(lo, hi int) []moment {
	if s.next < lo {
		s.walk(s.next, lo)
	}
	return s.walk(lo, hi)
}

func (s *litScan) walk(lo, hi int) []moment {
	s.litH, s.edgeH, s.seenH, s.starts = 0, 0, 0, 0
	s.moments = s.moments[:0]
	s.paced(hi)
	threshold := s.threshold(lo, hi)
	for i := lo; i < hi; i++ {
		lit := s.track.Value[i] >= threshold
		at := s.track.Time[i]
		bridged := i > 0 && at-s.track.Time[i-1] <= s.gap
		if bridged {
			h := float64(at-s.track.Time[i-1]) / microPerHour
			s.seenH += h
			switch {
			case lit && s.lit:
				s.litH += h
			case lit != s.lit:
				s.edgeH += h
			}
		}
		if lit && (!s.lit || !bridged) {
			s.onSince = at
			if bridged { // after a silence nobody saw it come on
				s.starts++
			}
		}
		if !lit && s.lit && len(s.moments) > 0 && bridged {
			s.moments[len(s.moments)-1].last = true
		}
		s.moments = append(s.moments, moment{lit: lit, since: at - s.onSince})
		s.lit = lit
	}
	s.markStuck(lo, hi)
	s.next = max(s.next, hi)
	return s.moments
}

// threshold is the reading from which the lamp counts as on that day.
func (s *litScan) threshold(lo, hi int) float64 {
	s.scratch = s.scratch[:0]
	for _, v := range s.track.Value[lo:hi] {
		if v >= s.floor {
			s.scratch = append(s.scratch, v)
		}
	}
	if len(s.scratch) == 0 {
		return s.floor
	}
	typical := robust.Nth(s.scratch, len(s.scratch)*3/4) // the upper quartile: spikes above and run-ups below do not move it
	return max(s.floor, s.gate.OnShare*typical)
}

// least equal readings, besides the hours, that make a sensor stuck: a slow
// logger prints the same digits twice by chance.
const leastStuck = 6

func (s *litScan) markStuck(lo, hi int) {
	limit := int64(s.gate.StuckHours * microPerHour)
	run := lo
	for run > 0 && lo < hi && s.track.Value[run-1] == s.track.Value[lo] {
		run--
	}
	for i := lo; i < hi; {
		if i > lo {
			run = i
		}
		end := i
		for end < hi && s.track.Value[end] == s.track.Value[i] {
			end++
		}
		if end-run >= leastStuck && s.track.Time[end-1]-s.track.Time[run] >= limit {
			for k := i; k < end; k++ {
				s.moments[k-lo].stuck = true
			}
		}
		i = end
	}
}
