// Package spool keeps what was collected until it is taken in.
//
// Below spool/NAME of the site folder, for each source NAME:
//
//	.lines             lines (messages, registers) as they come, each group synced
//	.bodies            small bodies (answers, posts) as they come, as JSON lines
//	.recent            the last lines of the files sealed so far
//	.state             where the source's kind stopped
//	.lock              held by the one process that collects this source
//	STAMP.jsonl        sealed lines
//	STAMP.zip          sealed bodies, each as it came
//	STAMP/FILE         a body that is large, packed, or cannot be read
//
// What does not begin with a point is sealed: whole, synced, under its last name,
// for the next ingest to take in and remove. What begins with one is the
// collector's own.
//
//  1. Append and Put write to the open file and sync it; then the bytes are safe.
//  2. Seal turns the open files into sealed ones: of lines by a rename, of bodies
//     by writing a zip beside and renaming that. It is called every few minutes,
//     by size, and before a night.
//  3. Open finds what a killed process left: a torn last line was never
//     acknowledged and is cut off, the rest is sealed; half a body is removed.
package spool

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"github.com/gofrs/flock"

	"wane/ingest/internal/fsys"
)

// Folder is the spool's place in a site folder.
const Folder = "spool"

// Came is what a body holds, read by the source's description.
type Came struct {
	Readings, Rejects int64
	Unreadable        error // it cannot be used as a whole, and why; it is kept all the same
}

// ErrTooLarge is under the error of a body that is larger than the limit.
var ErrTooLarge = errors.New("larger than collect.limit")

// ErrBusy is under the error of Open where another process collects the source.
var ErrBusy = errors.New("another wane collects this source already")

// File is a body that can be read from the beginning and at any place.
type File interface {
	io.ReadSeeker
	io.ReaderAt
}

// Options is one source's spool.
type Options struct {
	Dir    string // the site folder
	Source string
	Limit  int64 // largest body, bytes
	Now    func() time.Time
	// Read says what a body holds. It gets lines as one body too.
	Read func(name string, f File) Came
	// SealAfter is how old an open file may grow; 0 stands for ten minutes.
	SealAfter time.Duration
	FS        fsys.FS // nil: the disk
}

// What an open file grows to before it is sealed, and what a body may have to go
// into one. A zip of more members would be refused by the decoder.
const (
	sealAfter   = 10 * time.Minute
	sealBytes   = 8 << 20
	sealBodies  = 900
	smallBody   = 512 << 10
	recentLines = 512
)

// Spool is one source's. It may be used by several goroutines.
type Spool struct {
	o    Options
	dir  string
	fs   fsys.FS
	lock *flock.Flock

	mu     sync.Mutex
	lines  *open // nil: none begun
	bodies *open
	recent [][]byte
	last   time.Time // of the last stamp, so that each is its own
	kept   Kept
}

// Kept counts what was kept since the last call of Count.
type Kept struct {
	Came
	Bodies, Lines, Bytes int64
}

// Open opens the spool of a source, and seals what a killed process left there.
func Open(o Options) (s *Spool, err error) {
	if o.FS == nil {
		o.FS = fsys.OS{}
	}
	if o.SealAfter == 0 {
		o.SealAfter = sealAfter
	}
	s = &Spool{o: o, dir: filepath.Join(o.Dir, Folder, o.Source), fs: o.FS}
	if err := fsys.MkdirAll(s.fs, o.Dir, filepath.Join(Folder, o.Source)); err != nil {
		return nil, fmt.Errorf("make the spool of %s: %w", o.Source, err)
	}
	s.lock = flock.New(filepath.Join(s.dir, ".lock"))
	if got, err := s.lock.TryLock(); err != nil {
		return nil, fmt.Errorf("lock the spool of %s: %w", o.Source, err)
	} else if !got {
		return nil, fmt.Errorf("%s: %w; end it first, or leave it to it", o.Source, ErrBusy)
	}
	if err := s.recover(); err != nil {
		return nil, errors.Join(fmt.Errorf("recover the spool of %s: %w", o.Source, err), s.lock.Unlock())
	}
	return s, nil
}

// Close seals what is open and lets the spool go.
func (s *Spool) Close() error {
	return errors.Join(s.Seal(), s.lock.Unlock())
}

// Count gives what was kept since it was called last.
func (s *Spool) Count() Kept {
	s.mu.Lock()
	defer s.mu.Unlock()
	k := s.kept
	s.kept = Kept{}
	return k
}

// stamp names a file by a time, each by another.
func (s *Spool) stamp(at time.Time) string { return stampOf(s.instant(at)) }

// instant is a time that no other file has, as near to at as can be.
func (s *Spool) instant(at time.Time) time.Time {
	at = at.UTC().Truncate(time.Microsecond)
	if !at.After(s.last) {
		at = s.last.Add(time.Microsecond)
	}
	s.last = at
	return at
}

const stampForm = "20060102T150405.000000Z"

func stampOf(at time.Time) string { return at.UTC().Format(stampForm) }

// path is a file of the spool.
func (s *Spool) path(name string) string { return filepath.Join(s.dir, name) }

// Load reads what Save kept last.
func (s *Spool) Load(v any) (bool, error) {
	b, err := os.ReadFile(s.path(".state"))
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	if err == nil {
		err = json.Unmarshal(b, v)
	}
	if err != nil {
		return false, fmt.Errorf("read where %s stopped: %w; remove %s to begin anew", s.o.Source, err, s.path(".state"))
	}
	return true, nil
}

// Save keeps where the kind stopped.
func (s *Spool) Save(v any) error {
	b, err := json.Marshal(v)
	if err != nil {
		return err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := s.replace(".state", b); err != nil {
		return fmt.Errorf("save where %s stopped: %w", s.o.Source, err)
	}
	return nil
}

// replace writes a whole small file over what bears its name.
func (s *Spool) replace(name string, b []byte) error {
	tmp := s.path(name + ".tmp")
	if err := s.fs.Remove(tmp); err != nil {
		return err
	}
	f, err := fsys.Create(s.fs, tmp)
	if err != nil {
		return err
	}
	defer f.Discard()
	if _, err := f.Write(b); err != nil {
		return err
	}
	return f.Publish(s.path(name))
}

// Put keeps a whole body; when err is nil it is on disk.
func (s *Spool) Put(ctx context.Context, name string, body io.Reader) (Came, error) {
	name = Name(name)
	r := &within{ctx: ctx, r: body, left: s.o.Limit}
	head, err := io.ReadAll(io.LimitReader(r, smallBody+1))
	if err != nil {
		return Came{}, fmt.Errorf("%s: %w", name, err)
	}
	if len(head) <= smallBody && !packed(head) {
		came := s.o.Read(name, newBytes(head))
		if came.Unreadable == nil {
			return came, s.add(name, head, came)
		}
	}
	return s.file(name, head, r)
}

// add appends a small body to the open ones.
func (s *Spool) add(name string, body []byte, came Came) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	now := s.o.Now()
	rec, err := json.Marshal(record{At: s.instant(now), Name: name, Body: body})
	if err != nil {
		return err
	}
	if err := s.append(&s.bodies, ".bodies", [][]byte{append(rec, '\n')}, now); err != nil {
		return err
	}
	s.count(came, 1, 0, int64(len(body)))
	if s.bodies.n >= sealBodies {
		return s.sealBodies()
	}
	return nil
}

// record is a body in the open file.
type record struct {
	At   time.Time `json:"at"`
	Name string    `json:"name"`
	Body []byte    `json:"body"`
}

// file keeps a body as a file of its own. The folder is made only for it, and
// holds nothing until the file is whole.
func (s *Spool) file(name string, head []byte, rest io.Reader) (Came, error) {
	s.mu.Lock()
	stamp := s.stamp(s.o.Now())
	s.mu.Unlock()
	f, err := fsys.Create(s.fs, s.path(".body-"+stamp))
	if err != nil {
		return Came{}, fmt.Errorf("keep %s: %w", name, err)
	}
	defer f.Discard()
	if _, err := f.Write(head); err != nil {
		return Came{}, fmt.Errorf("keep %s: %w", name, err)
	}
	if _, err := io.Copy(f, rest); err != nil {
		return Came{}, fmt.Errorf("%s: %w", name, err)
	}
	if err := f.Sync(); err != nil {
		return Came{}, fmt.Errorf("keep %s: %w", name, err)
	}
	came, err := s.look(name, f.Name())
	if err != nil {
		return came, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := fsys.MkdirAll(s.fs, s.dir, stamp); err != nil {
		return came, fmt.Errorf("keep %s: %w", name, err)
	}
	if err := f.Publish(filepath.Join(s.dir, stamp, name)); err != nil {
		return came, fmt.Errorf("keep %s: %w", name, err)
	}
	s.count(came, 1, 0, f.Size())
	return came, nil
}

// look reads what a file holds.
func (s *Spool) look(name, path string) (Came, error) {
	f, err := os.Open(path)
	if err != nil {
		return Came{}, err
	}
	defer f.Close()
	return s.o.Read(name, f), nil
}

func (s *Spool) count(c Came, bodies, lines, bytes int64) {
	s.kept.Readings += c.Readings
	s.kept.Rejects += c.Rejects
	s.kept.Bodies += bodies
	s.kept.Lines += lines
	s.kept.Bytes += bytes
}

// packed says whether a body is one that a zip may not hold: packed itself, or
// Parquet, which is read at any place.
func packed(b []byte) bool {
	for _, magic := range []string{"\x1f\x8b", "PK\x03\x04", "PK\x05\x06", "PAR1"} {
		if strings.HasPrefix(string(b[:min(4, len(b))]), magic) {
			return true
		}
	}
	return false
}

// Name makes a file's name of what a source calls it: its last part, without
// what would hide it or cannot be in a name.
func Name(s string) string {
	s = s[strings.LastIndexAny(s, `/\`)+1:]
	s = strings.Map(func(r rune) rune {
		if r < 0x20 || r == 0x7f || strings.ContainsRune(`:*?"<>|`, r) {
			return '_'
		}
		return r
	}, strings.ToValidUTF8(s, "_"))
	s = strings.TrimLeft(s, ".")
	for len(s) > 120 {
		s = s[1:] // the end tells the kind of file
		s = strings.ToValidUTF8(s, "")
	}
	if strings.HasSuffix(s, ".part") || strings.HasSuffix(s, ".tmp") {
		s += "_"
	}
	if s == "" {
		return "body"
	}
	return s
}
