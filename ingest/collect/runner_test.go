package collect

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"wane/ingest/source"
)

// scripted is a source that fails as it is told to.
type scripted struct {
	mu    sync.Mutex
	polls []time.Time
	fail  func(n int, at time.Time) error
}

func (s *scripted) Poll(ctx context.Context, box Box) error {
	s.mu.Lock()
	at := time.Now()
	s.polls = append(s.polls, at)
	n := len(s.polls)
	s.mu.Unlock()
	if s.fail != nil {
		if err := s.fail(n, at); err != nil {
			return err
		}
	}
	_, err := box.Put(ctx, "x.csv", strings.NewReader(fmt.Sprintf("time,sensor,channel,value\n%s,a,b,1\n",
		at.UTC().Format(time.RFC3339))))
	return err
}

func (s *scripted) count() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return len(s.polls)
}

func (s *scripted) times(since time.Time) []time.Duration {
	s.mu.Lock()
	defer s.mu.Unlock()
	var out []time.Duration
	for _, p := range s.polls {
		out = append(out, p.Sub(since))
	}
	return out
}

func describe(t *testing.T, when string) *source.Description {
	t.Helper()
	d, err := source.Load([]byte("name: x\nformat: plain\ncollect:\n"+when+"  http: {url: http://127.0.0.1:1/}\n"), "x")
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// runFor runs a source for so long and gives its status.
func runFor(t *testing.T, dir string, d *source.Description, kind any, for_ time.Duration) Status {
	t.Helper()
	r, err := Open(Options{Dir: dir, Zone: time.UTC, Now: time.Now, Make: func(Setting) (any, error) { return kind, nil }},
		d)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), for_)
	defer cancel()
	r.Run(ctx)
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	return r.Status()
}

func TestPollsOnItsSlots(t *testing.T) {
	synctest.Test(t, func(t *testing.T) { // the clock begins at midnight UTC, 2000-01-01
		s := &scripted{}
		began := time.Now()
		got := runFor(t, t.TempDir(), describe(t, "  every: 15m\n"), s, time.Hour+time.Minute)
		want := []time.Duration{0, 15 * time.Minute, 30 * time.Minute, 45 * time.Minute, time.Hour}
		if fmt.Sprint(s.times(began)) != fmt.Sprint(want) {
			t.Errorf("%v", s.times(began))
		}
		if got.Readings != 5 || got.Missed != 0 || len(got.Gaps) != 0 || got.Error != "" {
			t.Errorf("%+v", got)
		}
	})
}

func TestCronCountsInTheSitesZone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		zone := time.FixedZone("", 2*3600)
		s, err := slotsOf(&source.Collect{Cron: "30 6 * * *"}, zone)
		if err != nil {
			t.Fatal(err)
		}
		if got := s.Next(time.Now()); got.UTC().Format("15:04") != "04:30" {
			t.Error(got)
		}
		if n, last := between(s, time.Now(), time.Now().AddDate(0, 0, 3)); n != 3 ||
			last.UTC().Format("02 15:04") != "03 04:30" {
			t.Error(n, last)
		}
	})
}

// A source that is down for three hours: tried again at growing intervals, not
// hammered; what was missed is one gap with its polls, and ends when it is back.
func TestDownAndBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		began := time.Now()
		s := &scripted{fail: func(_ int, at time.Time) error {
			if d := at.Sub(began); d >= time.Hour && d < 4*time.Hour {
				return errors.New("nobody answers")
			}
			return nil
		}}
		got := runFor(t, t.TempDir(), describe(t, "  every: 1m\n  retries: 2\n"), s, 5*time.Hour+time.Second)
		if len(got.Gaps) != 1 {
			t.Fatalf("%+v", got.Gaps)
		}
		g := got.Gaps[0]
		if from, to := g.From.Sub(began), g.To.Sub(began); from != 59*time.Minute || to < 4*time.Hour ||
			to > 4*time.Hour+16*time.Minute || g.Why != "nobody answers" {
			t.Errorf("gap from %v to %v: %+v", from, to, g)
		}
		during := 0
		for _, d := range s.times(began) {
			if d >= time.Hour && d < 4*time.Hour {
				during++
			}
		}
		if during > 40 || during < 12 {
			t.Errorf("asked %d times in three hours of silence", during)
		}
		// every minute is a slot: those collected, and those missed, are all there are
		well := int64(0)
		for _, d := range s.times(began) {
			if d < time.Hour || d >= 4*time.Hour {
				well++
			}
		}
		if got.Missed != g.Polls || well+got.Missed != 301 {
			t.Errorf("%d collected and %d missed of 301", well, got.Missed)
		}
	})
}

// What a new process finds: the slots that passed meanwhile are missed but for the
// last, which is made up for at once.
func TestNotRunning(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		dir, s := t.TempDir(), &scripted{}
		d := describe(t, "  every: 10m\n")
		runFor(t, dir, d, s, time.Minute)
		time.Sleep(64 * time.Minute)
		began := time.Now()
		got := runFor(t, dir, d, s, time.Minute)
		if n := s.count(); n != 2 || s.times(began)[1] != 0 {
			t.Errorf("%v", s.times(began))
		}
		if got.Missed != 5 || len(got.Gaps) != 1 || got.Gaps[0].Polls != 5 || got.Gaps[0].To.IsZero() ||
			got.Gaps[0].Why != "wane was not running" {
			t.Errorf("%+v", got)
		}
	})
}

// Refused is not tried again at once, a fault of the program ends nothing, and a
// poll without end is ended.
func TestKindsOfFailure(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		for _, c := range []struct {
			fail  error
			tries int
			said  string
		}{
			{Refused(errors.New("wrong password")), 1, "wrong password"},
			{errors.New("broken off"), 3, "broken off"},
		} {
			s := &scripted{fail: func(int, time.Time) error { return c.fail }}
			got := runFor(t, t.TempDir(), describe(t, "  every: 1d\n"), s, time.Hour)
			if s.count() != c.tries || got.Error != c.said || got.Failures != 1 || got.Missed != 1 {
				t.Errorf("%d tries, %+v", s.count(), got)
			}
		}
		s := &scripted{fail: func(int, time.Time) error { panic("out of range") }}
		if got := runFor(t, t.TempDir(), describe(t, "  every: 1d\n  retries: 0\n"), s,
			time.Hour); !strings.Contains(got.Error, "a fault in the program: out of range") {
			t.Errorf("%+v", got)
		}
		got := runFor(t, t.TempDir(), describe(t, "  every: 1d\n  retries: 0\n  timeout: 30s\n"), endless{}, time.Hour)
		if !strings.Contains(got.Error, "no end after 30s (collect.timeout)") {
			t.Errorf("%+v", got)
		}
	})
}

type endless struct{}

func (endless) Poll(ctx context.Context, _ Box) error {
	<-ctx.Done()
	return ctx.Err()
}

// What another process holds is left to it, and one source's trouble is no
// other's: the supervisor keeps the rest going, and follows the descriptions.
func TestSupervisor(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		dir := t.TempDir()
		kinds := map[string]*scripted{"a": {}, "b": {fail: func(int, time.Time) error { panic("always") }}, "c": {}}
		load := func(name, every string) Described {
			text := []byte("name: " + name + "\nformat: plain\ncollect: {every: " + every +
				", retries: 0, http: {url: http://127.0.0.1:1/}}\n")
			d, err := source.Load(text, name)
			if err != nil {
				t.Fatal(err)
			}
			return Described{d, text}
		}
		var mu sync.Mutex
		now, bad := []Described{load("a", "1m"), load("b", "1m")}, error(nil)
		sup := NewSupervisor(Options{Dir: dir, Zone: time.UTC, Now: time.Now,
			Make: func(s Setting) (any, error) { return kinds[s.Description.Name], nil }},
			func() ([]Described, error) {
				mu.Lock()
				defer mu.Unlock()
				return now, bad
			})
		ctx, cancel := context.WithCancel(t.Context())
		var all sync.WaitGroup
		all.Go(func() { sup.Run(ctx) })
		set := func(d []Described, err error) {
			mu.Lock()
			defer mu.Unlock()
			now, bad = d, err
		}
		time.Sleep(10*time.Minute + time.Second)
		if n := kinds["a"].count(); n != 11 {
			t.Errorf("a was asked %d times beside b", n)
		}
		set(nil, errors.New("half a file"))
		time.Sleep(10 * time.Minute)
		if n := kinds["a"].count(); n != 21 {
			t.Errorf("while the descriptions could not be read: %d times", n)
		}
		set([]Described{load("a", "5m"), load("c", "1m")}, nil)
		time.Sleep(10 * time.Minute)
		if err := sup.Seal(); err != nil {
			t.Error(err)
		}
		cancel()
		all.Wait()
		if a, c := kinds["a"].count(), kinds["c"].count(); a < 23 || a > 24 || c < 9 ||
			c > 11 { // who was first at the full minute is left open
			t.Errorf("a %d, c %d times", a, c)
		}
		statuses, err := ReadStatus(dir)
		if err != nil || len(statuses) != 3 || statuses[1].Readings != 0 || statuses[1].Error == "" ||
			statuses[0].Readings < int64(kinds["a"].count())-1 { // one may have been under way at the change
			t.Errorf("%v %+v", err, statuses)
		}
	})
}

// silent is a source that sends nothing.
type silent struct{}

func (silent) Listen(ctx context.Context, _ Box, up func(error)) error {
	up(nil)
	<-ctx.Done()
	return nil
}

// A source that sends is not heard while wane does not run: a gap, unless it was
// short.
func TestNotHeard(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d, err := source.Load([]byte("name: x\nformat: plain\ncollect: {push: {token: env:X}}\n"), "x")
		if err != nil {
			t.Fatal(err)
		}
		dir := t.TempDir()
		began := time.Now()
		for _, away := range []time.Duration{0, time.Minute, time.Hour} {
			time.Sleep(away)
			runFor(t, dir, d, silent{}, 10*time.Minute)
		}
		got, err := ReadStatus(dir)
		if err != nil || len(got) != 1 || len(got[0].Gaps) != 1 {
			t.Fatalf("%v %+v", err, got)
		}
		if g := got[0].Gaps[0]; g.From.Sub(began) != 21*time.Minute || g.To.Sub(began) != 81*time.Minute ||
			g.Why != "wane was not running" {
			t.Errorf("%+v", g)
		}
	})
}
