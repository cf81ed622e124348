// Package collecttest is what a kind of source must pass. A new kind fills in a
// Counterpart, what it fetches from in the test, and calls Run.
//
// Every test goes the whole way: the counterpart offers readings, the source is
// collected, what came is imported into an archive, and the archive holds each
// reading once.
package collecttest

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"

	"wane/ingest"
	"wane/ingest/archive"
	"wane/ingest/collect"
	"wane/ingest/site"
	"wane/ingest/source"
)

// Reading is one reading that a counterpart offers, of series bay-1/ppfd.
type Reading struct {
	At    time.Time
	Value int
}

// Fault is how a counterpart misbehaves until it is mended.
type Fault string

// The faults. A counterpart leaves out what its kind does not know.
const (
	Slow    Fault = "slow"            // it answers later than the time-out of its description
	Cut     Fault = "broken off"      // the connection ends in the middle of what it sends
	Denied  Fault = "wrong secret"    // it takes another secret than the one kept
	Garbage Fault = "garbage"         // it answers what is no reading
	Huge    Fault = "larger than may" // it sends more than the limit of its description
	Down    Fault = "down"            // nobody answers
)

// Counterpart is a server, or for kinds that listen a sender, in a test.
type Counterpart interface {
	// Description is the text of sources/x.yaml with name: x, for a counterpart that
	// runs. Files that it names are written below dir. Its time-out is a second or
	// so, and a secret in it is SecretEnv, whose value is Secret.
	Description(dir string) string
	// Offer makes readings available beside those offered before.
	Offer(t *testing.T, r ...Reading)
	// Again makes available once more what was offered last, as a sender that did
	// not hear the acknowledgement does.
	Again(t *testing.T)
	// Break makes it misbehave, Mend ends that.
	Break(t *testing.T, f Fault)
	Mend(t *testing.T)
	// Restart ends it and starts it at the same address, with all it has.
	Restart(t *testing.T)
}

// Factory starts counterparts of one kind. What Start starts ends with the test.
type Factory struct {
	Start  func(t *testing.T) Counterpart
	Faults []Fault
	Make   collect.Make
	// Now says that a reading counts from when it is collected, as of a register:
	// then an offer is one reading and every poll reads the last.
	Now bool
	// Piecewise says that readings come one by one, so that some of them may be
	// stored when the rest does not come.
	Piecewise bool
	// Queued says that what was offered before a trial began is not for it.
	Queued bool
	// Sends says that a fault shows at the sender, not in what is collected.
	Sends bool
}

// SecretEnv holds Secret.
const (
	SecretEnv = "WANE_TEST_SECRET"
	Secret    = "Corr3ct-h0rse/b+ttery=st4ple"
)

// Start is the day of the readings.
var Start = time.Date(2026, 3, 1, 6, 0, 0, 0, time.UTC)

// Rows makes n readings, a minute apart, from the k-th on.
func Rows(k, n int) []Reading {
	var out []Reading
	for i := k; i < k+n; i++ {
		out = append(out, Reading{Start.Add(time.Duration(i) * time.Minute), 600 + i})
	}
	return out
}

// Plain writes readings in the plain form.
func Plain(rows []Reading) string {
	var b strings.Builder
	b.WriteString("time,sensor,channel,value\n")
	for _, r := range rows {
		fmt.Fprintf(&b, "%s,bay-1,ppfd,%d\n", r.At.Format(time.RFC3339), r.Value)
	}
	return b.String()
}

// Run runs all tests of a kind.
func Run(t *testing.T, f Factory) {
	for _, c := range []struct {
		name string
		test func(*testing.T, *bench)
	}{
		{"everything once", testOnce},
		{"a trial stores nothing", testTrial},
		{"killed before acknowledging", testKilled},
		{"killed before saving", testUnsaved},
		{"restarted", testRestarted},
		{"delivered twice", testTwice},
		{"faults", testFaults},
		{"no secret anywhere", testSecret},
	} {
		t.Run(c.name, func(t *testing.T) {
			leaks := goleak.IgnoreCurrent()
			t.Setenv(SecretEnv, Secret)
			t.Run("", func(t *testing.T) { // so that what it started has ended before leaks are looked for
				c.test(t, &bench{t: t, f: f, dir: t.TempDir(), other: f.Start(t), clock: Start})
			})
			goleak.VerifyNone(t, leaks)
		})
	}
}

// bench is one test's site and counterpart.
type bench struct {
	t     *testing.T
	f     Factory
	dir   string
	other Counterpart
	clock time.Time // just after the last reading that was offered
}

// now is the time of the site.
func (b *bench) now() time.Time {
	if b.f.Now {
		return time.Now()
	}
	return b.clock
}

func (b *bench) options(make collect.Make) collect.Options {
	return collect.Options{Dir: b.dir, Zone: time.UTC, Make: make, Now: b.now, Quiet: 300 * time.Millisecond}
}

func (b *bench) description() *source.Description {
	b.t.Helper()
	text := b.other.Description(b.dir)
	if err := os.MkdirAll(filepath.Join(b.dir, "sources"), 0o755); err != nil {
		b.t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(b.dir, "sources", "x.yaml"), []byte(text), 0o644); err != nil {
		b.t.Fatal(err)
	}
	d, err := source.Load([]byte(text), "sources/x.yaml")
	if err != nil {
		b.t.Fatalf("%v\n%s", err, text)
	}
	return d
}

// collect collects once and gives the status.
func (b *bench) collect(make collect.Make) (collect.Status, error) {
	b.t.Helper()
	r, err := collect.Open(b.options(make), b.description())
	if err != nil {
		b.t.Fatal(err)
	}
	err = r.Once(b.t.Context())
	s := r.Status()
	if err := r.Close(); err != nil {
		b.t.Fatal(err)
	}
	return s, err
}

func (b *bench) mustCollect() {
	b.t.Helper()
	if _, err := b.collect(b.f.Make); err != nil {
		b.t.Fatal(err)
	}
}

// stored imports what was collected and gives all readings of the archive.
func (b *bench) stored() []Reading {
	b.t.Helper()
	l, err := archive.Acquire(filepath.Join(b.dir, "archive"),
		archive.Holder{PID: os.Getpid(), Start: b.now(), What: "test"})
	if err != nil {
		b.t.Fatal(err)
	}
	if _, err := ingest.Import(b.t.Context(), l, ingest.Options{Site: site.Folder(b.dir), Now: b.now()}); err != nil {
		b.t.Fatal(err)
	}
	if err := l.Release(); err != nil {
		b.t.Fatal(err)
	}
	return Stored(b.t, b.dir)
}

// want checks that the archive holds exactly these readings; of a kind whose
// readings count from when they are collected, that their values are these.
func (b *bench) want(rows ...[]Reading) {
	b.t.Helper()
	got := b.stored()
	var want []Reading
	for _, r := range rows {
		want = append(want, r...)
	}
	if b.f.Now {
		seen := map[int]bool{}
		for _, r := range got {
			seen[r.Value] = true
		}
		for _, r := range want {
			if !seen[r.Value] {
				b.t.Fatalf("value %d is not stored: %v", r.Value, got)
			}
		}
		return
	}
	if len(got) != len(want) {
		b.t.Fatalf("%d readings are stored, %d were offered", len(got), len(want))
	}
	for i := range got {
		if !got[i].At.Equal(want[i].At) || got[i].Value != want[i].Value {
			b.t.Fatalf("reading %d: stored %v, offered %v", i, got[i], want[i])
		}
	}
}

// Stored gives the readings that a site's archive holds, in order of time.
func Stored(t *testing.T, dir string) []Reading {
	t.Helper()
	a, err := archive.Open(filepath.Join(dir, "archive"))
	if err != nil {
		t.Fatal(err)
	}
	var out []Reading
	for _, p := range a.Parts(archive.Readings) {
		err := a.ReadReadings(p, func(r *archive.Run) error {
			for i, v := range r.Floats(nil) {
				out = append(out, Reading{time.UnixMicro(r.Time[i]).UTC(), int(v)})
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	return out
}

// offer makes k-th rows available: as many as the kind can hold at once.
func (b *bench) offer(k int) []Reading {
	b.t.Helper()
	n := 20
	if b.f.Now {
		n = 1
	}
	r := Rows(k*20, n)
	b.clock = r[len(r)-1].At.Add(time.Second)
	b.other.Offer(b.t, r...)
	return r
}

// noSecret looks for the secret in every file of the site.
func (b *bench) noSecret(said ...string) {
	b.t.Helper()
	err := filepath.WalkDir(b.dir, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		data, err := os.ReadFile(path)
		if strings.Contains(string(data)+path, Secret) {
			b.t.Errorf("the secret stands in %s", path)
		}
		return err
	})
	if err != nil {
		b.t.Fatal(err)
	}
	for _, s := range said {
		if strings.Contains(s, Secret) {
			b.t.Errorf("the secret is said: %s", s)
		}
	}
}

var errKilled = errors.New("killed here")

// fragile wraps the box of a kind so that a test can end it at a place.
type fragile struct {
	collect.Box
	save, keep bool // fails there, after keeping
}

func (f fragile) Append(ctx context.Context, lines ...[]byte) error {
	if err := f.Box.Append(ctx, lines...); err != nil || !f.keep {
		return err
	}
	return errKilled
}

func (f fragile) Save(v any) error {
	if f.save {
		return errKilled
	}
	return f.Box.Save(v)
}
