package schedules

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"
	"go.uber.org/goleak"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

func TestRunOnChangeNights(t *testing.T) {
	tests := []struct{ zone, start, want string }{
		{"Europe/Amsterdam", "2026-03-28T20:00:30+01:00", "nightly 2026-03-29T03:00:00+02:00"},
		{"Europe/Amsterdam", "2026-10-24T20:00:30+02:00", "nightly 2026-10-25T02:15:00+02:00"},
		{"America/New_York", "2026-03-07T20:00:30-05:00", "nightly 2026-03-08T03:00:00-04:00"},
		{"America/New_York", "2026-10-31T20:00:30-04:00", "nightly 2026-11-01T02:15:00-05:00"},
	}
	for _, tt := range tests {
		t.Run(tt.zone+" "+tt.start[:10], func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				s := newSite(t, tt.zone, tt.start)
				var began time.Time
				s.start(Job{Name: "nightly", Line: "15 2 * * *",
					Run: s.work("nightly", func(_ context.Context, slot time.Time) error {
						began = s.now()
						if late := began.Sub(slot); late < 0 || late > time.Minute {
							t.Errorf("slot %v ran at %v", slot, began)
						}
						return nil
					})})
				s.pass(20 * time.Hour)
				s.wantRuns(tt.want)
				if err := s.end(); err != nil {
					t.Error(err)
				}
			})
		})
	}
}

func TestCatchUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newSite(t, "Europe/Amsterdam", "2025-12-30T12:00:00+01:00")
		jobs := []Job{
			s.nightly(),
			{Name: "weekly", Line: "0 5 * * 1", CatchUp: Each, Run: s.work("weekly", nil)},
			{Name: "daily-three", Line: "0 7 * * *", CatchUp: Each, Limit: 3, Run: s.work("daily-three", nil)},
			{Name: "yearly", Line: "0 6 2 1 *", CatchUp: Each, Run: s.work("yearly", nil)},
		}
		s.start(jobs...)
		s.wantRuns() // a site seen for the first time has missed nothing
		s.pass(time.Hour)
		if err := s.end(); err != nil {
			t.Fatal(err)
		}

		// Off over the turn of the year; on again, all is done at once, in the
		// order listed.
		s.set("2026-01-13T12:00:10+01:00")
		s.start(jobs...)
		s.wantRuns("nightly 2026-01-13T02:15:00+01:00",
			"weekly 2026-01-05T05:00:00+01:00", "weekly 2026-01-12T05:00:00+01:00",
			"daily-three 2026-01-11T07:00:00+01:00", "daily-three 2026-01-12T07:00:00+01:00",
			"daily-three 2026-01-13T07:00:00+01:00",
			"yearly 2026-01-02T06:00:00+01:00")
		s.wantLog("slots missed", "job=nightly", "missed=13", "catch_up=latest")
		s.wantLog("slots missed", "job=daily-three", "missed=11", "catch_up=each")
		s.wantLog("slot started", "job=yearly", "late=270h0m10s")

		// Asleep with the process alive: at the next tick it is made up for.
		s.set("2026-01-16T03:00:00+01:00")
		s.pass(time.Minute)
		s.wantRuns("nightly 2026-01-16T02:15:00+01:00",
			"daily-three 2026-01-14T07:00:00+01:00", "daily-three 2026-01-15T07:00:00+01:00")

		got := s.sched.Status()
		if got[0].Missed != 15 || got[2].Missed != 11 {
			t.Errorf("missed %d and %d, want 15 and 11", got[0].Missed, got[2].Missed)
		}
		if n := got[0].Next.Format(time.RFC3339); n != "2026-01-17T02:15:00+01:00" {
			t.Errorf("next is %s", n)
		}
		if err := s.end(); err != nil {
			t.Error(err)
		}
		if m := s.store.state["nightly"].Missed; m != 15 {
			t.Errorf("%d missed are stored, want 15", m)
		}
	})
}

func TestClockSetBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newSite(t, "Europe/Amsterdam", "2026-05-01T02:00:00+02:00")
		s.start(s.nightly())
		s.pass(30 * time.Minute)
		s.wantRuns("nightly 2026-05-01T02:15:00+02:00")

		s.set("2026-05-01T02:10:00+02:00") // a small correction: nothing to say
		s.pass(20 * time.Minute)
		s.wantRuns()
		if strings.Contains(s.logged(), "clock is behind") {
			t.Errorf("warned of a small correction:\n%s", s.logged())
		}

		s.set("2000-01-01T00:00:00+01:00") // the battery of the clock is flat
		s.pass(72 * time.Hour)
		s.wantRuns()
		s.wantLog("clock is behind", "job=nightly", "last_done=2026-05-01T02:15:00")
		if n := strings.Count(s.logged(), "clock is behind"); n != 3 {
			t.Errorf("%d warnings in three days, want one a day", n)
		}
		// A start with such a clock does not forget either.
		if err := s.end(); err != nil {
			t.Fatal(err)
		}
		s.start(s.nightly())
		s.set("2026-05-02T02:30:00+02:00")
		s.pass(time.Minute)
		s.wantRuns("nightly 2026-05-02T02:15:00+02:00")
		if err := s.end(); err != nil {
			t.Error(err)
		}
	})
}

// TestTicksKeepTheMonotonicClock guards the reason for minutely: a time that
// lost its monotonic reading would make the clockwork wait by the wall clock.
func TestTicksKeepTheMonotonicClock(t *testing.T) {
	var m minutely
	now := time.Now()
	if first := m.Next(now); !first.Equal(now) {
		t.Errorf("first tick at %v, want at once", first)
	}
	next := m.Next(now)
	if !strings.Contains(next.String(), " m=") {
		t.Errorf("%v has no monotonic reading", next)
	}
	if next.Second() != 0 || next.Nanosecond() != 0 || next.Sub(now) <= 0 || next.Sub(now) > time.Minute {
		t.Errorf("tick after %v is %v, want the next full minute", now, next)
	}
}

func TestFailuresAreTriedAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newSite(t, "UTC", "2026-05-01T02:00:00Z")
		var tries []time.Duration
		fails := 9
		s.start(
			Job{Name: "nightly", Line: "15 2 * * *", Run: s.work("nightly", func(_ context.Context, slot time.Time) error {
				tries = append(tries, s.now().Sub(slot).Truncate(time.Minute))
				switch {
				case len(tries) > fails:
					return nil
				case len(tries)%2 == 0:
					panic("boom")
				}
				return fmt.Errorf("disk full at try %d", len(tries))
			})},
			Job{Name: "other", Line: "20 2 * * *", Run: s.work("other", nil)},
		)
		s.pass(20 * time.Minute)
		s.wantRuns("other 2026-05-01T02:20:00Z") // not kept from its turn
		s.wantLog("slot failed", "job=nightly", "slot=2026-05-01T02:15:00", "disk full at try 1", "failures=1",
			"retry_in_minutes=1")
		s.wantLog("slot failed", "job=nightly", "slot=2026-05-01T02:15:00", "panic: boom", "stack=", "scheduler_test.go")
		st := s.sched.Status()[0]
		if st.Failures != 3 || st.Error == nil || !st.Last.Before(st.Next) || st.Next.After(s.now()) {
			t.Errorf("status %+v, want 3 failures, an error and a next slot that is late", st)
		}

		s.pass(6 * time.Hour)
		var want []time.Duration
		for _, m := range []int{0, 1, 3, 7, 15, 31, 63, 123, 183, 243} { // 1, 2, 4 … then 60 apart
			want = append(want, time.Duration(m)*time.Minute)
		}
		if diff := cmp.Diff(want, tries); diff != "" {
			t.Errorf("tries (-want +got):\n%s", diff)
		}
		s.wantRuns("nightly 2026-05-01T02:15:00Z")
		if st := s.sched.Status()[0]; st.Failures != 0 || st.Error != nil || st.Missed != 0 {
			t.Errorf("status after success %+v", st)
		}
		if err := s.end(); err != nil {
			t.Error(err)
		}
	})
}

// TestLongRun lets a run last over its own next slots and another job's.
func TestLongRun(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newSite(t, "UTC", "2026-05-01T01:59:00Z")
		s.start(
			Job{Name: "long", Line: "0-20/10 2 * * *", CatchUp: Each,
				Run: s.work("long", func(context.Context, time.Time) error {
					time.Sleep(25 * time.Minute)
					return nil
				})},
			Job{Name: "short", Line: "5 2 * * *", Run: s.work("short", nil)},
		)
		s.pass(5 * time.Minute)
		if r := s.sched.Status()[0].Running; r.Format(time.RFC3339) != "2026-05-01T02:00:00Z" {
			t.Errorf("running is %v", r)
		}
		s.pass(90 * time.Minute)
		// Once the first is done the next tick finds two of long and one of
		// short, and takes the jobs in the order listed.
		s.wantRuns("long 2026-05-01T02:00:00Z", "long 2026-05-01T02:10:00Z",
			"long 2026-05-01T02:20:00Z", "short 2026-05-01T02:05:00Z")
		if err := s.end(); err != nil {
			t.Error(err)
		}
	})
}

func TestStopWaitsForTheRun(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newSite(t, "UTC", "2026-05-01T02:14:30Z")
		s.grace = 10 * time.Second
		obey := func(ctx context.Context, _ time.Time) error {
			<-ctx.Done()
			time.Sleep(9 * time.Second) // closes its files
			return fmt.Errorf("ingest: %w", ctx.Err())
		}
		s.start(Job{Name: "nightly", Line: "15 2 * * *", Run: s.work("nightly", obey)},
			Job{Name: "after", Line: "15 2 * * *", Run: s.work("after", nil)})
		s.pass(time.Minute)
		if err := s.end(); err != nil {
			t.Error(err)
		}
		s.wantRuns() // cut short, and nothing started after
		s.wantLog("slot cut short", "job=nightly", "slot=2026-05-01T02:15:00")
		if st := s.sched.Status()[0]; st.Failures != 0 {
			t.Errorf("a stop counts as %d failures", st.Failures)
		}

		s.start(s.nightly(), Job{Name: "after", Line: "15 2 * * *", Run: s.work("after", nil)})
		s.wantRuns("nightly 2026-05-01T02:15:00Z", "after 2026-05-01T02:15:00Z")
		if err := s.end(); err != nil {
			t.Error(err)
		}
	})
}

func TestStopGivesUpAfterTheGraceTime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newSite(t, "UTC", "2026-05-01T02:14:30Z")
		deaf := make(chan struct{})
		s.start(Job{Name: "nightly", Line: "15 2 * * *", Run: s.work("nightly", func(context.Context, time.Time) error {
			<-deaf
			return nil
		})})
		s.pass(time.Minute)
		saves := s.store.saves
		told := time.Now()
		err := s.end()
		var still *StillRunningError
		if !errors.As(err, &still) || still.Job != "nightly" || still.Slot.Format(time.RFC3339) != "2026-05-01T02:15:00Z" {
			t.Errorf("error %v, want a StillRunningError", err)
		}
		if waited := time.Since(told); waited != DefaultGrace {
			t.Errorf("waited %v, want %v", waited, DefaultGrace)
		}
		if err := s.sched.Run(t.Context()); err == nil {
			t.Error("ran again beside the job that would not stop")
		}
		close(deaf) // it comes back after all: too late to be stored
		synctest.Wait()
		if s.store.saves != saves {
			t.Error("state was stored after Run returned")
		}
	})
}

func TestStateTroubles(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newSite(t, "Europe/Amsterdam", "2026-05-10T12:00:00+02:00")
		yearly := Job{Name: "yearly", Line: "0 6 2 1 *", CatchUp: Each, Run: s.work("yearly", nil)}

		// Not readable at all: no start.
		s.store.breakWith(errors.New("input/output error"))
		s.start(s.nightly(), yearly)
		if err := s.end(); err == nil || !strings.Contains(err.Error(), "input/output") {
			t.Errorf("error %v", err)
		}

		// Torn, and no way to store anything: no start either.
		s.store.breakWith(fmt.Errorf("%w: schedules.json: cut off", ErrTorn))
		s.start(s.nightly(), yearly)
		if err := s.end(); err == nil || !strings.Contains(err.Error(), "keep track of slots") {
			t.Errorf("error %v", err)
		}

		// Torn, as a disk fault leaves it: the latest slot of each, then on.
		s.store.breakWith(nil)
		sched, err := New(Options{Zone: s.zone, Now: s.now, State: torn{s.store}, Jobs: []Job{s.nightly(), yearly},
			Log: slog.New(slog.NewTextHandler(s, nil))})
		if err != nil {
			t.Fatal(err)
		}
		ctx, stop := context.WithCancel(t.Context())
		ended := make(chan error, 1)
		go func() { ended <- sched.Run(ctx) }()
		synctest.Wait()
		s.wantRuns("nightly 2026-05-10T02:15:00+02:00", "yearly 2026-01-02T06:00:00+01:00")
		s.wantLog("schedule state lost", "cut off")

		// Not writable for a while: no slot twice, and stored when it can be.
		s.store.breakWith(errors.New("no space left on device"))
		s.pass(15 * time.Hour)
		s.wantRuns("nightly 2026-05-11T02:15:00+02:00")
		s.wantLog("state not stored", "no space left")
		s.store.breakWith(nil)
		s.pass(time.Minute)
		if last := s.store.state["nightly"].Last; !last.Equal(at(t, "2026-05-11T02:15:00+02:00")) {
			t.Errorf("stored last is %v", last)
		}
		stop()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
}

// torn is a store whose file a fault has torn.
type torn struct{ *memory }

func (torn) Load() (State, error) {
	return State{}, fmt.Errorf("%w: schedules.json: cut off", ErrTorn)
}

// TestRunWithAFile is two processes, one after the other, and their state file.
func TestRunWithAFile(t *testing.T) {
	file := FileState{Path: filepath.Join(t.TempDir(), "schedules.json")}
	synctest.Test(t, func(t *testing.T) {
		s := newSite(t, "Europe/Amsterdam", "2026-05-01T00:00:00+02:00")
		for _, want := range []string{"nightly 2026-05-01T02:15:00+02:00", "nightly 2026-05-03T02:15:00+02:00"} {
			sched, err := New(Options{Zone: s.zone, Now: s.now, State: file, Jobs: []Job{s.nightly()}})
			if err != nil {
				t.Fatal(err)
			}
			ctx, stop := context.WithTimeout(t.Context(), 3*time.Hour)
			if err := sched.Run(ctx); err != nil {
				t.Error(err)
			}
			stop()
			s.wantRuns(want)
			s.set("2026-05-03T12:00:00+02:00")
		}
	})
	got, err := file.Load()
	want := State{"nightly": {Last: at(t, "2026-05-03T00:15:00Z"), Missed: 1}}
	if diff := cmp.Diff(want, got); err != nil || diff != "" {
		t.Errorf("%v, state (-want +got):\n%s", err, diff)
	}
}

func TestUnlistedJobsKeepTheirState(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newSite(t, "UTC", "2026-05-01T02:14:00Z")
		s.store.state = maps.Clone(someState)
		s.start(s.nightly())
		if err := s.end(); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(someState["yearly"], s.store.state["yearly"]); diff != "" {
			t.Error(diff)
		}
	})
}

func TestNewReportsAllThatIsWrong(t *testing.T) {
	run := func(context.Context, time.Time) error { return nil }
	_, err := New(Options{Grace: -1, Jobs: []Job{
		{Name: "Nightly", Line: "15 2 * *"},
		{Name: "twice", Line: "0 0 * * *", Run: run, CatchUp: 7},
		{Name: "twice", Line: "@every 1h", Run: run, Limit: -1},
	}})
	if err == nil {
		t.Fatal("taken")
	}
	for _, want := range []string{"time zone", "place for their state", "grace time", `job "Nightly": the name`,
		"exactly 5 fields",
		"has no function", "CatchUp(7)", "listed twice", "an interval", "limit -1"} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("error does not mention %q:\n%v", want, err)
		}
	}
	if !errors.Is(err, ErrLine) {
		t.Error("error is no ErrLine")
	}
	if _, err := New(Options{Zone: time.UTC, State: &memory{}}); err == nil {
		t.Error("a schedule of nothing is taken")
	}
}
