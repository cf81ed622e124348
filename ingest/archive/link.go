package archive

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"wane/ingest/archive/internal/fsys"
	"wane/ingest/internal/lease"
)

// A file of the inbox becomes an original by a second name (a hard link) where
// that is safe, which spares the disk its bytes. It is read where it lies and
// held open until the import ends; a file that is replaced, removed or appended
// to meanwhile is copied through that descriptor.
//
// Until the removal of the first name, whoever opened it by that for writing would
// write into the archive. So the time from shortly before the manifest is swapped
// is spent under a lease, which keeps such openers waiting, and an original that
// any has come for, or that has been touched before, is made a file of its own.
// What a kill leaves shared the next run makes a file of its own or, where it
// does not count, removes.

// ErrTouched says that a file was written over while it was imported, so that
// what was read of it is gone. Nothing of the import counts. It can be repeated
// with Options.Copy.
var ErrTouched = errors.New("was written over while it was imported")

const (
	mostLinked    = 256       // files of an import: each is held open
	largestLinked = 256 << 20 // bytes: such a file can be copied before the system ends a lease
	// settledFor is how long a file must have been left alone. Were it written
	// to again within a tick of the disk's clock, its times would not tell; and
	// the coarsest disk ticks every 2 s.
	settledFor = 2 * time.Second
	// copyMode is what anyone may do with a copy. A file that allows more is copied.
	copyMode = 0o644
)

// mayLink says whether a file can be kept by a link.
func (t *Import) mayLink(in Input, f *os.File, info os.FileInfo) bool {
	i, ok := inodeOf(info)
	if !ok || !in.Remove || t.opt.Copy || i.links != 1 || i.owner != os.Geteuid() || i.device != t.w.device ||
		info.Mode()&^copyMode != 0 || info.Size() > largestLinked || t.w.began.Sub(info.ModTime()) < settledFor {
		return false
	}
	if t.linked.Add(1) > mostLinked || lease.Take(f) != nil {
		return false
	}
	lease.Release(f)
	return true
}

// link gives the file itself its name among the originals. It says no if that is
// not possible, or the file is no longer as it was read.
func (w *writer) link(k *Kept) bool {
	if now, ok := k.unchanged(); !ok || now != k.inode {
		return false
	}
	rel := originalPath(k.SHA256)
	if w.folder(filepath.Dir(rel)) != nil || w.fs.Link(k.Path, filepath.Join(w.dir, rel)) != nil {
		return false
	}
	w.changed(filepath.Dir(rel))
	// Another file may have come under the name just before.
	there, err := os.Lstat(filepath.Join(w.dir, rel))
	now, ok := k.unchanged()
	k.inode = now
	return err == nil && ok && os.SameFile(there, k.info)
}

// unchanged says whether the file has the size and the time of change with which
// it was read.
func (k *Kept) unchanged() (inode, bool) {
	now, err := k.from.Stat()
	if err != nil || now.Size() != k.Size || !now.ModTime().Equal(k.info.ModTime()) {
		return inode{}, false
	}
	return inodeOf(now)
}

// hold takes the lease of a file that is linked, to be held until letGo, and says
// whether it is as it was read and nobody has it open for writing.
func (k *Kept) hold() bool {
	if lease.Take(k.from) != nil {
		return false
	}
	now, ok := k.unchanged()
	return ok && now == k.inode
}

// copyOut copies what was kept through its descriptor, under whatever name it
// lies now. What was appended to it is not what was kept.
func (w *writer) copyOut(k *Kept) (*fsys.File, error) {
	return w.copyAgain(k.from, k.Size, k.SHA256, k.Name)
}

func (w *writer) copyAgain(from io.ReaderAt, size int64, sha, name string) (*fsys.File, error) {
	f, err := w.create()
	if err != nil {
		return nil, err
	}
	if _, err = io.Copy(f, io.NewSectionReader(from, 0, size)); err == nil && f.Sum() != sha {
		err = fmt.Errorf("%s %w", name, ErrTouched)
	}
	if err != nil {
		f.Discard()
		return nil, err
	}
	return f, nil
}

// letGo ends the leases, once the names in the inbox are removed. An original
// that still has another name, or that someone waits to write to, is made a
// file of its own before.
func (t *Import) letGo() error {
	var errs []error
	for _, s := range t.sinks {
		k := s.kept
		if k.from == nil {
			continue
		}
		if k.linked && !k.alone() {
			if err := t.w.instead(k); err != nil {
				errs = append(errs, fmt.Errorf("%s: %v", k.Name, err))
			}
		}
	}
	errs = append(errs, t.w.syncFolders())
	for _, s := range t.sinks {
		s.kept.discard()
	}
	return errors.Join(errs...)
}

// alone says whether the original is the file's only name and nobody is about to
// write to it.
func (k *Kept) alone() bool {
	info, err := k.from.Stat()
	if err != nil {
		return false
	}
	i, ok := inodeOf(info)
	return ok && i.links == 1 && lease.Holds(k.from)
}

// unshare makes an original a file of its own if it has another name, as a
// killed run may leave it.
func (w *writer) unshare(f Known) error {
	path := filepath.Join(w.dir, originalPath(f.SHA256))
	if !shared(path) {
		return nil
	}
	from, err := os.Open(path)
	if err != nil {
		return err
	}
	defer from.Close()
	own, err := w.copyAgain(from, f.Size, f.SHA256, f.Name)
	if errors.Is(err, ErrTouched) {
		return nil // check tells of it
	}
	if err != nil {
		return err
	}
	return w.place(own, originalPath(f.SHA256))
}

// shared says whether a file has another name.
func shared(path string) bool {
	info, err := os.Lstat(path)
	if err != nil {
		return false
	}
	i, ok := inodeOf(info)
	return ok && i.links > 1
}
