package archive

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"time"
)

// publish gives the originals their names and swaps the manifest.
func (t *Take) publish(next *Manifest, files []File) error {
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
			err := t.w.sidecar(sidecarOf(&files[i]))
			if err == nil && s.kept.tmp != nil {
				err = t.w.place(s.kept.tmp, originalPath(s.kept.SHA256))
			}
			if err != nil {
				return fmt.Errorf("keep %s: %w", s.kept.Name, err)
			}
			return nil
		})
	}
	return t.w.swap(next)
}

// announce writes the descriptions and the journal.
func (t *Take) announce() {
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
	t.w.later(t.journal)
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

// sidecar writes the sidecar of an original, unless the very same is there.
func (w *writer) sidecar(s sidecar) error {
	rel := originalPath(s.SHA256) + ".json"
	if had, err := os.ReadFile(filepath.Join(w.dir, rel)); err == nil && bytes.Equal(had, s.encode()) {
		return nil
	}
	f, err := w.create()
	if err != nil {
		return err
	}
	defer f.Discard()
	if _, err := f.Write(s.encode()); err != nil {
		return err
	}
	return w.place(f, rel)
}
