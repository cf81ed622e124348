package archive

import (
	"fmt"
	"path"
	"path/filepath"
	"sync/atomic"

	"wane/ingest/archive/internal/fsys"
	"wane/ingest/archive/internal/parq"
)

// tmpDir holds files in the making. Whatever lies there when no one writes is
// left over from a crash.
const tmpDir = "tmp"

// writer makes parts. It may be used from many goroutines.
type writer struct {
	dir string
	fs  fsys.FS
	n   atomic.Int64
}

func newWriter(l *Lock) (*writer, error) {
	w := &writer{dir: l.dir, fs: l.fs}
	return w, fsys.MkdirAll(w.fs, w.dir, tmpDir)
}

// create starts a file in the folder for files in the making.
func (w *writer) create() (*fsys.File, error) {
	return fsys.Create(w.fs, filepath.Join(w.dir, tmpDir, fmt.Sprintf("%06d", w.n.Add(1))))
}

// publish gives a finished file its place, under a name that tells its content,
// and completes the part.
func (w *writer) publish(f *fsys.File, p Part, folder string) (Part, error) {
	if err := f.Sync(); err != nil {
		return p, err
	}
	p.Bytes, p.SHA256 = f.Size(), f.Sum()
	p.Path = path.Join(p.Table, folder, p.SHA256[:16]+".parquet")
	if err := fsys.MkdirAll(w.fs, w.dir, filepath.FromSlash(path.Dir(p.Path))); err != nil {
		return p, err
	}
	if err := f.Publish(filepath.Join(w.dir, filepath.FromSlash(p.Path))); err != nil {
		return p, err
	}
	return p, nil
}

// table writes a part of any table but Readings.
func (w *writer) table(p Part, codec parq.Codec, cols []Column) (Part, error) {
	f, err := w.create()
	if err != nil {
		return p, err
	}
	defer f.Discard()
	if err := parq.WriteTable(f, codec, cols); err != nil {
		return p, fmt.Errorf("write table %s: %w", path.Join(p.Table, p.Partition), err)
	}
	p.Rows = int64(cols[0].Len())
	return w.publish(f, p, p.Partition)
}

// swap makes m the manifest of the archive: the one instant at which anything
// counts.
func (w *writer) swap(m *Manifest) error {
	f, err := w.create()
	if err != nil {
		return err
	}
	defer f.Discard()
	if _, err := f.Write(m.encode()); err != nil {
		return err
	}
	if err := f.Publish(filepath.Join(w.dir, manifestName)); err != nil {
		return fmt.Errorf("swap the manifest: %w", err)
	}
	return nil
}
