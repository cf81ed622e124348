package archive

import (
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"sync"
)

// announce gives the originals, their sidecars and descriptions their names, which
// is the disk's affair while the readings are merged. Nothing of it counts yet;
// the journal, which is durable before, tells the next run what to clear up.
func (t *Import) announce() {
	described := map[string]bool{}
	t.w.queue(func() {
		if t.sure == nil { // a rebuild names no originals
			if err := t.journal(); err != nil {
				t.w.fail(fmt.Errorf("write the journal: %w", err))
				return
			}
		}
		var named sync.WaitGroup
		later := func(what, name string, do func() error) {
			named.Add(1)
			t.w.later(func() error {
				defer named.Done()
				if err := do(); err != nil {
					return fmt.Errorf("keep %s%s: %w", what, name, err)
				}
				return nil
			})
		}
		later("", "the sidecars", t.sidecars)
		for _, s := range t.sinks {
			k := s.kept
			if k.Describe != nil && !described[k.describeSHA] {
				described[k.describeSHA] = true
				later("the description of ", k.Name, func() error { return t.w.original(k.describeSHA, k.Describe) })
			}
			later("", k.Name, func() error { return t.w.keep(k) })
		}
		named.Wait()
		for _, dir := range t.w.dirtyBelow(originalsDir) {
			t.w.later(func() error { return t.w.fs.SyncDir(dir) })
		}
	})
}

// keep gives an original its name.
func (w *writer) keep(k *Kept) error {
	if k.tmp == nil {
		return nil // of a rebuild: it is there
	}
	return w.place(k.tmp, originalPath(k.SHA256))
}

// sidecars writes those that are not there.
func (t *Import) sidecars() error {
	want := make([]sidecar, len(t.sinks))
	for i, s := range t.sinks {
		f := s.file()
		want[i] = sidecarOf(&f)
	}
	had := &sides{}
	if t.sure != nil {
		var err error
		if had, err = readSides(t.lock.dir, math.MaxInt64); err != nil {
			return err
		}
	}
	lists := had.missing(want)
	if t.sure == nil { // a rebuild may say it anew; an import tells of new files alone
		for path := range lists {
			if _, err := os.Lstat(filepath.Join(t.lock.dir, path)); !errors.Is(err, fs.ErrNotExist) {
				return fmt.Errorf("%w: %s is there already, and a list is never written over; run `wane rebuild`", ErrLost,
					filepath.ToSlash(path))
			}
		}
	}
	return t.w.placeAll(lists)
}

// placeAll writes files, by path.
func (w *writer) placeAll(files map[string][]byte) error {
	for _, path := range sortedKeys(files) {
		if err := w.placeBytes(files[path], path); err != nil {
			return err
		}
	}
	return nil
}

func (w *writer) placeBytes(b []byte, path string) error {
	f, err := w.create()
	if err != nil {
		return err
	}
	defer f.Discard()
	if _, err := f.Write(b); err != nil {
		return err
	}
	return w.place(f, path)
}

// original writes bytes under their SHA-256 among the originals. A copy that a
// killed run has left there may not be in the archive's bucket.
func (w *writer) original(sha string, b []byte) error { return w.placeBytes(b, originalPath(sha)) }
