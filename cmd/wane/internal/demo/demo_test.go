package demo

import (
	"crypto/sha256"
	"encoding/hex"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"wane/ingest/register"
	"wane/ingest/site"
	"wane/ingest/source"
	"wane/schedules"
	"wane/transform/fleet"
)

// The short demo that the tests share: five months across the autumn's change
// of clocks.
const testDays = 150

var testToday = time.Date(2026, 3, 10, 0, 0, 0, 0, time.UTC)

// sites holds the short demos that several tests read, a seed each.
var sites = struct {
	root  string
	truth map[uint64]*Truth
}{truth: map[uint64]*Truth{}}

func TestMain(m *testing.M) {
	var err error
	if sites.root, err = os.MkdirTemp("", "demo"); err != nil {
		panic(err)
	}
	code := m.Run()
	os.RemoveAll(sites.root)
	os.Exit(code)
}

// write gives the short demo of a seed, written once; it is only to be read.
func write(t *testing.T, seed uint64) (string, *Truth) {
	t.Helper()
	dir := filepath.Join(sites.root, strconv.FormatUint(seed, 10))
	if sites.truth[seed] == nil {
		truth, err := WriteDays(dir, seed, testToday, testDays, nil)
		if err != nil {
			t.Fatal(err)
		}
		sites.truth[seed] = truth
	}
	return dir, sites.truth[seed]
}

func digest(t *testing.T, dir string) map[string]string {
	t.Helper()
	sums := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(dir, path)
		sum := sha256.Sum256(data)
		sums[rel] = hex.EncodeToString(sum[:])
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return sums
}

func TestSameSeedSameBytes(t *testing.T) {
	a, _ := write(t, 1)
	other, _ := write(t, 3)
	b := filepath.Join(t.TempDir(), "again")
	if _, err := WriteDays(b, 1, testToday, testDays, nil); err != nil {
		t.Fatal(err)
	}
	da, db, dother := digest(t, a), digest(t, b), digest(t, other)
	if len(da) != len(db) {
		t.Fatalf("%d files, then %d", len(da), len(db))
	}
	differ := 0
	for name, sum := range da {
		if db[name] != sum {
			t.Errorf("%s differs between two runs of one seed", name)
		}
		if dother[name] != sum {
			differ++
		}
	}
	if differ < len(da)/2 {
		t.Errorf("another seed changed %d of %d files only", differ, len(da))
	}
}

func TestFolderPassesTheChecks(t *testing.T) {
	dir, truth := write(t, 1)
	config, err := site.Folder(dir).Load(cronLine)
	if err != nil {
		t.Fatalf("site.yaml: %v", err)
	}
	if config.Name != SiteName {
		t.Errorf("the site is called %q, not %q", config.Name, SiteName)
	}
	reg, err := register.Load(dir, config.Location)
	if err != nil {
		t.Fatalf("register: %v", err)
	}
	if len(reg.Fixtures) < 49 {
		t.Errorf("%d fixtures, want 48 and a reference", len(reg.Fixtures))
	}
	for _, f := range reg.Fixtures {
		if _, ok := config.Rooms[f.Room]; !ok && f.ID != reference {
			t.Errorf("%s is in room %s, which site.yaml does not know", f.ID, f.Room)
		}
	}
	for room := range config.Thresholds.Rooms {
		if _, ok := config.Rooms[room]; !ok {
			t.Errorf("a threshold for room %s, which does not exist", room)
		}
	}
	agree(t, reg, truth)

	all := descriptions(t, dir)
	if len(all) < 3 {
		t.Errorf("%d source descriptions", len(all))
	}
	used := map[string]int{}
	inbox, err := os.ReadDir(filepath.Join(dir, "inbox"))
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range inbox {
		fit := source.Matching(all, e.Name())
		switch {
		case len(fit) == 1:
			used[fit[0].Name]++
		case len(fit) > 1:
			t.Errorf("%s fits %d descriptions", e.Name(), len(fit))
		default:
			data, err := os.ReadFile(filepath.Join(dir, "inbox", e.Name()))
			if err != nil {
				t.Fatal(err)
			}
			head, _, _ := strings.Cut(string(data), "\n")
			if head != "time,sensor,channel,value" && head != "survey,taken_at,fixture,height_m,row,col,ppfd" {
				t.Errorf("%s fits no description and is not in the plain form", e.Name())
			}
		}
	}
	for _, d := range all {
		if used[d.Name] == 0 {
			t.Errorf("no file of source %s", d.Name)
		}
	}
}

func descriptions(t *testing.T, dir string) []*source.Description {
	t.Helper()
	names, err := filepath.Glob(filepath.Join(dir, "sources", "*.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	var all []*source.Description
	for _, name := range names {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		d, err := source.Load(data, "sources/"+filepath.Base(name))
		if err != nil {
			t.Fatalf("%v", err)
		}
		all = append(all, d)
	}
	return all
}

// agree holds the lamp lives that the register tells against the true ones:
// the same, but for the lamp that nobody logged.
func agree(t *testing.T, reg *fleet.Register, truth *Truth) {
	t.Helper()
	told := 0
	for i := range reg.Fixtures {
		f := &reg.Fixtures[i]
		lives := reg.Lives(f)
		told += len(lives)
		var logged []Life
		for _, l := range truth.Lives {
			if l.Fixture == f.ID && l.Logged {
				logged = append(logged, l)
			}
		}
		if len(lives) != len(logged) {
			t.Errorf("%s has %d lives in the register and %d logged ones in truth", f.ID, len(lives), len(logged))
			continue
		}
		for k, l := range lives {
			if !l.From.Equal(logged[k].From) || l.Cohort != logged[k].Cohort {
				t.Errorf("%s life %d: register %v %s, truth %v %s", f.ID, l.N, l.From, l.Cohort, logged[k].From, logged[k].Cohort)
			}
			if failed := !logged[k].Failed.IsZero(); failed != (l.End == fleet.Fail) {
				t.Errorf("%s life %d: register ends by %q, truth failed %v", f.ID, l.N, l.End, failed)
			}
		}
	}
	if hidden := len(truth.Lives) - told; hidden != 1 {
		t.Errorf("%d lamps that nobody logged, want 1", hidden)
	}
}

// Every file that allows a remark says that it is invented.
func TestLabelledAsInvented(t *testing.T) {
	dir, _ := write(t, 1)
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		text := strings.ToLower(string(data[:min(len(data), 2000)]))
		remarks := !strings.HasPrefix(text, "time,sensor,channel,value")
		if remarks && !strings.Contains(text, "invented") {
			t.Errorf("%s does not say that it is invented", path)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

func TestWillNotWriteIntoAFullFolder(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "mine.txt"), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := WriteDays(dir, 1, testToday, testDays, nil); err == nil || !strings.Contains(err.Error(), "not empty") {
		t.Errorf("wrote into a folder that is not empty: %v", err)
	}
}

func folderSize(t *testing.T, dir string) int64 {
	t.Helper()
	var size int64
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		info, err := d.Info()
		size += info.Size()
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return size
}

func cronLine(line string) error {
	_, err := schedules.ParseLine(line)
	return err
}
