package main

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"math"
	"math/rand/v2"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/apache/beam/sdks/v2/go/pkg/beam"

	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/sitefolder"
)

// asFleet has the test's own binary be the program, so that it can be killed.
const asFleet = "WANE_TEST_FLEET"

var built struct{ dir, wane string }

func TestMain(m *testing.M) {
	if os.Getenv(asFleet) != "" {
		main()
	}
	var err error
	if built.dir, err = os.MkdirTemp("", "fleet-test-"); err != nil {
		panic(err)
	}
	built.wane = filepath.Join(built.dir, "wane")
	c := exec.Command("go", "build", "-o", built.wane, "./cmd/wane")
	c.Dir = filepath.Join("..", "..", "..")
	if said, err := c.CombinedOutput(); err != nil {
		panic(fmt.Sprintf("%v: %s", err, said))
	}
	flag.Parse()
	beam.Init()
	code := m.Run()
	os.RemoveAll(built.dir)
	os.Exit(code)
}

// invented writes sites, with readings in their archives and nothing made of them.
func invented(t testing.TB, sites, fixtures, days int) string {
	t.Helper()
	root := t.TempDir()
	for i := range sites {
		dir := filepath.Join(root, fmt.Sprintf("site-%02d", i))
		inventSite(t, dir, i, fixtures, days)
		wane(t, 0, "ingest", "--site", dir)
	}
	return root
}

func inventSite(t testing.TB, dir string, site, fixtures, days int) {
	t.Helper()
	rng := rand.New(rand.NewPCG(uint64(site), 25))
	put := func(name string, text []byte) {
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, text, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	zone := []string{"Europe/Amsterdam", "America/Chicago", "Asia/Tokyo"}[site%3]
	put("site.yaml", fmt.Appendf(nil, "name: Invented site %d\ninvented: true\nzone: %s\n", site, zone))
	var fix, sens, rows bytes.Buffer
	fix.WriteString("fixture,room,bay,circuit,lamp_type,cohort,model,rated_w,rated_v,gear,installed,hours_at_install\n")
	sens.WriteString("sensor,channel,quantity,unit,watches,factor,from,to\n")
	rows.WriteString("time,sensor,channel,value\n")
	start := time.Date(2025, 3, 20, 0, 0, 0, 0, time.UTC)
	for f := range fixtures {
		id := fmt.Sprintf("f%04d", f)
		fmt.Fprintf(&fix, "%s,room-%d,bay-%d,c1,hps-de,lot-1,make A,1000,230,magnetic,2025-03-01,0\n", id, f/64, f/8)
		fmt.Fprintf(&sens, "log%d,%d,ppfd,umol/m2/s,%s,1,,\n", f/8, f%8, id)
		first, rate := 700+rng.Float64()*100, 1e-5*(1+rng.Float64())
		for h := range days * 24 {
			at, v := start.Add(time.Duration(h)*time.Hour), 0.0
			if at.Hour() >= 4 && at.Hour() < 20 {
				v = first * math.Exp(-rate*float64(h)*2/3) * (1 + 0.002*rng.NormFloat64())
			}
			fmt.Fprintf(&rows, "%s,log%d,%d,%.1f\n", at.Format(time.RFC3339), f/8, f%8, v)
		}
	}
	put("register/fixtures.csv", fix.Bytes())
	put("register/sensors.csv", sens.Bytes())
	put("register/logbook.csv", []byte("at,what,scope,id,value,note\n"))
	put("inbox/all.csv", rows.Bytes())
}

// wane runs the plain program, which must end with a status of those given.
func wane(t testing.TB, most int, args ...string) string {
	t.Helper()
	c := exec.Command(built.wane, args...)
	var said bytes.Buffer
	c.Stderr = &said
	out, _ := c.Output()
	if code := c.ProcessState.ExitCode(); code != 0 && code != most {
		t.Fatalf("wane %v: %d %s", args, code, said.String())
	}
	return string(out)
}

// copied gives a copy of the sites.
func copied(t testing.TB, root string) (sites []string) {
	t.Helper()
	to := t.TempDir()
	if err := os.CopyFS(to, os.DirFS(root)); err != nil {
		t.Fatal(err)
	}
	sites, err := filepath.Glob(filepath.Join(to, "site-*"))
	if err != nil {
		t.Fatal(err)
	}
	return sites
}

// left is what a site's archive holds, by path, and its answers.
func left(t *testing.T, site string) map[string]string {
	t.Helper()
	out := map[string]string{"due": wane(t, 0, "due", "--site", site, "--format", "csv")}
	dir := filepath.Join(site, "archive")
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || d.Name() == "lock" || d.Name() == "scrub.json" {
			return err
		}
		b, err := os.ReadFile(path)
		sum := sha256.Sum256(b)
		out[strings.TrimPrefix(path, dir)] = hex.EncodeToString(sum[:])
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// groupOf writes a group of sites.
func groupOf(t testing.TB, sites []string) string {
	t.Helper()
	dir := t.TempDir()
	text := "name: Invented group\ninvented: true\nsites:\n"
	for _, s := range sites {
		text += fmt.Sprintf("  - {name: %s, folder: %q}\n", filepath.Base(s), s)
	}
	if err := os.WriteFile(filepath.Join(dir, "group.yaml"), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return dir
}

func same(t *testing.T, what, site string, want, got map[string]string) {
	t.Helper()
	for name, w := range want {
		if got[name] != w {
			t.Errorf("%s: %s of %s is %.80q, should be %.80q", what, name, filepath.Base(site), got[name], w)
		}
	}
	if len(got) != len(want) {
		t.Errorf("%s: %s has %d files, should have %d", what, filepath.Base(site), len(got), len(want))
	}
}

// scale is how many sites and fixtures there are: few, unless figures are wanted.
func scale(t testing.TB) (sites, fixtures, days int) {
	sites, fixtures, days = 4, 12, 20
	for name, into := range map[string]*int{"SITES": &sites, "FIXTURES": &fixtures, "DAYS": &days} {
		if s := os.Getenv("WANE_FLEET_" + name); s != "" {
			n, err := strconv.Atoi(s)
			if err != nil {
				t.Fatal(err)
			}
			*into = n
		}
	}
	return sites, fixtures, days
}

// fleet runs the program in a process of its own.
func fleet(args ...string) *exec.Cmd {
	self, err := os.Executable()
	if err != nil {
		panic(err)
	}
	c := exec.Command(self, append([]string{"-wane", built.wane, "-timeout", "20m"}, args...)...)
	c.Env = append(os.Environ(), asFleet+"=1")
	return c
}

// The engine leaves every site as the plain program does, byte for byte: all parts,
// manifests and answers. Every part of the roll-up is made by its orders, with the
// SHA-256 of the plain one, and the group's fit comes to the same tables in all digits
// printed. Killed in the midst, it comes to the same end.
func TestEngineLeavesWhatThePlainProgramDoes(t *testing.T) {
	n, fixtures, days := scale(t)
	most := max(5, fixtures/4) // of an order: some orders a part
	orders := strconv.Itoa(most)
	root := invented(t, n, fixtures, days)
	plain := copied(t, root)
	want := map[string]map[string]string{}
	began := time.Now()
	for _, s := range plain {
		wane(t, 3, "nightly", "--site", s)
		want[filepath.Base(s)] = left(t, s)
	}
	t.Logf("%d sites of %d fixtures, %d days: plain nights %v", n, fixtures, days, time.Since(began).Round(time.Millisecond))

	t.Run("orders make the plain parts", func(t *testing.T) {
		sites, dir := copied(t, root), t.TempDir()
		began := time.Now()
		ended, err := nights(context.Background(), sites, settings{Scratch: dir, Wane: built.wane, Most: most, Only: true})
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("rolled up by orders alone: %v", time.Since(began).Round(time.Millisecond))
		for _, e := range ended {
			theirs := plain[slices.IndexFunc(plain, func(s string) bool { return filepath.Base(s) == filepath.Base(e.Site) })]
			a, _, err := sitefolder.View(theirs)
			if err != nil {
				t.Fatal(err)
			}
			parts := map[string]string{}
			for _, p := range a.Parts(derive.TableDaily) {
				parts[p.Partition] = p.SHA256
			}
			if len(e.Rolled) != len(parts) || e.Orders < fixtures/most {
				t.Errorf("%s: %d parts by %d orders, the plain program made %d", e.Site, len(e.Rolled), e.Orders, len(parts))
			}
			for _, p := range e.Rolled {
				if p.SHA256 != parts[p.Partition] {
					t.Errorf("%s: %s is %s, the plain program made %s", e.Site, p.Partition, p.SHA256, parts[p.Partition])
				}
			}
		}
	})
	theirs := groupOf(t, plain)
	began = time.Now()
	wane(t, 3, "group", "nightly", "--no-sites", "--group", theirs)
	t.Logf("plain fit, with the group's tables and pages: %v", time.Since(began).Round(time.Millisecond))
	answered := func(t *testing.T, ours string) {
		t.Helper()
		for table, rows := range map[string]int{"due": n * fixtures, "makes": 2, "sites": n, "spares": 1} {
			of := func(group string) string {
				return wane(t, 3, "group", table, "--group", group, "--format", "csv")
			}
			if got, want := of(ours), of(theirs); got != want || strings.Count(want, "\n") < 1+rows {
				t.Errorf("%s of the group:\n%.500s\nplain:\n%.500s", table, got, want)
			}
		}
	}
	t.Run("prism", func(t *testing.T) {
		sites, dir := copied(t, root), t.TempDir()
		began := time.Now()
		ours := groupOf(t, sites)
		said := finish(t, fleet("-fixtures", orders, "-scratch", dir, "-group", ours))
		if strings.Contains(said, notFitted) || strings.Contains(said, notTaken) {
			t.Errorf("the group was not fitted by the engine:\n%s", said)
		}
		t.Logf("nights on prism, with the group's: %v", time.Since(began).Round(time.Millisecond))
		for _, s := range sites {
			same(t, "prism", s, want[filepath.Base(s)], left(t, s))
		}
		answered(t, ours)
		// What was fitted is of another group's sites.
		c := exec.Command(built.wane, "group", "nightly", "--no-sites", "--group", groupOf(t, plain),
			"--fitted", filepath.Join(dir, "fitted"))
		if said := finish(t, c); !strings.Contains(said, notTaken) {
			t.Errorf("a fit of something else was taken:\n%s", said)
		}
	})
	t.Run("killed", func(t *testing.T) {
		sites, dir := copied(t, root), t.TempDir()
		for _, after := range []string{"*/*.parquet", "*/rolled.json", "*/ended.json"} {
			killedAt(t, filepath.Join(dir, after), nil, fleet(append([]string{"-fixtures", orders, "-scratch", dir}, sites...)...))
		}
		ours := groupOf(t, sites)
		job := func() *exec.Cmd { return fleet("-fixtures", orders, "-scratch", dir, "-group", ours) }
		killedInFit(t, nil, job())
		finish(t, job())
		for _, s := range sites {
			same(t, "killed", s, want[filepath.Base(s)], left(t, s))
		}
		answered(t, ours)
	})
	t.Run("workers killed", func(t *testing.T) {
		sites, dir := copied(t, root), t.TempDir()
		self, err := os.Executable()
		if err != nil {
			t.Fatal(err)
		}
		ours := groupOf(t, sites)
		work := func() (pool, job *exec.Cmd) {
			port := freePort(t)
			pool = fleet("-worker_port", port)
			if err := pool.Start(); err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() {
				_ = pool.Process.Kill()
				_ = pool.Wait()
			})
			waitFor(t, port)
			return pool, fleet("-fixtures", orders, "-scratch", dir, "-environment_type", "EXTERNAL",
				"-environment_config", "localhost:"+port, "-worker_binary", self, "-group", ours)
		}
		pool, job := work()
		killedAt(t, filepath.Join(dir, "*/*.parquet"), pool, job)
		pool, job = work()
		killedInFit(t, pool, job)
		_, job = work()
		finish(t, job)
		for _, s := range sites {
			same(t, "workers killed", s, want[filepath.Base(s)], left(t, s))
		}
		answered(t, ours)
	})
}

// killedInFit runs a command and kills it, or another that it rests on, once its nights
// are over and the fit has begun.
func killedInFit(t *testing.T, other, c *exec.Cmd) {
	t.Helper()
	victim := c
	if other != nil {
		victim = other
	}
	out, err := c.StdoutPipe()
	if err = errors.Join(err, c.Start()); err != nil {
		t.Fatal(err)
	}
	killed := false
	for lines := bufio.NewScanner(out); lines.Scan(); {
		switch line := lines.Text(); {
		case strings.HasSuffix(line, ": nights"):
			time.Sleep(200 * time.Millisecond)
			_ = victim.Process.Kill()
			killed = true
		case strings.HasSuffix(line, ": fit"):
			t.Logf("with its workers killed, the job says: %s", line)
		}
	}
	if err := c.Wait(); !killed || (other == nil) != (err != nil && c.ProcessState.ExitCode() == -1) {
		t.Errorf("killed in the fit %t: %v", killed, err)
	}
}

// killedAt runs a command and kills it, or another that it rests on, once a file
// of the pattern is there that was not before. The command must not end well.
func killedAt(t *testing.T, pattern string, other, c *exec.Cmd) {
	t.Helper()
	before, err := filepath.Glob(pattern)
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- c.Wait() }()
	victim := c
	if other != nil {
		victim = other
	}
	tick := time.NewTicker(5 * time.Millisecond)
	defer tick.Stop()
	for killed := false; ; {
		select {
		case err := <-ended:
			if err == nil || !killed {
				t.Logf("ended before it was killed at %s: %v", pattern, err)
			}
			return
		case <-tick.C:
			if now, _ := filepath.Glob(pattern); !killed && len(now) > len(before) {
				killed = true
				_ = victim.Process.Kill()
			}
		}
	}
}

// Said where the engine could not fit the group, and where its fit was not taken.
const notFitted, notTaken = "left to the group's night", "fitted here"

// finish runs a command to its end, and gives what it said.
func finish(t testing.TB, c *exec.Cmd) string {
	t.Helper()
	said, err := c.CombinedOutput()
	if code := c.ProcessState.ExitCode(); code != exitDone && code != exitPerson {
		t.Fatalf("%v: %s", err, said)
	}
	return string(said)
}

func freePort(t *testing.T) string {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer ln.Close()
	_, port, err := net.SplitHostPort(ln.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	return port
}

// waitFor returns once something listens.
func waitFor(t *testing.T, port string) {
	t.Helper()
	for range 600 {
		if c, err := net.Dial("tcp", "127.0.0.1:"+port); err == nil {
			c.Close()
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatal("the workers do not listen")
}
