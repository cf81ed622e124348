package fsys

import (
	"bufio"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"os"
	"path/filepath"
	"sync"
)

// File is a file in the making. Nothing bears its final name until Publish has
// returned; Discard throws it away and may be called at any time, also after
// Publish, where it does nothing. Sync, Move, Publish and Discard may be called
// from several goroutines.
type File struct {
	mu    sync.Mutex // over what Sync, Move and Discard share
	fs    FS
	tmp   string
	w     Writer
	buf   *bufio.Writer
	hash  hash.Hash
	n     int64
	err   error
	done  bool // moved or discarded
	moved bool
}

// buffers go from file to file.
var buffers = sync.Pool{New: func() any { return bufio.NewWriterSize(nil, 64<<10) }}

// Create starts a file under the temporary name tmp, which must lie on the
// file system of its final place.
func Create(fs FS, tmp string) (*File, error) {
	w, err := fs.Create(tmp)
	if err != nil {
		return nil, err
	}
	f := &File{fs: fs, tmp: tmp, w: w, hash: sha256.New()}
	f.buf = buffers.Get().(*bufio.Writer)
	f.buf.Reset(w)
	return f, nil
}

// Write appends to the file.
func (f *File) Write(p []byte) (int, error) {
	if f.err != nil {
		return 0, f.err
	}
	if f.buf == nil {
		return 0, errors.New("the file is finished: no more can be written")
	}
	n, err := f.buf.Write(p)
	f.hash.Write(p[:n])
	f.n += int64(n)
	f.err = err
	return n, err
}

// Size is the number of bytes written so far.
func (f *File) Size() int64 { return f.n }

// Sum is the SHA-256 of the bytes written so far, in hex.
func (f *File) Sum() string { return hex.EncodeToString(f.hash.Sum(nil)) }

// Flush hands what is buffered to the operating system, so that the file can be
// read by its temporary name. No more is written after it.
func (f *File) Flush() error {
	if f.err == nil {
		f.err = f.buf.Flush()
	}
	f.leave()
	return f.err
}

// leave gives the buffer up.
func (f *File) leave() {
	if f.buf != nil {
		f.buf.Reset(nil)
		buffers.Put(f.buf)
		f.buf = nil
	}
}

// Sync makes the bytes durable and closes the file, still under its temporary
// name, after checking that the disk holds as many bytes as were written. After
// Move there is nothing left to do.
func (f *File) Sync() error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.moved {
		return nil
	}
	return f.sync()
}

func (f *File) sync() error {
	if f.done {
		return errors.New("the file is already published or discarded")
	}
	if f.w == nil {
		return f.err
	}
	if f.err == nil && f.buf != nil {
		f.err = f.buf.Flush()
	}
	f.leave()
	if f.err == nil {
		f.err = f.w.Sync()
	}
	if err := f.w.Close(); f.err == nil {
		f.err = err
	}
	f.w = nil
	if f.err != nil {
		return f.err
	}
	info, err := os.Stat(f.tmp)
	switch {
	case err != nil:
		f.err = err
	case info.Size() != f.n:
		f.err = fmt.Errorf("%s holds %d bytes of %d written: the disk may be full or failing", f.tmp, info.Size(), f.n)
	}
	return f.err
}

// Publish gives the file its final name and makes the name durable. The folder
// of the name exists.
func (f *File) Publish(name string) error {
	if err := f.Move(name); err != nil {
		return err
	}
	return f.fs.SyncDir(filepath.Dir(name))
}

// Discard removes the temporary file.
func (f *File) Discard() {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.done {
		return
	}
	f.done = true
	f.leave()
	if f.w != nil {
		f.w.Close()
		f.w = nil
	}
	// A leftover is swept by the next run, so nothing is lost if this fails.
	_ = f.fs.Remove(f.tmp)
}

// Name is the temporary name.
func (f *File) Name() string { return f.tmp }

// Move gives the file its final name without making the name durable: the
// caller does that with SyncDir, once for all names of a folder.
func (f *File) Move(name string) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if err := f.sync(); err != nil {
		return err
	}
	if err := f.fs.Rename(f.tmp, name); err != nil {
		f.err = err
		return err
	}
	f.done, f.moved = true, true
	return nil
}
