package archive

import (
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"

	"wane/ingest/internal/fsys"
)

// faulty is the disk with something in the door: before operation number at,
// do is called; what it returns is what the operation returns.
type faulty struct {
	fsys.FS
	n  *atomic.Int64
	at int
	do func(op string) error
}

func (f faulty) step(op string) error {
	if n := f.n.Add(1); n == int64(f.at) || f.at < 0 {
		return f.do(op)
	}
	return nil
}

func (f faulty) Mkdir(dir string) error {
	if err := f.step("mkdir"); err != nil {
		return err
	}
	return f.FS.Mkdir(dir)
}

func (f faulty) Create(path string) (fsys.Writer, error) {
	if err := f.step("create"); err != nil {
		return nil, err
	}
	w, err := f.FS.Create(path)
	return faultyWriter{w, f}, err
}

func (f faulty) Rename(from, to string) error {
	if err := f.step("rename"); err != nil {
		return err
	}
	return f.FS.Rename(from, to)
}

func (f faulty) Remove(path string) error {
	if err := f.step("remove"); err != nil {
		return err
	}
	return f.FS.Remove(path)
}

func (f faulty) SyncDir(dir string) error {
	if err := f.step("syncdir"); err != nil {
		return err
	}
	return f.FS.SyncDir(dir)
}

type faultyWriter struct {
	fsys.Writer
	f faulty
}

// errShort asks a write to stop half-way without saying so.
var errShort = errors.New("short write")

func (w faultyWriter) Write(p []byte) (int, error) {
	switch err := w.f.step("write"); {
	case errors.Is(err, errShort):
		if _, err := w.Writer.Write(p[:len(p)/2]); err != nil {
			return 0, err
		}
		return len(p), nil
	case err != nil:
		n, _ := w.Writer.Write(p[:len(p)/2])
		return n, err
	}
	return w.Writer.Write(p)
}

func (w faultyWriter) Sync() error {
	if err := w.f.step("sync"); err != nil {
		return err
	}
	return w.Writer.Sync()
}

// lastYear is when the files of a scene were written.
var lastYear = noon.AddDate(-1, 0, 0)

// scene gives a fresh copy of setScene.
func scene(t testing.TB) (archive, inbox string) {
	t.Helper()
	set.once.Do(func() {
		if set.dir, set.err = os.MkdirTemp("", "scene"); set.err == nil {
			setScene(t, set.dir)
		}
	})
	if set.err != nil || set.dir == "" {
		t.Fatal("the scene is not set: ", set.err)
	}
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS(set.dir)); err != nil {
		t.Fatal(err)
	}
	inbox = filepath.Join(dir, "inbox")
	names, err := os.ReadDir(inbox)
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range names {
		if err := os.Chtimes(filepath.Join(inbox, d.Name()), lastYear, lastYear); err != nil {
			t.Fatal(err)
		}
	}
	return filepath.Join(dir, "archive"), inbox
}

var set struct {
	once sync.Once
	dir  string
	err  error
}

func TestMain(m *testing.M) {
	flag.Parse()
	asked := false
	flag.Visit(func(f *flag.Flag) { asked = asked || f.Name == "rapid.checks" })
	if !asked && os.Getenv(campaignEnv) == "" {
		// A round of the property takes and rebuilds several archives on disk.
		if err := flag.Set("rapid.checks", "15"); err != nil {
			panic(err)
		}
	}
	code := m.Run()
	if set.dir != "" {
		os.RemoveAll(set.dir)
	}
	os.Exit(code)
}

// setScene makes an archive that holds a night already, and an inbox with the next
// one, which brings new readings, duplicates, a conflict, a reject, a file that
// is known, and the end of the month.
func setScene(t testing.TB, dir string) {
	t.Helper()
	archive, inbox := filepath.Join(dir, "archive"), filepath.Join(dir, "inbox")
	if err := os.MkdirAll(inbox, 0o755); err != nil {
		t.Fatal(err)
	}
	write := func(name, text string) {
		if err := os.WriteFile(filepath.Join(inbox, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	night := func(day int64, sensor string) string {
		var b strings.Builder
		for i := range int64(24) {
			fmt.Fprintf(&b, "%s c1 %d %d 2\n", sensor, noon.UnixMicro()-day*dayMicros+i*3600e6, 81250+i*7)
		}
		return b.String()
	}
	write("a1", night(27, "s1"))
	write("a2", night(26, "s1")+"rubbish\n")
	l := mustLock(t, archive)
	if _, err := importAll(l, Options{Now: noon.AddDate(0, 0, -26)}, inbox); err != nil {
		t.Fatal(err)
	}
	if err := l.Release(); err != nil {
		t.Fatal(err)
	}
	write("a1", night(27, "s1"))
	write("b1", night(26, "s1")+night(25, "s1")+"more rubbish\n")
	write("b2", night(24, "s2")+fmt.Sprintf("s1 c1 %d 1 0\n", noon.UnixMicro()-26*dayMicros))
	write("b3", "rubbish only\n")
}

// attempt imports the inbox with a disk.
func attempt(archive, inbox string, f fsys.FS) error {
	l, err := acquire(archive, Holder{What: "test"}, f)
	if err != nil {
		return err
	}
	_, err = importAll(l, Options{Now: noon, Workers: 1}, inbox)
	return errors.Join(err, l.Release())
}

// undisturbed imports the scene with nothing in the way, and counts the
// operations.
func undisturbed(t *testing.T) (want map[string]string, steps int) {
	archive, inbox := scene(t)
	var n atomic.Int64
	if err := attempt(archive, inbox, faulty{hasty{}, &n, 0, nil}); err != nil {
		t.Fatal(err)
	}
	steps = int(n.Load())
	want, err := tree(archive)
	if err != nil {
		t.Fatal(err)
	}
	return want, steps
}

// settleDown runs again with a sound disk and compares; now and then it runs once
// more, which must change nothing.
func settleDown(t *testing.T, what, archive, inbox string, want map[string]string) {
	t.Helper()
	if _, err := Open(archive); err != nil {
		t.Errorf("%s: a reader sees %v", what, err)
	}
	for range 1 + len(what)%2 {
		if err := attempt(archive, inbox, hasty{}); err != nil {
			t.Fatalf("%s: the next run: %v", what, err)
		}
		got, err := tree(archive)
		if err != nil {
			t.Fatal(err)
		}
		if d := differ(want, got); d != nil {
			t.Fatalf("%s: the archive is another: %v", what, d)
		}
	}
	if info, err := os.Stat(filepath.Join(archive, lockName)); err != nil || info.Size() != 0 {
		t.Errorf("%s: the lock says that there may be leftovers, %v", what, err)
	}
	if left, err := os.ReadDir(inbox); err != nil || len(left) > 0 {
		t.Fatalf("%s: %v is left in the inbox, %v", what, left, err)
	}
}

// ways are the ways in which a disk fails.
var ways = []error{syscall.ENOSPC, syscall.EACCES, errShort, syscall.EIO}

// stride is how many operations to go on by: one in a campaign.
func stride(usual int) int {
	if os.Getenv(campaignEnv) != "" {
		return 1
	}
	return usual
}

// An operation on the disk fails: every third one, the ways taking turns; in a
// campaign every one in each way.
func TestDiskFails(t *testing.T) {
	want, steps := undisturbed(t)
	stride := stride(3)
	for at := 1; at <= steps; at += stride {
		for i, fault := range ways {
			if i != at%len(ways) && os.Getenv(campaignEnv) == "" {
				continue
			}
			archive, inbox := scene(t)
			var n atomic.Int64
			var op string
			err := attempt(archive, inbox, faulty{hasty{}, &n, at, func(o string) error { op = o; return fault }})
			what := fmt.Sprintf("%v at operation %d of %d (%s), error %v", fault, at, steps, op, err)
			// A fault after the swap is told but loses nothing; a removal that
			// fails is only tidying.
			if _, err := Open(archive); err != nil {
				t.Fatalf("%s: %v", what, err)
			}
			settleDown(t, what, archive, inbox, want)
		}
	}
}

// A disk that stays full: the import fails with words, nothing counts, and the
// run after the mend finishes.
func TestDiskStaysFull(t *testing.T) {
	want, _ := undisturbed(t)
	archive, inbox := scene(t)
	before, err := loadManifest(archive)
	if err != nil {
		t.Fatal(err)
	}
	var n atomic.Int64
	full := func(op string) error {
		if op == "write" || op == "create" {
			return syscall.ENOSPC
		}
		return nil
	}
	if err := attempt(archive, inbox, faulty{hasty{}, &n, -1, full}); !errors.Is(err, syscall.ENOSPC) {
		t.Fatalf("error is %v", err)
	}
	after, err := loadManifest(archive)
	if err != nil || after.Checksum != before.Checksum {
		t.Fatalf("the manifest changed: %v", err)
	}
	settleDown(t, "disk full", archive, inbox, want)
}

// The environment of the child that is to be killed. It lives in tests only.
const childEnv = "WANE_TEST_KILL"

// TestKilledChild is not a test of its own: it is what the child process of
// TestKilledAtEveryStep runs.
func TestKilledChild(t *testing.T) {
	at, archive, inbox := childArgs()
	if at == 0 {
		return
	}
	var n atomic.Int64
	_ = attempt(archive, inbox, faulty{hasty{}, &n, at, func(string) error {
		_ = syscall.Kill(os.Getpid(), syscall.SIGKILL)
		select {}
	}})
}

func childArgs() (at int, archive, inbox string) {
	f := strings.Split(os.Getenv(childEnv), "\n")
	if len(f) != 3 {
		return 0, "", ""
	}
	at, _ = strconv.Atoi(f[0])
	return at, f[1], f[2]
}

// kill runs the import in a child that is killed at an operation, and says whether
// it was.
func kill(t *testing.T, at int, archive, inbox string) bool {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(self, "-test.run=^TestKilledChild$")
	c.Env = append(os.Environ(), fmt.Sprintf("%s=%d\n%s\n%s", childEnv, at, archive, inbox))
	err = c.Run()
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		return exit.Sys().(syscall.WaitStatus).Signal() == syscall.SIGKILL
	}
	if err != nil {
		t.Fatal(err)
	}
	return false
}

// Killed before an operation, the next run ends with the archive of an
// undisturbed one, byte for byte. Every operation has its turn in a campaign,
// every ninth one always.
func TestKilledAtEveryStep(t *testing.T) {
	want, steps := undisturbed(t)
	if steps < 50 {
		t.Fatalf("only %d operations: the hook is not in the way", steps)
	}
	stride := stride(9)
	for at := 1; at <= steps; at += stride {
		archive, inbox := scene(t)
		if !kill(t, at, archive, inbox) {
			t.Fatalf("the child was not killed at operation %d of %d", at, steps)
		}
		settleDown(t, fmt.Sprintf("killed at operation %d of %d", at, steps), archive, inbox, want)
	}
}

// campaignEnv asks for more rounds of TestFaultCampaign than the few that always
// run; see testdata/bench/faults.
const campaignEnv = "WANE_FAULT_ROUNDS"

// Kills and faults at random, several on the way to one archive.
func TestFaultCampaign(t *testing.T) {
	rounds, seed := 5, uint64(1)
	if s := os.Getenv(campaignEnv); s != "" {
		var err error
		if rounds, err = strconv.Atoi(s); err != nil {
			t.Fatal(err)
		}
		seed = uint64(os.Getpid())
	}
	want, steps := undisturbed(t)
	rng := rand.New(rand.NewPCG(seed, 7))
	for round := range rounds {
		archive, inbox := scene(t)
		var what []string
		for range 1 + rng.IntN(3) {
			at := 1 + rng.IntN(steps)
			if rng.IntN(2) == 0 {
				kill(t, at, archive, inbox)
				what = append(what, fmt.Sprint("kill at ", at))
				continue
			}
			var n atomic.Int64
			fault := ways[rng.IntN(len(ways))]
			err := attempt(archive, inbox, faulty{hasty{}, &n, at, func(string) error { return fault }})
			what = append(what, fmt.Sprintf("%v at %d: %v", fault, at, err))
		}
		settleDown(t, fmt.Sprintf("seed %d, round %d: %s", seed, round, strings.Join(what, "; ")), archive, inbox, want)
	}
}
