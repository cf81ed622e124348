package archive

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"

	"wane/ingest/archive/bucket"
	"wane/ingest/internal/fsys"
)

// shop is an object store with something in its door: request number at is
// given to do, which says whether the store is asked and whether it may answer.
type shop struct {
	url  string
	mu   sync.Mutex
	n    int
	at   int
	do   func(n int) (ask, answer bool)
	slow chan struct{} // closed when hanging requests may end
}

func openShop(t testing.TB) *shop {
	t.Helper()
	back := s3mem.New()
	if err := back.CreateBucket("lamps"); err != nil {
		t.Fatal(err)
	}
	s := &shop{slow: make(chan struct{})}
	store := gofakes3.New(back).Server()
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.mu.Lock()
		s.n++
		n, at, do := s.n, s.at, s.do
		s.mu.Unlock()
		ask, answer := true, true
		if at > 0 && n >= at {
			ask, answer = do(n)
		}
		if !answer {
			if ask {
				s.mu.Lock() // a swap is one step in a real store
				store.ServeHTTP(httptest.NewRecorder(), r)
				s.mu.Unlock()
			} else {
				_, _ = io.CopyN(io.Discard, r.Body, 100) // broken off in the middle
			}
			panic(http.ErrAbortHandler)
		}
		s.mu.Lock()
		defer s.mu.Unlock()
		store.ServeHTTP(w, r)
	}))
	srv.Config.ErrorLog = nil
	s.url = srv.URL
	t.Cleanup(func() {
		close(s.slow)
		srv.CloseClientConnections()
		srv.Close()
	})
	return s
}

// fault has do asked from request at on, counted from now; 0 ends that.
func (s *shop) fault(at int, do func(n int) (ask, answer bool)) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.n, s.at, s.do = 0, at, do
}

func (s *shop) bucket(t testing.TB) *bucket.Bucket {
	t.Helper()
	b, err := farBucket(s.url)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func farBucket(url string) (*bucket.Bucket, error) {
	return bucket.New(bucket.Spec{Endpoint: url, Name: "lamps", Prefix: "north/", Region: "us-east-1",
		AccessKey: "k", SecretKey: "s", Patience: 2 * time.Second})
}

// objects reads all that the bucket holds.
func objects(t testing.TB, b *bucket.Bucket) map[string]string {
	t.Helper()
	all, err := b.List("", 0)
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	for name := range all {
		r, _, err := b.Get(name)
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(r)
		r.Close()
		if err != nil {
			t.Fatal(err)
		}
		out[name] = string(text)
	}
	return out
}

// attemptFar imports the inbox into an archive in a bucket.
func attemptFar(p Place, inbox string, f fsys.FS) error { return attemptFarAt(p, inbox, f, noon) }

func attemptFarAt(p Place, inbox string, f fsys.FS, now time.Time) error {
	l, err := p.acquire(Holder{What: "test"}, f)
	if err != nil {
		return err
	}
	_, err = importAll(l, Options{Now: now, Workers: 1}, inbox)
	return errors.Join(err, l.Release())
}

// folderOf is what the folder of an archive holds, but for what is the copy's own.
func folderOf(t testing.TB, dir string) map[string]string {
	t.Helper()
	got, err := tree(dir)
	if err != nil {
		t.Fatal(err)
	}
	delete(got, markName)
	return got
}

// wholeInBucket holds the bucket against the archive that it should hold: nothing
// is missing, and what there is besides are parts and originals that do not count.
func wholeInBucket(t testing.TB, what string, b *bucket.Bucket, want map[string]string) {
	t.Helper()
	got := objects(t, b)
	for name, text := range want {
		if got[name] != text {
			t.Errorf("%s: in the bucket, %s has %d bytes, should have %d", what, name, len(got[name]), len(text))
		}
	}
	for name := range got {
		_, counts := want[name]
		original := strings.HasPrefix(name, originalsDir+"/") && filepath.Ext(name) != ".json"
		if !counts && !original && !partName.MatchString(filepath.Base(name)) {
			t.Errorf("%s: the bucket holds %s", what, name)
		}
	}
}

// readable reads all parts from the bucket, as somebody does who has nothing yet.
func readable(t testing.TB, what string, b *bucket.Bucket) {
	t.Helper()
	a, err := Place{t.TempDir(), b}.Open()
	if err == nil {
		err = a.Bring()
	}
	if err != nil {
		t.Errorf("%s: a reader elsewhere: %v", what, err)
	}
}

// An archive in a bucket holds what one in a folder does; so does a copy made
// elsewhere; and the copy goes on where the other left off.
func TestBucketHoldsTheArchive(t *testing.T) {
	want, _ := undisturbed(t)
	dir, inbox := scene(t)
	s := openShop(t)
	here := Place{dir, s.bucket(t)}
	if err := attemptFar(here, inbox, hasty{}); err != nil {
		t.Fatal(err)
	}
	if d := differ(want, folderOf(t, dir)); d != nil {
		t.Errorf("the copy: %v", d)
	}
	wholeInBucket(t, "after the import", here.Bucket, want)

	there := Place{t.TempDir(), here.Bucket}
	l, err := there.acquire(Holder{What: "test"}, hasty{})
	if err != nil {
		t.Fatal(err)
	}
	if d := differ(want, folderOf(t, there.Dir)); d != nil {
		t.Errorf("a copy elsewhere: %v", d)
	}
	d, err := Derive(l, "daily")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := d.Write("daily", "", "k", []Column{{Name: "x", Type: Int64, Int: []int64{1}}}); err != nil {
		t.Fatal(err)
	}
	if _, err := d.Commit(); err != nil {
		t.Fatal(err)
	}
	if err := l.Release(); err != nil {
		t.Fatal(err)
	}
	readable(t, "after a derivation elsewhere", here.Bucket)
	if l, err = here.acquire(Holder{What: "test"}, hasty{}); err != nil {
		t.Fatal(err)
	}
	if d := differ(folderOf(t, there.Dir), folderOf(t, dir)); d != nil {
		t.Errorf("the first copy did not follow: %v", d)
	}
	if err := l.Release(); err != nil {
		t.Fatal(err)
	}
	r, err := here.Check(context.Background(), Holder{What: "test"})
	if err != nil || len(r.Findings) > 0 || r.Files == 0 {
		t.Errorf("check: %+v, %v", r, err)
	}
}

// outages are the ways in which a store fails: for one request or from one on.
var outages = map[string]func(at int) func(n int) (ask, answer bool){
	"cut once": func(at int) func(int) (bool, bool) { return func(n int) (bool, bool) { return n != at, n != at } },
	"reply lost once": func(at int) func(int) (bool, bool) {
		return func(n int) (bool, bool) { return true, n != at }
	},
	"replies lost from": func(int) func(int) (bool, bool) { return func(int) (bool, bool) { return true, false } },
	"down from":         func(int) func(int) (bool, bool) { return func(int) (bool, bool) { return false, false } },
}

// requests counts those of an undisturbed import into the bucket, the archive of
// the folder being sent there before.
func requests(t *testing.T) int {
	dir, inbox := scene(t)
	s := openShop(t)
	s.fault(0, nil)
	if err := attemptFar(Place{dir, s.bucket(t)}, inbox, hasty{}); err != nil {
		t.Fatal(err)
	}
	return s.n
}

// settleFar runs again with a sound store and compares.
func settleFar(t *testing.T, what string, p Place, inbox string, want map[string]string) {
	t.Helper()
	readable(t, what, p.Bucket)
	if err := attemptFar(p, inbox, hasty{}); err != nil {
		t.Fatalf("%s: the next run: %v", what, err)
	}
	if d := differ(want, folderOf(t, p.Dir)); d != nil {
		t.Fatalf("%s: the copy is another: %v", what, d)
	}
	wholeInBucket(t, what, p.Bucket, want)
	if left, err := os.ReadDir(inbox); err != nil || len(left) > 0 {
		t.Fatalf("%s: %v is left in the inbox, %v", what, left, err)
	}
}

// The store fails at a request. A reader sees a whole archive, and the next run
// ends with the archive of an undisturbed one, byte for byte.
func TestBucketFails(t *testing.T) {
	want, _ := undisturbed(t)
	steps := requests(t)
	if steps < 20 {
		t.Fatalf("only %d requests: the bucket is not in the way", steps)
	}
	stride := stride(7)
	i := 0
	for _, name := range sortedKeys(outages) {
		for at := 1 + i; at <= steps; at += stride {
			t.Run(fmt.Sprintf("%s %d of %d", name, at, steps), func(t *testing.T) {
				t.Parallel()
				dir, inbox := scene(t)
				s := openShop(t)
				p := Place{dir, s.bucket(t)}
				s.fault(at, outages[name](at))
				err := attemptFar(p, inbox, hasty{})
				s.fault(0, nil)
				if strings.HasSuffix(name, "from") && err == nil {
					t.Error("nothing is said of it")
				}
				if strings.HasSuffix(name, "once") && err != nil {
					t.Errorf("once is too much: %v", err)
				}
				settleFar(t, fmt.Sprintf("error %v", err), p, inbox, want)
			})
		}
		i++
	}
}

// The disk of the copy fails, as it may in a folder.
func TestBucketAndDiskFails(t *testing.T) {
	want, steps := undisturbed(t)
	for at := 2; at <= steps+20; at += stride(11) {
		dir, inbox := scene(t)
		p := Place{dir, openShop(t).bucket(t)}
		if err := attemptFar(p, t.TempDir(), hasty{}); err != nil { // sent
			t.Fatal(err)
		}
		var n atomic.Int64
		err := attemptFar(p, inbox, faulty{hasty{}, &n, at, func(string) error { return ways[at%len(ways)] }})
		settleFar(t, fmt.Sprintf("operation %d of about %d: %v", at, steps, err), p, inbox, want)
	}
}

const farEnv = "WANE_TEST_KILL_FAR"

// TestKilledFarChild is not a test of its own: it is what the child process of
// TestBucketKilled runs.
func TestKilledFarChild(t *testing.T) {
	f := strings.Split(os.Getenv(farEnv), "\n")
	if len(f) != 3 {
		return
	}
	b, err := farBucket(f[0])
	if err == nil {
		err = attemptFar(Place{f[1], b}, f[2], hasty{})
	}
	if err != nil {
		t.Fatal(err)
	}
}

// The program is killed while a request is under way, which the store has or has
// not heard.
func TestBucketKilled(t *testing.T) {
	want, _ := undisturbed(t)
	steps := requests(t)
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	for at := 1; at <= steps; at += stride(5) {
		t.Run(fmt.Sprintf("request %d of %d", at, steps), func(t *testing.T) {
			t.Parallel()
			dir, inbox := scene(t)
			s := openShop(t)
			p := Place{dir, s.bucket(t)}
			c := exec.Command(self, "-test.run=^TestKilledFarChild$")
			c.Env = append(os.Environ(), fmt.Sprintf("%s=%s\n%s\n%s", farEnv, s.url, dir, inbox))
			started := make(chan struct{})
			s.fault(at, func(n int) (bool, bool) {
				<-started // the child asks sooner than Start has noted its process
				_ = c.Process.Kill()
				return at%2 == 0, false
			})
			if err := c.Start(); err != nil {
				t.Fatal(err)
			}
			close(started)
			if err := c.Wait(); err == nil {
				t.Fatal("the child was not killed")
			}
			s.fault(0, nil)
			settleFar(t, "killed", p, inbox, want)
		})
	}
}
