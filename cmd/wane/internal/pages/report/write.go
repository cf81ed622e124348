package report

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
)

// The folders of the report hold its own files and nothing else.
const (
	fixturesDir = "fixtures"
	roomsDir    = "rooms"
	dataDir     = "data"
)

// temporary begins the name of a file that is being written.
const temporary = ".writing-"

// Write makes every page of the report and puts it into dir, the site's
// reports folder, which is made where it is not there. A page is replaced as a
// whole or not at all. Pages of fixtures and rooms that are no more are removed.
func Write(dir string, in Input) error {
	b := newBook(in)
	for _, sub := range []string{fixturesDir, roomsDir, dataDir} {
		if err := os.MkdirAll(filepath.Join(dir, sub), 0o755); err != nil {
			return fmt.Errorf("make reports folder: %w", err)
		}
	}
	w := writer{dir: dir, kept: map[string]bool{}}
	err := b.each(w.put)
	if err == nil {
		err = w.flush()
	}
	if err != nil {
		return err
	}
	if err := sweep(dir, "", func(string) bool { return true }); err != nil {
		return err
	}
	for sub, end := range map[string]string{fixturesDir: ".html", roomsDir: ".html", dataDir: ".js"} {
		stay := func(name string) bool { return !strings.HasSuffix(name, end) || w.kept[sub+"/"+name] }
		if err := sweep(dir, sub, stay); err != nil {
			return err
		}
	}
	return nil
}

// writer puts files in place whole and durably, many at a time: written beside,
// flushed, renamed, the folder flushed. To wait for the disk once a file would take
// longer than to make the pages of a great site.
type writer struct {
	dir  string
	mu   sync.Mutex
	kept map[string]bool
	wait []pending
}

// pending is a file that is written beside its place.
type pending struct{ file, from string }

// mostPending is how many files wait for the disk together.
const mostPending = 500

// put writes one file beside its place. A file that holds the same already is
// left alone.
func (w *writer) put(m made) error {
	path := filepath.Join(w.dir, filepath.FromSlash(m.file))
	fail := func(err error) error { return fmt.Errorf("write report page %s: %w", m.file, err) }
	from := ""
	if old, err := os.ReadFile(path); err != nil || !bytes.Equal(old, m.body) {
		f, err := os.CreateTemp(filepath.Dir(path), temporary+"*")
		if err != nil {
			return fail(err)
		}
		_, err = f.Write(m.body)
		if err := errors.Join(err, f.Chmod(0o644), f.Close()); err != nil {
			os.Remove(f.Name())
			return fail(err)
		}
		from = f.Name()
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	w.kept[m.file] = true
	if from != "" {
		w.wait = append(w.wait, pending{m.file, from})
	}
	if len(w.wait) < mostPending {
		return nil
	}
	return w.place()
}

func (w *writer) flush() error {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.place()
}

// place brings what waits to the disk, and into its place.
func (w *writer) place() error {
	if len(w.wait) == 0 {
		return nil
	}
	if err := toDisk(w.dir, w.wait); err != nil {
		return fmt.Errorf("write report pages: %w", err)
	}
	folders := map[string]bool{}
	for _, p := range w.wait {
		path := filepath.Join(w.dir, filepath.FromSlash(p.file))
		if err := os.Rename(p.from, path); err != nil {
			return fmt.Errorf("write report page %s: %w", p.file, err)
		}
		folders[filepath.Dir(path)] = true
	}
	w.wait = w.wait[:0]
	for f := range folders {
		d, err := os.Open(f)
		if err != nil {
			return err
		}
		if err := errors.Join(d.Sync(), d.Close()); err != nil {
			return fmt.Errorf("write report pages: %w", err)
		}
	}
	return nil
}

// eachToDisk flushes the files one by one.
func eachToDisk(list []pending) error {
	for _, p := range list {
		f, err := os.OpenFile(p.from, os.O_WRONLY, 0)
		if err != nil {
			return err
		}
		if err := errors.Join(f.Sync(), f.Close()); err != nil {
			return err
		}
	}
	return nil
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
