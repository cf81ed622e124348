package collect

import (
	"math/rand/v2"
	"time"

	"wane/ingest/source"
)

// slots is when a source is asked.
type slots interface {
	// Next gives the first slot after t.
	Next(t time.Time) time.Time
}

// slotsOf gives the slots of a source that is asked; cron lines count in zone.
func slotsOf(c *source.Collect, zone *time.Location) (slots, error) {
	if c.Cron == "" {
		return every(c.Every), nil
	}
	s, err := source.ParseCron(c.Cron)
	if err != nil {
		return nil, err
	}
	return inZone{s, zone}, nil
}

// every is an interval, counted from midnight UTC.
type every time.Duration

func (e every) Next(t time.Time) time.Time {
	d := time.Duration(e)
	return t.UTC().Truncate(d).Add(d)
}

type inZone struct {
	slots
	zone *time.Location
}

func (z inZone) Next(t time.Time) time.Time { return z.slots.Next(t.In(z.zone)) }

// mostMissed bounds how many slots are counted one by one.
const mostMissed = 100_000

// between counts the slots in (from, to] and gives the last of them.
func between(s slots, from, to time.Time) (n int64, last time.Time) {
	if e, ok := s.(every); ok {
		d := time.Duration(e)
		last = to.UTC().Truncate(d)
		if !last.After(from) {
			return 0, time.Time{}
		}
		return max(1, int64(last.Sub(from.UTC().Truncate(d))/d)), last
	}
	for at := s.Next(from); !at.After(to) && n < mostMissed; at = s.Next(at) {
		n, last = n+1, at
	}
	return n, last
}

// The pauses after failures: doubled from the first to the last.
const (
	retryFirst, retryLast     = 2 * time.Second, time.Minute
	backoffFirst, backoffLast = 5 * time.Second, 15 * time.Minute
)

// pause is how long to wait after so many failures in a row: between half and
// all of a length that doubles, so that many do not come back at once.
func pause(failures int, first, last time.Duration) time.Duration {
	d := last
	if n := failures - 1; n < 30 && first<<n < last {
		d = first << n
	}
	return d/2 + rand.N(d/2+1)
}

// Pause is how long a kind that connects again by itself waits before it does so
// for the n-th time (1 is the first).
func Pause(n int) time.Duration { return pause(n, retryFirst, backoffLast) }
