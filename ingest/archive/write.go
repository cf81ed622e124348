package archive

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"

	"wane/ingest/archive/internal/parq"
	"wane/ingest/internal/fsys"
)

// tmpDir holds files in the making. Whatever lies there when no one writes is
// left over from a crash.
const tmpDir = "tmp"

// writer makes files and gives them their places. It may be used from many
// goroutines. Waiting for the disk takes longer than all else in a small import,
// and the disk serves many as fast as one, so it waits for all at once: what is
// put off with later is done when wait returns, and the folders that changed
// are made durable together, before the manifest is swapped.
type writer struct {
	dir string
	fs  fsys.FS
	n   *atomic.Int64 // names given under the lock: what an earlier one left lies there until somebody looks

	room chan struct{} // how many may wait for the disk at once; nil: do all in turn

	wg    sync.WaitGroup
	mu    sync.Mutex
	errs  []error
	dirty map[string]bool // folders in which names changed
}

// newWriter makes a writer. With one worker everything happens in turn. Whoever
// makes it tells the lock when nothing is left of it that does not count.
func newWriter(l *Lock, workers int) (*writer, error) {
	w := &writer{dir: l.dir, fs: l.fs, n: &l.named, dirty: map[string]bool{}}
	if workers > 1 {
		w.room = make(chan struct{}, 64)
	}
	l.begin()
	return w, fsys.MkdirAll(w.fs, w.dir, tmpDir)
}

// later does something that waits for the disk. Its error comes from wait. It
// blocks while too much is waiting already, and is not called by what it does.
func (w *writer) later(fn func() error) {
	if w.room == nil {
		w.fail(fn())
		return
	}
	w.room <- struct{}{}
	w.wg.Go(func() {
		defer func() { <-w.room }()
		w.fail(fn())
	})
}

// queue calls fn, which calls later often, so that nobody waits for its turn.
func (w *writer) queue(fn func()) {
	if w.room == nil {
		fn()
		return
	}
	w.wg.Go(fn)
}

func (w *writer) fail(err error) {
	if err != nil {
		w.mu.Lock()
		w.errs = append(w.errs, err)
		w.mu.Unlock()
	}
}

// wait ends when all that was put off is done.
func (w *writer) wait() error {
	w.wg.Wait()
	w.mu.Lock()
	defer w.mu.Unlock()
	err := errors.Join(w.errs...)
	w.errs = nil
	return err
}

// create starts a file in the folder for files in the making.
func (w *writer) create() (*fsys.File, error) {
	return fsys.Create(w.fs, filepath.Join(w.dir, tmpDir, fmt.Sprintf("%06d", w.n.Add(1))))
}

// place makes a finished file durable and gives it its name, relative to the
// archive. The name is durable after the next syncFolders.
func (w *writer) place(f *fsys.File, rel string) error {
	defer f.Discard()
	if err := f.Sync(); err != nil {
		return err
	}
	if err := w.folder(filepath.Dir(rel)); err != nil {
		return err
	}
	if err := f.Move(filepath.Join(w.dir, rel)); err != nil {
		return err
	}
	w.changed(filepath.Dir(rel))
	return nil
}

// folder makes a folder of the archive with all above it.
func (w *writer) folder(rel string) error {
	if rel == "." {
		return nil
	}
	info, err := os.Stat(filepath.Join(w.dir, rel))
	switch {
	case err == nil && info.IsDir():
		return nil
	case err == nil:
		return fmt.Errorf("%s is in the way: it is not a folder", filepath.Join(w.dir, rel))
	case !errors.Is(err, fs.ErrNotExist):
		return err
	}
	if err := w.folder(filepath.Dir(rel)); err != nil {
		return err
	}
	if err := w.fs.Mkdir(filepath.Join(w.dir, rel)); err != nil {
		return err
	}
	w.changed(filepath.Dir(rel))
	return nil
}

func (w *writer) changed(rel string) {
	w.mu.Lock()
	w.dirty[filepath.Join(w.dir, rel)] = true
	w.mu.Unlock()
}

// syncFolders makes the names durable that were given since the last time.
func (w *writer) syncFolders() error {
	w.mu.Lock()
	names := sortedKeys(w.dirty)
	w.dirty = map[string]bool{}
	w.mu.Unlock()
	for _, n := range names {
		w.later(func() error { return w.fs.SyncDir(n) })
	}
	return w.wait()
}

// dirtyBelow gives the folders below one of the archive's in which names changed,
// for the caller to make durable.
func (w *writer) dirtyBelow(rel string) []string {
	w.mu.Lock()
	defer w.mu.Unlock()
	var out []string
	for _, n := range sortedKeys(w.dirty) {
		if up := filepath.Join(w.dir, rel); n == up || strings.HasPrefix(n, up+string(filepath.Separator)) {
			out = append(out, n)
			delete(w.dirty, n)
		}
	}
	return out
}

// publish gives a finished file its place among the parts, under a name that
// tells its content, and completes the part. The file is there after wait.
func (w *writer) publish(f *fsys.File, p Part, folder string) Part {
	p.Bytes, p.SHA256 = f.Size(), f.Sum()
	p.Path = path.Join(p.Table, folder, p.SHA256[:16]+".parquet")
	w.later(func() error { return w.place(f, filepath.FromSlash(p.Path)) })
	return p
}

// table writes a part of any table but Readings.
func (w *writer) table(p Part, codec parq.Codec, cols []Column) (Part, error) {
	f, err := w.create()
	if err != nil {
		return p, err
	}
	if err := parq.WriteTable(f, codec, cols); err != nil {
		f.Discard()
		return p, fmt.Errorf("write table %s: %w", path.Join(p.Table, p.Partition), err)
	}
	p.Rows = int64(cols[0].Len())
	return w.publish(f, p, p.Partition), nil
}

// swap makes m the manifest of the archive: the one instant at which anything
// counts. Everything put off is done, and durable, before.
func (w *writer) swap(m *Manifest) error {
	f, err := w.create()
	if err != nil {
		return err
	}
	defer f.Discard()
	if _, err := f.Write(m.encode()); err != nil {
		return err
	}
	w.later(f.Sync) // together with what else waits for the disk
	for range 2 {   // what was put off changes folders too
		if err := w.syncFolders(); err != nil {
			return err
		}
	}
	if err := f.Publish(filepath.Join(w.dir, manifestName)); err != nil {
		return fmt.Errorf("swap the manifest: %w", err)
	}
	return nil
}
