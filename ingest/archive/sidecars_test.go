package archive

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// asFormat1 makes the archive what the program that knew format 1 alone left:
// each sidecar a file beside its original.
func asFormat1(t *testing.T, dir string) {
	t.Helper()
	told, err := readSides(dir, 1<<40)
	if err != nil {
		t.Fatal(err)
	}
	for sha, s := range told.of {
		if err := os.WriteFile(filepath.Join(dir, sidePath(sha)), encode(s), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.RemoveAll(filepath.Join(dir, listsDir)); err != nil {
		t.Fatal(err)
	}
	m, err := loadManifest(dir)
	if err != nil {
		t.Fatal(err)
	}
	m.Format = 1
	if err := os.WriteFile(filepath.Join(dir, manifestName), m.encode(), 0o644); err != nil {
		t.Fatal(err)
	}
}

func rebuild(t *testing.T, dir string) {
	t.Helper()
	l := mustLock(t, dir)
	defer l.Release()
	if _, err := Rebuild(context.Background(), l, RebuildOptions{Decode: decodeLines}); err != nil {
		t.Fatal(err)
	}
}

// An archive of format 1 is read, mended and rebuilt as it is, and the next import
// adds to it and makes it format 2.
func TestFormat1(t *testing.T) {
	dir, inbox := scene(t)
	l := mustLock(t, dir)
	asFormat1(t, dir)
	if f := findings(t, dir); f != nil {
		t.Fatal(f)
	}
	old, err := tree(dir)
	if err != nil {
		t.Fatal(err)
	}
	if err := l.Release(); err != nil {
		t.Fatal(err)
	}
	rebuild(t, dir)
	got, err := tree(dir)
	if err != nil {
		t.Fatal(err)
	}
	delete(old, manifestName) // it is of format 2 now
	delete(got, manifestName)
	if d := differ(old, got); d != nil {
		t.Errorf("after a rebuild: %v", d)
	}
	for name := range old {
		if !strings.HasSuffix(name, ".json") {
			continue
		}
		// One that is gone comes again in a list.
		for _, damage := range []func(string) error{func(p string) error { return os.Truncate(p, 7) }, os.Remove} {
			if err := damage(filepath.Join(dir, name)); err != nil {
				t.Fatal(err)
			}
			if f := findings(t, dir); len(f) != 1 {
				t.Errorf("a damaged sidecar: %v", f)
			}
			if err := repair(t, dir); err != nil {
				t.Fatal(err)
			}
			if f := findings(t, dir); f != nil {
				t.Errorf("after the repair: %v", f)
			}
		}
	}
	if err := attempt(dir, inbox, hasty{}); err != nil {
		t.Fatal(err)
	}
	if f := findings(t, dir); f != nil {
		t.Error(f)
	}
	want, err := tree(dir)
	if err != nil {
		t.Fatal(err)
	}
	if m, err := loadManifest(dir); err != nil || m.Format != 2 || m.Originals != 5 {
		t.Errorf("%+v, %v", m, err)
	}
	for name := range want {
		if !strings.HasPrefix(name, originalsDir) {
			if err := os.Remove(filepath.Join(dir, name)); err != nil {
				t.Fatal(err)
			}
		}
	}
	rebuild(t, dir)
	if got, err = tree(dir); err != nil {
		t.Fatal(err)
	}
	if d := differ(want, got); d != nil {
		t.Errorf("rebuilt from the originals: %v", d)
	}
}

// An import has one list, whose name an import that never counted leaves to the next.
func TestOneListATake(t *testing.T) {
	dir, _ := settled(t)
	names, err := filepath.Glob(filepath.Join(dir, listsDir, "*"))
	if err != nil || len(names) != 2 || filepath.Base(names[0]) != "00000001.json" ||
		filepath.Base(names[1]) != "00000003.json" {
		t.Errorf("%v, %v", names, err)
	}
}
