package schedules

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// TestSlotsThroughTroubles drives ticks by hand through random lines, outages,
// failing and panicking runs, restarts, a store that cannot be written and a
// clock set forward and back, and holds the books: no slot is done twice or
// before its time, those of Each are all done and in order, and those of Latest
// are all done or counted as missed.
func TestSlotsThroughTroubles(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		z, err := time.LoadLocation(rapid.SampledFrom(zones).Draw(t, "zone"))
		if err != nil {
			t.Fatal(err)
		}
		var (
			clock   = genMoment(z).Draw(t, "start")
			store   = &memory{}
			trouble = rapid.Bool()
			done    = map[string][]time.Time{}
			early   []string // runs before their slot
			well    bool     // nothing fails any more
			jobs    []Job
		)
		for i := range rapid.IntRange(1, 3).Draw(t, "jobs") {
			name := fmt.Sprintf("job-%d", i)
			jobs = append(jobs, Job{
				Name:    name,
				Line:    genLine().Draw(t, "line"),
				CatchUp: rapid.SampledFrom([]CatchUp{Latest, Each}).Draw(t, "policy"),
				Limit:   1 << 20, // out of reach, so that Each loses nothing
				Run: func(_ context.Context, slot time.Time) error {
					if slot.After(clock) {
						// Not t.Fatal: it panics, and panics are caught here.
						early = append(early, fmt.Sprintf("%s: slot %v ran at %v", name, slot, clock))
					}
					if !well && trouble.Draw(t, "fails") {
						if trouble.Draw(t, "panics") {
							panic("trouble")
						}
						return errors.New("trouble")
					}
					done[name] = append(done[name], slot)
					clock = clock.Add(time.Duration(rapid.IntRange(0, 100).Draw(t, "took")) * time.Second)
					return nil
				},
			})
		}
		begin := func() *Scheduler {
			s, err := New(Options{Zone: z, Now: func() time.Time { return clock }, State: store, Jobs: jobs})
			if err != nil {
				t.Fatal(err)
			}
			if err := s.load(); err != nil {
				t.Fatal(err)
			}
			return s
		}
		start, seen := clock, clock
		tick := func(s *Scheduler) {
			if clock.After(seen) {
				seen = clock // slots up to here are to be accounted for
			}
			s.tick(context.Background())
		}

		s := begin()
		for range rapid.IntRange(0, 40).Draw(t, "steps") {
			switch rapid.SampledFrom([]string{"tick", "tick", "tick", "sleep", "back", "restart", "store"}).Draw(t, "step") {
			case "tick":
				clock = clock.Add(time.Minute)
			case "sleep":
				clock = clock.Add(time.Duration(rapid.IntRange(1, 3*24*60).Draw(t, "asleep")) * time.Minute)
			case "back":
				clock = clock.Add(-time.Duration(rapid.IntRange(1, 2*24*60).Draw(t, "back")) * time.Minute)
			case "restart":
				// What is done and not stored would be done again: the one
				// exception of the package's promises.
				store.fail = nil
				s.save()
				s = begin()
			case "store":
				if store.fail == nil {
					store.fail = errors.New("disk full")
				} else {
					store.fail = nil
				}
			}
			tick(s)
		}
		// All is well in the end, the clock is right again, and the waits after
		// failures are at most an hour.
		well, store.fail = true, nil
		if clock.Before(seen) {
			clock = seen
		}
		for range maxBackoff + 1 {
			tick(s)
		}

		if len(early) > 0 {
			t.Fatal(early)
		}
		for _, j := range jobs {
			due, err := Due(j.Line, z, start, seen)
			if err != nil {
				t.Fatal(err)
			}
			got := done[j.Name]
			for i := 1; i < len(got); i++ {
				if !got[i].After(got[i-1]) {
					t.Fatalf("%s: slot %v done after %v", j.Name, got[i], got[i-1])
				}
			}
			place := map[int64]bool{}
			for _, d := range due {
				place[d.Unix()] = true
			}
			for _, g := range got {
				if !place[g.Unix()] {
					t.Fatalf("%s: %v is no slot of %s after %v", j.Name, g, j.Line, start)
				}
			}
			missed := store.state[j.Name].Missed
			if j.CatchUp == Each && missed != 0 {
				t.Fatalf("%s: Each missed %d", j.Name, missed)
			}
			if len(got)+missed != len(due) {
				t.Fatalf("%s (%s, %v): %d done and %d missed of %d due", j.Name, j.Line, j.CatchUp, len(got), missed, len(due))
			}
			if n := len(due); n > 0 && !got[len(got)-1].Equal(due[n-1]) {
				t.Fatalf("%s: the last slot done is %v, due was %v", j.Name, got[len(got)-1], due[n-1])
			}
		}
	})
}
