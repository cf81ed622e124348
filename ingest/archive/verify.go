package archive

import (
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"sync"
)

// ErrDamaged says that a part is not what the manifest says: bytes that changed on
// the disk, a part that is cut or gone. Whoever holds the lock may Repair.
var ErrDamaged = errors.New("the archive is damaged")

// verified remembers which parts were held against their checksum, so that each
// is read once for it in a view and the views that follow under one lock.
type verified struct {
	far *far // nil: there is no bucket to fetch from

	mu sync.Mutex
	ok map[string]bool // by path, which tells the content
}

func newVerified() *verified { return &verified{ok: map[string]bool{}} }

func (v *verified) has(path string) bool {
	v.mu.Lock()
	defer v.mu.Unlock()
	return v.ok[path]
}

func (v *verified) add(path string) {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.ok[path] = true
}

// verify holds a part's bytes against its checksum before anything of it is used.
// The error is ErrDamaged, and ErrGone besides where the part is not there.
func (a *Archive) verify(p Part) error {
	if a.seen.has(p.Path) {
		return nil
	}
	err := a.seen.whole(a.dir, filepath.FromSlash(p.Path), p.Bytes, p.SHA256)
	switch {
	case err == nil:
		a.seen.add(p.Path)
		return nil
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("%w, %w: %s: %w; run check --repair", ErrDamaged, ErrGone, p.Path, err)
	}
	return fmt.Errorf("%w: %s: %w; run check --repair", ErrDamaged, p.Path, err)
}

// Verify holds every part of the tables against its checksum: what reads parts
// past the archive, as a query engine does, asks before. No tables means all
// derived ones. The error is ErrDamaged, or ErrGone where the archive moved on.
func (a *Archive) Verify(tables ...string) error {
	for _, p := range a.m.Parts {
		wanted := len(tables) == 0 && !isBase(p.Table)
		for _, t := range tables {
			wanted = wanted || t == p.Table
		}
		if wanted {
			if err := a.verify(p); err != nil {
				return err
			}
		}
	}
	return nil
}

// Bring sees to it that all parts are in the folder, for what reads them past the
// archive. Those of a folder are.
func (a *Archive) Bring() error {
	if a.seen.far == nil {
		return nil
	}
	for _, p := range a.m.Parts {
		if err := a.verify(p); err != nil {
			return err
		}
	}
	return nil
}
