package archive

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func flip(t *testing.T, path string) {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	b[len(b)/3] ^= 4
	if err := os.WriteFile(path, b, 0o644); err != nil {
		t.Fatal(err)
	}
}

// A flipped bit of a part that the import takes up stops it before it writes:
// the readings do not come out under a new, valid checksum.
func TestDamagedPartIsNotWrittenAgain(t *testing.T) {
	for _, table := range []string{Readings, Files} {
		dir, inbox := scene(t)
		a, err := Open(dir)
		if err != nil {
			t.Fatal(err)
		}
		flip(t, a.Path(a.Parts(table)[0]))
		if err := attempt(dir, inbox, hasty{}); !errors.Is(err, ErrDamaged) {
			t.Errorf("%s: the import ends with %v", table, err)
		}
		if err := repair(t, dir); err != nil {
			t.Fatal(err)
		}
		if err := attempt(dir, inbox, hasty{}); err != nil {
			t.Fatal(err)
		}
		want, _ := undisturbed(t)
		got, err := tree(dir)
		if err != nil {
			t.Fatal(err)
		}
		if d := differ(want, got); d != nil {
			t.Errorf("%s: %v", table, d)
		}
	}
}

// An archive whose manifest is gone is not a new one, for whoever reads or writes,
// and neither is one whose manifest is older than its lists; a rebuild makes the
// same manifest again, and nothing is lost.
func TestLostManifest(t *testing.T) {
	for _, way := range []string{"gone", "older"} {
		dir, inbox := scene(t)
		older, err := os.ReadFile(filepath.Join(dir, manifestName))
		if err != nil {
			t.Fatal(err)
		}
		if err := attempt(dir, inbox, hasty{}); err != nil {
			t.Fatal(err)
		}
		want, err := tree(dir)
		if err != nil {
			t.Fatal(err)
		}
		if way == "gone" {
			err = os.Remove(filepath.Join(dir, manifestName))
		} else {
			err = os.WriteFile(filepath.Join(dir, manifestName), older, 0o644)
		}
		if err != nil {
			t.Fatal(err)
		}
		if _, err := Open(dir); way == "gone" && (!errors.Is(err, ErrLost) ||
			!strings.Contains(err.Error(), "wane rebuild")) {
			t.Errorf("%s: a reader gets %v", way, err)
		}
		if err := os.WriteFile(filepath.Join(inbox, "next"), []byte("s1 c1 1795608000000000 1 0\n"), 0o644); err != nil {
			t.Fatal(err)
		}
		if err := attempt(dir, inbox, hasty{}); !errors.Is(err, ErrLost) {
			t.Errorf("%s: an import ends with %v", way, err)
		}
		l := mustLock(t, dir)
		if _, err := Derive(l, "daily"); !errors.Is(err, ErrLost) {
			t.Errorf("%s: deriving ends with %v", way, err)
		}
		if err := DropDerived(l); !errors.Is(err, ErrLost) {
			t.Errorf("%s: dropping ends with %v", way, err)
		}
		if f := findings(t, dir); len(f) == 0 {
			t.Errorf("%s: check finds nothing", way)
		}
		if _, err := Rebuild(t.Context(), l, RebuildOptions{Decode: decodeLines}); err != nil {
			t.Fatal(way, err)
		}
		l.Release()
		got, err := tree(dir)
		if err != nil {
			t.Fatal(err)
		}
		if d := differ(want, got); d != nil {
			t.Errorf("%s: %v", way, d)
		}
	}
}

// Without manifest, lists and table of files nothing tells what the originals are:
// a rebuild refuses and touches nothing.
func TestRebuildRefusesWhatNothingTells(t *testing.T) {
	dir, _ := settled(t)
	for _, gone := range []string{manifestName, listsDir, Files} {
		if err := os.RemoveAll(filepath.Join(dir, gone)); err != nil {
			t.Fatal(err)
		}
	}
	want, err := tree(dir)
	if err != nil {
		t.Fatal(err)
	}
	l := mustLock(t, dir)
	defer l.Release()
	if _, err := Rebuild(t.Context(), l, RebuildOptions{Decode: decodeLines}); err == nil ||
		!strings.Contains(err.Error(), "move it into the inbox") {
		t.Errorf("it ends with %v", err)
	}
	got, err := tree(dir)
	if err != nil {
		t.Fatal(err)
	}
	if d := differ(want, got); d != nil {
		t.Error(d)
	}
}

// An original that is gone or damaged is whole again once the same file is sent
// again, under whatever name.
func TestCopyThatTurnsUpHeals(t *testing.T) {
	for _, damage := range []func(path string){
		func(p string) { _ = os.Remove(p) }, func(p string) { flip(t, p) }, func(p string) { _ = os.Truncate(p, 0) },
	} {
		dir, want := settled(t)
		text := ""
		for n, b := range want {
			if strings.HasPrefix(n, originalsDir) && !strings.HasSuffix(n, ".json") && strings.Contains(b, "rubbish only") {
				text = b
				damage(filepath.Join(dir, n))
			}
		}
		inbox := t.TempDir()
		for _, name := range []string{"again", "and again"} {
			if err := os.WriteFile(filepath.Join(inbox, name), []byte(text), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		l := mustLock(t, dir)
		res, err := importAll(l, Options{Now: noon}, inbox)
		if err != nil || len(res.Healed) != 1 || len(res.Again) != 2 {
			t.Fatalf("%+v, %v", res, err)
		}
		l.Release()
		got, err := tree(dir)
		if err != nil {
			t.Fatal(err)
		}
		if d := differ(want, got); d != nil {
			t.Error(d)
		}
		if left, err := os.ReadDir(inbox); err != nil || len(left) > 0 {
			t.Errorf("%v is left, %v", left, err)
		}
	}
}

// A check beside imports finds nothing: where the manifest moved on it starts over.
func TestCheckBesideImports(t *testing.T) {
	dir, inbox := scene(t)
	done := make(chan error, 1)
	go func() {
		for i := range 12 {
			text := strings.Replace("s1 c1 17956080000X0000 1 0\n", "X", string(rune('0'+i%10)), 1)
			if err := os.WriteFile(filepath.Join(inbox, "n"), []byte(text+strings.Repeat("rubbish\n", i)), 0o644); err != nil {
				done <- err
				return
			}
			if err := attempt(dir, inbox, hasty{}); err != nil {
				done <- err
				return
			}
		}
		done <- nil
	}()
	for checks := 0; ; checks++ {
		if f := findings(t, dir); f != nil {
			t.Fatalf("check %d: %v", checks, f)
		}
		select {
		case err := <-done:
			if err != nil {
				t.Fatal(err)
			}
			return
		default:
		}
	}
}

// All of an archive is verified within 30 nights whatever its size, and what was
// damaged is found.
func TestScrubGoesRound(t *testing.T) {
	var all []*held
	for i := range 4 * shares {
		all = append(all, &held{path: "x", bytes: 1 << 30, sha: sum([]byte{byte(i), byte(i >> 8)})})
	}
	var s scrubState
	last := map[*held]int32{}
	for day := int32(20000); day < 20100; day++ {
		chosen := choose(all, &s, day)
		if len(chosen) > len(all)/10 {
			t.Fatalf("day %d: %d of %d files in one night", day, len(chosen), len(all))
		}
		for _, h := range chosen {
			last[h] = day
		}
		for _, h := range all {
			if day >= 20000+shareNights-1 && day-last[h] >= shareNights {
				t.Fatalf("day %d: a file was last verified on day %d", day, last[h])
			}
		}
	}
	dir, want := settled(t)
	for n := range want {
		if strings.HasPrefix(n, "daily/") || strings.HasPrefix(n, originalsDir) && strings.HasSuffix(n, "a") {
			flip(t, filepath.Join(dir, n))
		}
	}
	l := mustLock(t, dir)
	defer l.Release()
	r, err := Scrub(t.Context(), l, noon)
	if err != nil || len(r.Findings) == 0 || !r.Mends() {
		t.Fatalf("%+v, %v", r, err)
	}
	if least, most, never := Verified(dir, noon.AddDate(0, 0, 3)); least != 3 || most != 3 || never != 0 {
		t.Errorf("verified %d to %d days ago, %d never", least, most, never)
	}
}
