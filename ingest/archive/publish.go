package archive

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"wane/ingest/archive/internal/fsys"
)

// publish gives the originals their names and swaps the manifest. sides are the
// sidecars by sink, nil where the very same is there.
func (t *Take) publish(next *Manifest, sides []*fsys.File) error {
	// Every part is in its place and the journal is written before an original
	// gets its name.
	if err := t.w.wait(); err != nil {
		return err
	}
	if err := t.w.syncFolders(); err != nil {
		return err
	}
	for i, s := range t.sinks {
		t.w.later(func() error {
			var err error
			if sides[i] != nil {
				err = t.w.place(sides[i], originalPath(s.kept.SHA256)+".json")
			}
			if err == nil {
				err = t.w.keep(s.kept)
			}
			if err != nil {
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
func (t *Take) announce() (sides []*fsys.File) {
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
	sides = make([]*fsys.File, len(t.sinks))
	t.w.queue(func() {
		for i, s := range t.sinks {
			t.w.later(func() (err error) {
				f := s.file()
				if sides[i], err = t.w.sidecar(sidecarOf(&f)); err != nil {
					return fmt.Errorf("keep %s: %w", s.kept.Name, err)
				}
				return nil
			})
		}
	})
	return sides
}

// sidecar is what is written beside an original: all that is known of it and
// cannot be found by reading it again.
type sidecar struct {
	SHA256         string    `json:"sha256"`
	Name           string    `json:"name"`
	Size           int64     `json:"size"`
	Modified       time.Time `json:"modified"`
	TakenIn        time.Time `json:"taken_in"`
	Sequence       int64     `json:"sequence"`
	Source         string    `json:"source,omitempty"`
	DescriptionSHA string    `json:"description_sha256,omitempty"`
}

func (s sidecar) encode() []byte {
	b, err := json.MarshalIndent(s, "", " ")
	if err != nil {
		panic(fmt.Sprintf("a sidecar is plain data: %v", err))
	}
	return append(b, '\n')
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

func sidecarOf(f *File) sidecar {
	return sidecar{f.SHA256, f.Name, f.Size, f.Modified, f.TakenIn, f.Sequence, f.Source, f.DescriptionSHA}
}

// sidecar makes the sidecar of an original, durable under a temporary name. It
// gives nil if the very same is there.
func (w *writer) sidecar(s sidecar) (*fsys.File, error) {
	b := s.encode()
	if had, err := os.ReadFile(filepath.Join(w.dir, originalPath(s.SHA256)+".json")); err == nil && bytes.Equal(had, b) {
		return nil, nil
	}
	f, err := w.create()
	if err != nil {
		return nil, err
	}
	if _, err = f.Write(b); err == nil {
		err = f.Sync()
	}
	if err != nil {
		f.Discard()
		return nil, err
	}
	return f, nil
}
