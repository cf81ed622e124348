// Package fsys is the one door through which the archive changes the disk.
//
// Every change is one of the six operations of FS, so that a test can stand
// in the door and make any of them fail, stop short, or be the last thing the
// process ever did. Reading goes straight to the operating system: it changes
// nothing.
//
// File builds on FS the way in which the archive makes a file: write beside
// under a temporary name, check the length, fsync, rename, fsync the folder.
package fsys

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// FS is what the archive may do to the disk.
type FS interface {
	// Mkdir makes one folder; an existing one is no error. The parent exists.
	Mkdir(dir string) error
	// Create makes a new file; an existing one is an error.
	Create(path string) (Writer, error)
	// Rename moves a file over whatever bears the new name.
	Rename(from, to string) error
	// Remove deletes a file or an empty folder; a missing one is no error.
	Remove(path string) error
	// SyncDir makes the names in a folder durable.
	SyncDir(dir string) error
}

// Writer is an open file. Write and Sync count as operations of the FS.
type Writer interface {
	io.Writer
	Sync() error
	Close() error
}

// OS is the real disk.
type OS struct{}

// Mkdir makes a folder that others may read.
func (OS) Mkdir(dir string) error {
	err := os.Mkdir(dir, 0o755)
	if errors.Is(err, fs.ErrExist) {
		return nil
	}
	return err
}

// Create opens a new file for writing.
func (OS) Create(path string) (Writer, error) {
	return os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
}

// Rename is the only call of os.Rename in the module.
func (OS) Rename(from, to string) error { return os.Rename(from, to) }

// Remove deletes a file or an empty folder.
func (OS) Remove(path string) error {
	err := os.Remove(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}

// SyncDir fsyncs a folder.
func (OS) SyncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	err = d.Sync()
	if cerr := d.Close(); err == nil {
		err = cerr
	}
	return err
}

// MkdirAll makes root/rel with every folder between, and makes each new name
// durable before the next is made. The folder root exists.
func MkdirAll(f FS, root, rel string) error {
	if rel == "." || rel == "" {
		return nil
	}
	dir := filepath.Join(root, rel)
	if info, err := os.Stat(dir); err == nil {
		if !info.IsDir() {
			return fmt.Errorf("%s is in the way: it is not a folder", dir)
		}
		return nil
	}
	up := filepath.Dir(rel)
	if err := MkdirAll(f, root, up); err != nil {
		return err
	}
	if err := f.Mkdir(dir); err != nil {
		return err
	}
	return f.SyncDir(filepath.Join(root, up))
}
