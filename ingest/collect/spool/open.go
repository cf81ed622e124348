package spool

import (
	"archive/zip"
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"wane/ingest/internal/fsys"
)

// open is an open file: what was written to it is synced group by group.
type open struct {
	name  string
	w     fsys.Writer
	since time.Time
	bytes int64
	good  int64 // bytes that are synced
	n     int   // lines
	torn  bool  // a write or sync failed: what is behind good was not acknowledged
	ended bool  // closed, to be sealed before anything else is written
}

// Append keeps lines; when it returns nil all of them are on disk.
func (s *Spool) Append(ctx context.Context, lines ...[]byte) error {
	if len(lines) == 0 {
		return nil
	}
	came := s.o.Read("lines", newBytes(bytes.Join(lines, nil)))
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := s.append(&s.lines, ".lines", lines, s.o.Now()); err != nil {
		return err
	}
	n := int64(0)
	for _, l := range lines {
		n += int64(len(l))
		s.recent = append(s.recent, l)
	}
	s.trim()
	s.count(came, 0, int64(len(lines)), n)
	return nil
}

func (s *Spool) trim() {
	if over := len(s.recent) - recentLines; over > 0 {
		s.recent = append([][]byte(nil), s.recent[over:]...)
	}
}

// Recent gives the lines that were appended last, oldest first.
func (s *Spool) Recent() [][]byte {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([][]byte(nil), s.recent...)
}

// append writes lines to the open file, which is sealed first where it is full
// or old, and syncs it.
func (s *Spool) append(at **open, name string, lines [][]byte, now time.Time) error {
	if f := *at; f != nil && (f.torn || f.ended || f.bytes >= sealBytes || now.Sub(f.since) >= s.o.SealAfter) {
		if err := s.seal(); err != nil {
			return err
		}
	}
	if *at == nil {
		w, err := s.fs.Create(s.path(name))
		if err != nil {
			return fmt.Errorf("begin %s: %w", s.path(name), err)
		}
		*at = &open{name: name, w: w, since: now}
		if err := s.fs.SyncDir(s.dir); err != nil {
			(*at).torn = true
			return fmt.Errorf("begin %s: %w", s.path(name), err)
		}
	}
	f := *at
	for _, l := range lines {
		n, err := f.w.Write(l)
		f.bytes += int64(n)
		if err == nil && n < len(l) {
			err = io.ErrShortWrite
		}
		if err != nil {
			f.torn = true
			return fmt.Errorf("write %s: %w", s.path(name), err)
		}
		f.n++
	}
	if err := f.w.Sync(); err != nil {
		f.torn = true
		return fmt.Errorf("sync %s: %w", s.path(name), err)
	}
	f.good = f.bytes
	return nil
}

// Seal makes whole files of what is open. It does nothing where nothing is.
func (s *Spool) Seal() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.seal()
}

// SealOld seals what has been open for as long as it may.
func (s *Spool) SealOld() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, f := range []*open{s.lines, s.bodies} {
		if f != nil && s.o.Now().Sub(f.since) >= s.o.SealAfter {
			return s.seal()
		}
	}
	return nil
}

func (s *Spool) seal() error {
	return errors.Join(s.sealLines(), s.sealBodies(), s.tidy())
}

// end closes an open file and cuts off what was not synced.
func (s *Spool) end(f *open) error {
	if f.ended {
		return nil
	}
	if err := f.w.Close(); err != nil && !f.torn {
		f.torn = true
		return err
	}
	if f.torn {
		if err := s.cut(f.name, func(b []byte) int { return int(f.good) }); err != nil {
			return err
		}
	}
	f.ended = true
	return nil
}

func (s *Spool) sealLines() error {
	if s.lines == nil {
		return nil
	}
	if err := s.end(s.lines); err != nil {
		return err
	}
	if err := s.linesDone(); err != nil {
		return err
	}
	s.lines = nil
	return nil
}

// linesDone gives the open lines their last name.
func (s *Spool) linesDone() error {
	st, err := os.Stat(s.path(".lines"))
	switch {
	case errors.Is(err, fs.ErrNotExist): // renamed by a try that failed behind that
		return s.fs.SyncDir(s.dir)
	case err != nil:
		return err
	case st.Size() == 0:
		return s.fs.Remove(s.path(".lines"))
	}
	// first: what is sealed may be taken in and gone before the next line comes
	if err := s.replace(".recent", bytes.Join(s.recent, nil)); err != nil {
		return err
	}
	if err := s.fs.Rename(s.path(".lines"), s.path(s.stamp(s.o.Now())+".jsonl")); err != nil {
		return fmt.Errorf("seal lines: %w", err)
	}
	return s.fs.SyncDir(s.dir)
}

// cut takes the end off an open file, behind what keep says of its bytes.
func (s *Spool) cut(name string, keep func([]byte) int) error {
	b, err := os.ReadFile(s.path(name))
	if err != nil {
		return err
	}
	if end := keep(b); end < len(b) {
		return s.replace(name, b[:end])
	}
	return nil
}

// wholeLines is where the last whole line ends.
func wholeLines(b []byte) int { return bytes.LastIndexByte(b, '\n') + 1 }

func (s *Spool) sealBodies() error {
	if s.bodies == nil {
		return nil
	}
	if err := s.end(s.bodies); err != nil {
		return err
	}
	if err := s.bodiesDone(); err != nil {
		return err
	}
	s.bodies = nil
	return nil
}

// bodiesDone makes a zip of the open bodies. Its name and bytes follow from
// theirs, so that doing it again after a crash makes the same.
func (s *Spool) bodiesDone() error {
	in, err := os.Open(s.path(".bodies"))
	if errors.Is(err, fs.ErrNotExist) { // sealed by a try that failed behind that
		return s.fs.SyncDir(s.dir)
	}
	if err != nil {
		return err
	}
	defer in.Close()
	tmp := s.path(".zip.tmp")
	if err := s.fs.Remove(tmp); err != nil {
		return err
	}
	out, err := fsys.Create(s.fs, tmp)
	if err != nil {
		return err
	}
	defer out.Discard()
	first, err := zipOf(in, out)
	if err != nil {
		return fmt.Errorf("seal bodies: %w", err)
	}
	if !first.IsZero() {
		if err := out.Publish(s.path(stampOf(first) + ".zip")); err != nil {
			return fmt.Errorf("seal bodies: %w", err)
		}
	}
	if err := s.fs.Remove(s.path(".bodies")); err != nil {
		return err
	}
	return s.fs.SyncDir(s.dir)
}

// zipOf writes the bodies of an open file as the members of a zip, and gives the
// time of the first. A torn last line is passed over.
func zipOf(in io.Reader, out io.Writer) (first time.Time, err error) {
	z := zip.NewWriter(out)
	br := bufio.NewReader(in)
	for i := 0; ; i++ {
		line, err := br.ReadBytes('\n')
		if err == io.EOF {
			break
		}
		if err != nil {
			return first, err
		}
		var r record
		if err := json.Unmarshal(line, &r); err != nil {
			return first, fmt.Errorf("line %d of the open bodies: %w", i+1, err)
		}
		if first.IsZero() {
			first = r.At
		}
		w, err := z.CreateHeader(&zip.FileHeader{Name: fmt.Sprintf("%03d-%s/%s", i, stampOf(r.At), r.Name),
			Method: zip.Deflate, Modified: r.At})
		if err != nil {
			return first, err
		}
		if _, err := w.Write(r.Body); err != nil {
			return first, err
		}
	}
	return first, z.Close()
}

// recover seals what a killed process left, and removes half bodies.
func (s *Spool) recover() error {
	entries, err := os.ReadDir(s.dir)
	if err != nil {
		return err
	}
	for _, e := range entries { // no stamp may be given again while its file lies here
		stem, _, _ := strings.Cut(strings.TrimPrefix(e.Name(), ".body-"), "Z")
		if at, err := time.Parse(stampForm, stem+"Z"); err == nil && at.After(s.last) {
			s.last = at
		}
	}
	if b, err := os.ReadFile(s.path(".recent")); err == nil {
		s.recent = linesOf(b)
	} else if !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if b, err := os.ReadFile(s.path(".lines")); err == nil {
		if err := s.cut(".lines", wholeLines); err != nil {
			return err
		}
		s.recent = append(s.recent, linesOf(b)...)
		s.trim()
		if err := s.linesDone(); err != nil {
			return err
		}
	} else if !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if _, err := os.Stat(s.path(".bodies")); err == nil {
		if err := s.bodiesDone(); err != nil {
			return err
		}
	}
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), ".body-") || strings.HasPrefix(e.Name(), ".") && strings.HasSuffix(e.Name(), ".tmp") {
			if err := s.fs.Remove(s.path(e.Name())); err != nil {
				return err
			}
		}
	}
	return s.tidy()
}

// linesOf gives the whole lines of a file, each with its end.
func linesOf(b []byte) [][]byte {
	var out [][]byte
	for len(b) > 0 {
		end := bytes.IndexByte(b, '\n') + 1
		if end == 0 {
			break
		}
		out = append(out, b[:end:end])
		b = b[end:]
	}
	return out
}

// tidy removes the folders whose file was taken in.
func (s *Spool) tidy() error {
	entries, err := os.ReadDir(s.dir)
	if err != nil {
		return err
	}
	for _, e := range entries {
		if e.IsDir() {
			if in, err := os.ReadDir(filepath.Join(s.dir, e.Name())); err == nil && len(in) == 0 {
				if err := s.fs.Remove(s.path(e.Name())); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// within reads no more than the limit, and stops with the context.
type within struct {
	ctx  context.Context
	r    io.Reader
	left int64
}

func (w *within) Read(p []byte) (int, error) {
	if err := w.ctx.Err(); err != nil {
		return 0, err
	}
	n, err := w.r.Read(p)
	if w.left -= int64(n); w.left < 0 {
		return 0, ErrTooLarge
	}
	return n, err
}

func newBytes(b []byte) File { return bytes.NewReader(b) }
