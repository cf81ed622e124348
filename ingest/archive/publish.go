package archive

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"time"

	"wane/ingest/archive/internal/fsys"
)

// publish gives the originals their names and swaps the manifest.
func (t *Take) publish(next *Manifest, files []File) error {
	if err := t.w.journal(files); err != nil {
		return err
	}
	folders := map[string]bool{}
	for _, s := range t.sinks {
		k := s.kept
		if k.Describe != nil {
			if err := t.w.original(k.describeSHA, func(f io.Writer) error { _, err := f.Write(k.Describe); return err }); err != nil {
				return fmt.Errorf("keep the description of %s: %w", k.Name, err)
			}
		}
		rel := filepath.Dir(originalPath(k.SHA256))
		if err := fsys.MkdirAll(t.lock.fs, t.lock.dir, rel); err != nil {
			return err
		}
		folders[filepath.Join(t.lock.dir, rel)] = true
	}
	err := t.waitForDisk(len(t.sinks), func(i int) error {
		k := t.sinks[i].kept
		err := t.w.sidecar(sidecarOf(&files[i]))
		if err == nil && k.tmp != nil {
			err = k.tmp.Move(filepath.Join(t.lock.dir, originalPath(k.SHA256)))
		}
		if err != nil {
			return fmt.Errorf("keep %s: %w", k.Name, err)
		}
		return nil
	})
	if err != nil {
		return err
	}
	names := sortedKeys(folders)
	if err := t.waitForDisk(len(names), func(i int) error { return t.lock.fs.SyncDir(names[i]) }); err != nil {
		return err
	}
	return t.w.swap(next)
}

// waitForDisk calls fn for 0 to n-1, several at once where the take may use
// several workers: fn waits for the disk, which serves many as fast as one.
func (t *Take) waitForDisk(n int, fn func(int) error) error {
	workers := 16
	if t.opt.Workers == 1 {
		workers = 1
	}
	var next atomic.Int64
	errs := make([]error, min(workers, n))
	var wg sync.WaitGroup
	for w := range errs {
		wg.Go(func() {
			for errs[w] == nil {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				errs[w] = fn(i)
			}
		})
	}
	wg.Wait()
	return errors.Join(errs...)
}

// syncOriginals makes the copies durable, under their temporary names.
func (t *Take) syncOriginals() error {
	return t.waitForDisk(len(t.sinks), func(i int) error {
		if k := t.sinks[i].kept; k.tmp != nil {
			if err := k.tmp.Sync(); err != nil {
				return fmt.Errorf("keep %s: %w", k.Name, err)
			}
		}
		return nil
	})
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
func (w *writer) original(sha string, write func(io.Writer) error) error {
	path := filepath.Join(w.dir, originalPath(sha))
	if _, err := os.Lstat(path); err == nil {
		return nil
	}
	if err := fsys.MkdirAll(w.fs, w.dir, filepath.Dir(originalPath(sha))); err != nil {
		return err
	}
	f, err := w.create()
	if err != nil {
		return err
	}
	defer f.Discard()
	if err := write(f); err != nil {
		return err
	}
	if f.Sum() != sha {
		return fmt.Errorf("the content of %s is not what its name says", sha)
	}
	return f.Publish(path)
}

func sidecarOf(f *File) sidecar {
	return sidecar{f.SHA256, f.Name, f.Size, f.Modified, f.TakenIn, f.Sequence, f.Source, f.DescriptionSHA}
}

// sidecar writes the sidecar of an original, unless the very same is there. The
// name is made durable by the caller.
func (w *writer) sidecar(s sidecar) error {
	path := filepath.Join(w.dir, originalPath(s.SHA256)+".json")
	if had, err := os.ReadFile(path); err == nil && bytes.Equal(had, s.encode()) {
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
	return f.Move(path)
}
