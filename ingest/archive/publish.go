package archive

import (
	"fmt"
	"math"
	"os"
	"path/filepath"

	"wane/ingest/archive/internal/fsys"
)

// publish gives the sidecars and the originals their names and swaps the manifest.
func (t *Take) publish(next *Manifest, told *announced) error {
	// Every part is in its place and the journal is written before an original
	// gets its name.
	if err := t.w.wait(); err != nil {
		return err
	}
	if err := t.w.syncFolders(); err != nil {
		return err
	}
	for path, f := range told.sides {
		t.w.later(func() error { return t.w.place(f, path) })
	}
	for _, s := range t.sinks {
		t.w.later(func() error {
			if err := t.w.keep(s.kept); err != nil {
				return fmt.Errorf("keep %s: %w", s.kept.Name, err)
			}
			return nil
		})
	}
	return t.w.swap(next)
}

// keep gives an original its name.
func (w *writer) keep(k *Kept) (err error) {
	if k.from != nil {
		if k.linked = w.link(k); k.linked {
			return nil
		}
		if k.tmp, err = w.copyOut(k); err != nil {
			return err
		}
	}
	if k.tmp == nil {
		return nil // of a rebuild: it is there
	}
	return w.place(k.tmp, originalPath(k.SHA256))
}

// announce writes the descriptions, the journal and the sidecars, which wait for
// their names. They are the disk's affair while the readings are merged.
func (t *Take) announce() *announced {
	described := map[string]bool{}
	for _, s := range t.sinks {
		k := s.kept
		if k.Describe != nil && !described[k.describeSHA] {
			described[k.describeSHA] = true
			t.w.later(func() error {
				if err := t.w.original(k.describeSHA, k.Describe); err != nil {
					return fmt.Errorf("keep the description of %s: %w", k.Name, err)
				}
				return nil
			})
		}
	}
	if t.sure == nil { // a rebuild names no originals
		t.w.later(t.journal)
	}
	told := &announced{sides: map[string]*fsys.File{}}
	t.w.later(func() error {
		if err := t.sidecars(told); err != nil {
			return fmt.Errorf("write the sidecars: %w", err)
		}
		return nil
	})
	return told
}

// announced are the sidecars that wait for their names, by those.
type announced struct{ sides map[string]*fsys.File }

func (a *announced) discard() {
	for _, f := range a.sides {
		f.Discard() // does nothing if it has its name
	}
}

// sidecars makes those that are not there, durable under temporary names.
func (t *Take) sidecars(told *announced) error {
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
	for path, b := range had.missing(want) {
		f, err := t.w.create()
		if err != nil {
			return err
		}
		told.sides[path] = f
		if _, err := f.Write(b); err != nil {
			return err
		}
		if err := f.Sync(); err != nil {
			return err
		}
	}
	return nil
}

// original writes bytes under their SHA-256 among the originals, if they are not
// there.
func (w *writer) original(sha string, b []byte) error {
	if _, err := os.Lstat(filepath.Join(w.dir, originalPath(sha))); err == nil {
		return nil
	}
	f, err := w.create()
	if err != nil {
		return err
	}
	defer f.Discard()
	if _, err := f.Write(b); err != nil {
		return err
	}
	return w.place(f, originalPath(sha))
}
