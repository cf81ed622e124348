package report

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

// fixturesDir holds the pages of the fixtures, and nothing else.
const fixturesDir = "fixtures"

// temporary begins the name of a file that is being written.
const temporary = ".writing-"

// Write makes every page of the report and puts it into dir, the site's
// reports folder, which is made where it is not there. A page is replaced as a
// whole or not at all. Pages of fixtures that are no more are removed.
func Write(dir string, in Input) error {
	b := newBook(in)
	if err := os.MkdirAll(filepath.Join(dir, fixturesDir), 0o755); err != nil {
		return fmt.Errorf("make reports folder: %w", err)
	}
	err := b.each(func(m made) error {
		if err := put(filepath.Join(dir, filepath.FromSlash(m.file)), m.body); err != nil {
			return fmt.Errorf("write report page %s: %w", m.file, err)
		}
		return nil
	})
	if err != nil {
		return err
	}
	keep := map[string]bool{}
	for _, file := range b.links {
		keep[file] = true
	}
	if err := sweep(dir, "", func(string) bool { return true }); err != nil {
		return err
	}
	return sweep(dir, fixturesDir, func(name string) bool {
		return !strings.HasSuffix(name, ".html") || keep[fixturesDir+"/"+name]
	})
}

// put replaces a file by whole new contents, durably: written beside, flushed,
// renamed, the folder flushed. A file that holds them already is left alone.
func put(path string, body []byte) error {
	if old, err := os.ReadFile(path); err == nil && bytes.Equal(old, body) {
		return nil
	}
	dir := filepath.Dir(path)
	f, err := os.CreateTemp(dir, temporary+"*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name()) // after the rename it is gone
	_, err = f.Write(body)
	if err == nil {
		err = f.Chmod(0o644)
	}
	if err == nil {
		err = f.Sync()
	}
	if e := f.Close(); err == nil {
		err = e
	}
	if err != nil {
		return err
	}
	if err := os.Rename(f.Name(), path); err != nil {
		return err
	}
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer d.Close()
	return d.Sync()
}

// sweep removes from a folder of the report what a killed run left and what
// stay does not keep.
func sweep(dir, sub string, stay func(name string) bool) error {
	list, err := os.ReadDir(filepath.Join(dir, sub))
	if err != nil {
		return fmt.Errorf("sweep reports folder: %w", err)
	}
	for _, e := range list {
		if e.IsDir() || !strings.HasPrefix(e.Name(), temporary) && stay(e.Name()) {
			continue
		}
		if err := os.Remove(filepath.Join(dir, sub, e.Name())); err != nil && !os.IsNotExist(err) {
			return fmt.Errorf("sweep reports folder: %w", err)
		}
	}
	return nil
}
