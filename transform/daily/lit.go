package daily

import "wane/transform/robust"

// moment is what the scan says of one reading.
type moment struct {
	lit   bool
	since int64 // microseconds that the lamp is known to be on
	last  bool  // the next reading of the day is unlit
	stuck bool
}

// litScan goes over a series a day at a time. What a day takes over from the
// readings before it (whether the lamp burns, since when, how long the value
// stands still) is found by looking back, not farther than the day's Since, so
// that a day's answer does not depend on which days were asked about before.
type litScan struct {
	track  Track
	floor  float64
	gate   Gate
	runUp  int64 // microseconds; longer ago than this, it does not matter since when the lamp burns
	sparse bool  // one value a day or fewer: daily means, no edges to be found
	gap    int64

	litH, edgeH, seenH float64 // of the day scanned last
	starts             int
	moments            []moment
	known              dayThreshold
	scratch            []float64
}

// dayThreshold is the threshold of the readings [lo, hi), kept because the 24 h
// before a day mostly are the day before it.
type dayThreshold struct {
	lo, hi int
	value  float64
}

// start begins a series.
func (s *litScan) start(t Track, floor float64, g Gate, runUp int64) {
	*s = litScan{track: t, floor: floor, gate: g, runUp: runUp, moments: s.moments[:0], scratch: s.scratch}
}

// lookBack is how many readings tell a series' cadence.
const lookBack = 100

// surePace is how many of them it takes before a slow logger's silences are
// bridged: a few readings with a gap between them are not yet a slow logger.
const surePace = 12

// paced sets what depends on the series' cadence from the readings [start, hi):
// those after cannot change what is said of a day. Fewer than three tell
// nothing.
func (s *litScan) paced(start, hi int) {
	s.sparse, s.gap = false, int64(s.gate.GapMinutes*60e6)
	lo := max(start, hi-lookBack)
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

// scan goes over the readings [lo, hi), which are those of the day.
func (s *litScan) scan(b Bound, lo, hi int) []moment {
	s.litH, s.edgeH, s.seenH, s.starts = 0, 0, 0, 0
	s.moments = s.moments[:0]
	if lo == hi {
		return s.moments
	}
	start, _ := between(s.track.Time[:lo], b.Since, b.From)
	s.paced(start, hi)
	burning, onSince := s.before(b, start, lo)
	threshold := s.threshold(lo, hi)
	s.known = dayThreshold{lo, hi, threshold}
	for i := lo; i < hi; i++ {
		lit := s.track.Value[i] >= threshold
		at := s.track.Time[i]
		bridged := i > start && at-s.track.Time[i-1] <= s.gap
		if bridged {
			h := float64(at-s.track.Time[i-1]) / microPerHour
			s.seenH += h
			switch {
			case lit && burning:
				s.litH += h
			case lit != burning:
				s.edgeH += h
			}
		}
		if lit && (!burning || !bridged) {
			onSince = at
			if bridged { // after a silence nobody saw it come on
				s.starts++
			}
		}
		if !lit && burning && len(s.moments) > 0 && bridged {
			s.moments[len(s.moments)-1].last = true
		}
		s.moments = append(s.moments, moment{lit: lit, since: at - onSince})
		burning = lit
	}
	s.markStuck(start, lo, hi)
	return s.moments
}

// before says whether the lamp burned at the reading before the day, which
// begins with reading lo, and since when; where it has burned for the run-up
// already it looks no farther. The threshold is that of the 24 h before the
// day.
func (s *litScan) before(b Bound, start, lo int) (burning bool, since int64) {
	t, v := s.track.Time, s.track.Value
	if lo == start || t[lo]-t[lo-1] > s.gap {
		return false, 0 // nobody saw
	}
	from, _ := between(t[start:lo], b.From-24*microPerHour, b.From)
	from += start
	threshold := s.known.value
	if s.known.lo != from || s.known.hi != lo {
		threshold = s.threshold(from, lo)
	}
	i := lo - 1
	if v[i] < threshold {
		return false, 0
	}
	for i > start && b.From-t[i] < s.runUp && v[i-1] >= threshold && t[i]-t[i-1] <= s.gap {
		i--
	}
	return true, t[i]
}

// threshold is the reading from which the lamp counts as on while the readings
// [lo, hi) were made.
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

func (s *litScan) markStuck(start, lo, hi int) {
	limit := int64(s.gate.StuckHours * microPerHour)
	run := lo
	for run > start && s.track.Value[run-1] == s.track.Value[lo] {
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
