package main

import (
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// damagesEnv asks for more damages than the few that always run; see
// testdata/bench/damage.
const damagesEnv = "WANE_DAMAGES"

// A disk lies: a file of the archive is lost, cut, flipped, zeroed, exchanged,
// doubled or rolled back, and then somebody runs a command. What comes of it and
// a night is, byte for byte, what would have come of an undisturbed archive; or
// the command refuses in words, nothing further is lost, and once the file is
// brought back all is as if nothing had been.
func TestDamages(t *testing.T) {
	t.Parallel()
	n := 24
	if s := os.Getenv(damagesEnv); s != "" {
		var err error
		if n, err = strconv.Atoi(s); err != nil {
			t.Fatal(err)
		}
	}
	d := newDamaged(t)
	rng := rand.New(rand.NewPCG(17, 1))
	cases := d.cases(rng)
	t.Logf("%d cases of %d files", len(cases), len(d.before))
	count := map[string]int{}
	for i := range n {
		c := cases[i%len(cases)]
		count[d.run(t, c, rng)]++
	}
	t.Logf("%v", count)
	if count["as undisturbed"] == 0 || count["found by check"] == 0 || n >= 100 &&
		count["refused, then as undisturbed"] == 0 {
		t.Error("the cases are one-sided")
	}
}

// damaged is a site after two nights, in memory, with what a third makes of it.
type damaged struct {
	site   string            // with the third night's file in the inbox
	before map[string]string // the archive
	older  string            // the manifest of the night before
	want   map[string]string // the archive after the third night
}

type damage struct {
	file, kind, command string
}

var damageKinds = []string{"lost", "emptied", "cut", "flipped", "zeroed", "rewritten", "swapped", "replaced", "doubled"}

var damageCommands = []string{"nightly", "check", "check --repair", "rebuild"}

func newDamaged(t *testing.T) *damaged {
	t.Helper()
	d := &damaged{site: t.TempDir()}
	plainSite(t, d.site, 75, never)
	whole := filepath.Join(d.site, "inbox", "all.csv")
	b, err := os.ReadFile(whole)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(whole); err != nil {
		t.Fatal(err)
	}
	head, rows, _ := strings.Cut(string(b), "\n")
	lines := strings.SplitAfter(rows, "\n")
	put := func(name string, from, to int, more string) {
		text := head + "\n" + strings.Join(lines[from:min(to, len(lines))], "") + more
		if err := os.WriteFile(filepath.Join(d.site, "inbox", name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	day := 24 * 5 // rows
	put("a.csv", 0, 20*day, "")
	put("b.csv", 20*day, 40*day, "rubbish\n")
	d.night(t, 2)
	if b, err = os.ReadFile(filepath.Join(d.site, "archive", "manifest.json")); err != nil {
		t.Fatal(err)
	}
	d.older = string(b)
	put("c.csv", 38*day, 60*day, "2024-02-05T12:00:00Z,log,1,1\nmore rubbish\n")
	put("d.csv", 60*day, 70*day, "")
	d.night(t, 1)
	put("e.csv", 69*day, 75*day, "still more\n")
	d.before = archiveOf(t, d.site)

	next := filepath.Join(t.TempDir(), "site")
	copySite(t, d.site, next)
	if _, errs, code := wane(t, "nightly", "--site", next); code != exitDone && code != exitPerson {
		t.Fatalf("nightly: %d %s", code, errs)
	}
	d.want = archiveOf(t, next)
	return d
}

// night runs a night some days before the third.
func (d *damaged) night(t *testing.T, before int) {
	t.Helper()
	at := time.Date(2025, 6, 1-before, 2, 15, 0, 0, time.UTC)
	if _, errs, code := waneAt(t, at, "nightly", "--site", d.site); code != exitDone && code != exitPerson {
		t.Fatalf("nightly: %d %s", code, errs)
	}
}

func copySite(t *testing.T, from, to string) {
	t.Helper()
	if err := os.CopyFS(to, os.DirFS(from)); err != nil {
		t.Fatal(err)
	}
	left, err := os.ReadDir(filepath.Join(to, "inbox"))
	if err != nil {
		t.Fatal(err)
	}
	then := time.Date(2025, 5, 1, 0, 0, 0, 0, time.UTC)
	for _, f := range left {
		if err := os.Chtimes(filepath.Join(to, "inbox", f.Name()), then, then); err != nil {
			t.Fatal(err)
		}
	}
}

// archiveOf reads the files of the archive but the lock and the days on which it
// was verified.
func archiveOf(t *testing.T, site string) map[string]string {
	t.Helper()
	out := map[string]string{}
	root := os.DirFS(filepath.Join(site, "archive"))
	err := fs.WalkDir(root, ".", func(p string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() || p == "lock" || p == "scrub.json" {
			return err
		}
		b, err := fs.ReadFile(root, p)
		out[p] = string(b)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// cases are all damages to all files and to all folders, in a random order that
// goes through the kinds of files evenly.
func (d *damaged) cases(rng *rand.Rand) []damage {
	by := map[string][]damage{}
	for _, file := range sortedKeys(d.before) {
		for _, kind := range damageKinds {
			for _, command := range damageCommands {
				what := kindOfFile(file)
				by[what] = append(by[what], damage{file, kind, command})
			}
		}
		if dir, _, ok := strings.Cut(file, "/"); ok && !slices.Contains(by["folder"], damage{dir, "lost", "nightly"}) {
			for _, command := range damageCommands {
				by["folder"] = append(by["folder"], damage{dir, "lost", command})
			}
		}
	}
	for _, command := range damageCommands {
		by["manifest.json"] = append(by["manifest.json"], damage{"manifest.json", "rolled back", command})
	}
	kinds := sortedKeys(by)
	most := 0
	for _, k := range kinds {
		rng.Shuffle(len(by[k]), func(i, j int) { by[k][i], by[k][j] = by[k][j], by[k][i] })
		most = max(most, len(by[k]))
	}
	var out []damage
	for i := range most {
		for _, k := range kinds {
			if i < len(by[k]) {
				out = append(out, by[k][i])
			}
		}
	}
	return out
}

// kindOfFile is the table, or what else it is.
func kindOfFile(file string) string {
	if strings.HasPrefix(file, "originals/takes/") {
		return "list"
	}
	table, _, _ := strings.Cut(file, "/")
	return table
}

// apply damages the archive; it says no where that leaves every byte as it was.
func (d *damaged) apply(t *testing.T, archive string, c damage, rng *rand.Rand) bool {
	t.Helper()
	at := filepath.Join(archive, filepath.FromSlash(c.file))
	b := []byte(d.before[c.file])
	other := func() string { // another file of the kind
		var of []string
		for _, f := range sortedKeys(d.before) {
			if f != c.file && kindOfFile(f) == kindOfFile(c.file) {
				of = append(of, f)
			}
		}
		if len(of) == 0 {
			return c.file
		}
		return of[rng.IntN(len(of))]
	}
	write := func(file string, b []byte) {
		if err := os.WriteFile(filepath.Join(archive, filepath.FromSlash(file)), b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	switch c.kind {
	case "lost":
		if err := os.RemoveAll(at); err != nil {
			t.Fatal(err)
		}
		return true
	case "emptied":
		b = nil
	case "cut":
		b = b[:rng.IntN(len(b))]
	case "flipped":
		b[rng.IntN(len(b))] ^= 1 << rng.IntN(8)
	case "zeroed":
		from := rng.IntN(len(b))
		clear(b[from:min(len(b), from+512)])
	case "rewritten":
		for i := rng.IntN(len(b)); i < len(b); i++ {
			b[i] = byte(rng.Uint32())
		}
	case "swapped":
		o := other()
		b = []byte(d.before[o])
		write(o, []byte(d.before[c.file]))
	case "replaced":
		b = []byte(d.before[other()])
	case "rolled back":
		b = []byte(d.older)
	case "doubled":
		dir, name := path.Split(c.file)
		write(dir+fmt.Sprintf("%x", rng.IntN(9)+1)+name[1:], b)
		return len(archiveOf(t, filepath.Dir(archive))) > len(d.before)
	}
	write(c.file, b)
	return string(b) != d.before[c.file]
}

// run gives what came of a damage in a word.
func (d *damaged) run(t *testing.T, c damage, rng *rand.Rand) (came string) {
	t.Helper()
	what := fmt.Sprintf("%s %s, %s", c.file, c.kind, c.command)
	defer func() {
		if p := recover(); p != nil {
			t.Errorf("%s: panic: %v", what, p)
			came = "panic"
		}
	}()
	dir := filepath.Join(t.TempDir(), "site")
	copySite(t, d.site, dir)
	defer os.RemoveAll(dir)
	if !d.apply(t, filepath.Join(dir, "archive"), c, rng) {
		return "nothing changed"
	}
	damagedTree := archiveOf(t, dir)
	out, errs, code := wane(t, append(strings.Fields(c.command), "--site", dir)...)
	told := out + errs
	if c.command == "check" {
		if d := differing(damagedTree, archiveOf(t, dir)); d != nil {
			t.Errorf("%s: check changed %v", what, d)
		}
		if code != exitFailed && !strings.Contains(told, "wait to be offered again") {
			t.Errorf("%s: check ends with %d:\n%s", what, code, told)
		}
		return "found by check"
	}
	if code == exitDone || code == exitPerson {
		if c.command != "nightly" {
			_, more, ncode := wane(t, "nightly", "--site", dir)
			told, code = told+more, ncode
		}
	}
	if code == exitDone || code == exitPerson {
		left := differing(d.want, archiveOf(t, dir))
		if left == nil {
			return "as undisturbed"
		}
		if c.kind == "doubled" && (kindOfFile(c.file) == "originals" || c.file == "manifest.json") && len(left) == 1 {
			return "as undisturbed, and a stray copy" // of a name that nothing asks for: it counts for nothing
		}
		for _, f := range left {
			name, _, _ := strings.Cut(f, " ")
			if !strings.Contains(told, name) {
				t.Errorf("%s: silent: %v\n%s", what, left, told)
				return "silent"
			}
		}
		d.bringBack(t, what, dir)
		return "told, then as undisturbed"
	}
	if code == exitInterrupted || strings.TrimSpace(errs+told) == "" || strings.Contains(told, "panic") ||
		strings.Contains(told, "index out of range") {
		t.Errorf("%s: ends with %d and %q", what, code, told)
	}
	d.bringBack(t, what, dir)
	return "refused, then as undisturbed"
}

// bringBack puts what was damaged back from a backup, repairs, and runs the night.
func (d *damaged) bringBack(t *testing.T, what, dir string) {
	t.Helper()
	now := archiveOf(t, dir)
	for f, text := range d.before {
		if now[f] == text || !strings.HasPrefix(f, "originals/") && f != "manifest.json" {
			continue // the rest is made again
		}
		if f == "manifest.json" && now[f] == d.want[f] {
			continue
		}
		p := filepath.Join(dir, "archive", filepath.FromSlash(f))
		if err := os.MkdirAll(filepath.Dir(p), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(p, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	told := ""
	for _, args := range [][]string{{"check", "--repair"}, {"nightly"}} {
		out, errs, code := wane(t, append(args, "--site", dir)...)
		if told += out + errs; code != exitDone && code != exitPerson {
			t.Errorf("%s: brought back, then %v ends with %d:\n%s", what, args, code, told)
			return
		}
	}
	if left := differing(d.want, archiveOf(t, dir)); left != nil {
		t.Errorf("%s: brought back, and still other: %v\n%s", what, left, told)
	}
}

func differing(want, got map[string]string) (out []string) {
	for _, f := range sortedKeys(want) {
		if b, ok := got[f]; !ok {
			out = append(out, f+" is missing")
		} else if b != want[f] {
			out = append(out, f+" is another")
		}
	}
	for _, f := range sortedKeys(got) {
		if _, ok := want[f]; !ok {
			out = append(out, f+" is new")
		}
	}
	return out
}
