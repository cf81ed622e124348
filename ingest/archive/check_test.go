package archive

import (
	"context"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// decodeLines is the Decode of the test's own little files.
func decodeLines(_ context.Context, _ Original, f Content, s *Sink) (int64, error) {
	b, err := io.ReadAll(f)
	if err != nil {
		return 0, err
	}
	return parseLines(string(b), s)
}

// settled is the scene imported, with a derived table.
func settled(t *testing.T) (dir string, want map[string]string) {
	t.Helper()
	dir, inbox := scene(t)
	if err := attempt(dir, inbox, hasty{}); err != nil {
		t.Fatal(err)
	}
	l := mustLock(t, dir)
	d, err := Derive(l, "daily")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := d.Write("daily", "month=2026-11", "key",
		[]Column{{Name: "n", Type: Int64, Int: []int64{1, 2}}}); err != nil {
		t.Fatal(err)
	}
	if _, err := d.Commit(); err != nil {
		t.Fatal(err)
	}
	if err := l.Release(); err != nil {
		t.Fatal(err)
	}
	if want, err = tree(dir); err != nil {
		t.Fatal(err)
	}
	return dir, want
}

func findings(t *testing.T, dir string) []string {
	t.Helper()
	r, err := Check(context.Background(), dir)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, f := range r.Findings {
		out = append(out, f.String())
	}
	return out
}

func repair(t *testing.T, dir string) error {
	t.Helper()
	l := mustLock(t, dir)
	defer l.Release()
	_, err := Repair(context.Background(), l, RebuildOptions{Decode: decodeLines})
	return err
}

func TestCheckAddsUp(t *testing.T) {
	dir, _ := settled(t)
	r, err := Check(context.Background(), dir)
	if err != nil || len(r.Findings) != 0 || len(r.Waiting) != 0 {
		t.Fatalf("%+v, %v", r, err)
	}
	// By hand: a1 24 rows; a2 24 and a reject; b1 24 that a2 had, 24 new and a
	// reject; b2 24 new and one in conflict with a2; b3 a reject.
	if want := (Counts{Rows: 24 + 25 + 49 + 25 + 1, Stored: 24 + 24 + 24 + 25, Duplicate: 24,
		Quarantined: 3}); r.Counts != want || r.Files != 5 {
		t.Errorf("%d files, %+v, want 5 and %+v", r.Files, r.Counts, want)
	}
	a, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	err = a.EachConflict(func(c Conflict) error {
		if n++; len(c.Values) != 2 || c.Series.Sensor != "s1" {
			t.Errorf("conflict %v", c)
		}
		return nil
	})
	if err != nil || n != 1 {
		t.Errorf("%d conflicts, %v", n, err)
	}
}

// Whatever is damaged, check names it; what the originals can mend, repair makes
// again byte for byte; the rest it refuses to touch.
func TestDamageIsFoundAndMended(t *testing.T) {
	dir, want := settled(t)
	var names []string
	for n := range want {
		names = append(names, n)
	}
	slices.Sort(names)
	damages := map[string]func(path string) error{
		"missing": os.Remove,
		"cut":     func(p string) error { return os.Truncate(p, int64(len(p))%7) },
		"flipped": func(p string) error {
			b, err := os.ReadFile(p)
			if err == nil {
				b[len(b)/2] ^= 1
				err = os.WriteFile(p, b, 0o644)
			}
			return err
		},
	}
	for _, n := range names {
		if strings.HasPrefix(n, "tmp") {
			continue
		}
		for kind, damage := range damages {
			if kind == "missing" && n == manifestName {
				continue // an archive without a manifest is an empty one
			}
			if err := damage(filepath.Join(dir, n)); err != nil {
				t.Fatal(err)
			}
			found := findings(t, dir)
			if len(found) != 1 && n != manifestName || len(found) == 0 || !strings.Contains(found[0], n) {
				t.Errorf("%s %s: found %v", n, kind, found)
			}
			err := repair(t, dir)
			original := strings.HasPrefix(n, originalsDir) && !strings.HasSuffix(n, ".json")
			if original != (err != nil) {
				t.Fatalf("%s %s: repair: %v", n, kind, err)
			}
			got, err := tree(dir)
			if err != nil {
				t.Fatal(err)
			}
			d := differ(want, got)
			switch {
			case original:
				if err := os.WriteFile(filepath.Join(dir, n), []byte(want[n]), 0o644); err != nil {
					t.Fatal(err)
				}
			case n == manifestName || strings.HasPrefix(n, "daily/"):
				// The derived table is dropped: the next run makes it.
				for _, line := range d {
					if !strings.HasPrefix(line, "daily/") && !strings.HasPrefix(line, manifestName) {
						t.Errorf("%s %s: after the repair: %v", n, kind, d)
					}
				}
				if found := findings(t, dir); len(found) > 0 {
					t.Errorf("%s %s: after the repair: %v", n, kind, found)
				}
				for n, text := range want {
					if err := os.MkdirAll(filepath.Dir(filepath.Join(dir, n)), 0o755); err != nil {
						t.Fatal(err)
					}
					if err := os.WriteFile(filepath.Join(dir, n), []byte(text), 0o644); err != nil {
						t.Fatal(err)
					}
				}
			default:
				if d != nil {
					t.Errorf("%s %s: after the repair: %v", n, kind, d)
				}
			}
		}
	}
}

// From the originals and their sidecars alone comes the same archive.
func TestRebuildFromOriginalsAlone(t *testing.T) {
	dir, want := settled(t)
	for n := range want {
		if strings.HasPrefix(n, "daily/") {
			delete(want, n)
		}
	}
	names, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range names {
		if d.Name() != originalsDir {
			if err := os.RemoveAll(filepath.Join(dir, d.Name())); err != nil {
				t.Fatal(err)
			}
		}
	}
	l := mustLock(t, dir)
	defer l.Release()
	for range 2 {
		a, err := Rebuild(context.Background(), l, RebuildOptions{Decode: decodeLines, Memory: 1})
		if err != nil {
			t.Fatal(err)
		}
		got, err := tree(dir)
		if err != nil {
			t.Fatal(err)
		}
		delete(want, manifestName) // it names the derived table too
		delete(got, manifestName)
		if d := differ(want, got); d != nil {
			t.Fatal(d)
		}
		if f := findings(t, dir); f != nil || a.Manifest().Originals != 5 {
			t.Fatal(f)
		}
	}
}
