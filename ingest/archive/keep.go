package archive

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"wane/ingest/internal/fsys"
)

// Errors that Keep tells apart. None is a failure of the import: the file is not
// touched, the others go on.
var (
	ErrNotRegular = errors.New("not a regular file: links, devices and folders are not followed")
	ErrMoving     = errors.New("still being written; it is left for the next round")
)

// Input is a file that is offered.
type Input struct {
	Path     string // where it lies
	Name     string // under which it is known: its path in the inbox or the source's folder
	Source   string // the name of the source description it is read by, "" for the plain forms
	Describe []byte // the text of that description, kept so that a rebuild reads the file the same way
	Remove   bool   // remove it once it is imported
}

// Kept is a file that the archive has a copy of, not yet counting.
type Kept struct {
	Input
	SHA256   string
	Size     int64
	Modified time.Time
	// Already is what is known of the same content where it is imported
	// already, under whatever name; nil otherwise.
	Already *Known

	describeSHA string
	modTime     time.Time   // in the resolution of the disk
	tmp         *fsys.File  // the copy; nil if there is none
	heals       bool        // it takes the place of an original that is damaged
	dropped     atomic.Bool // it is not wanted after all
	path        string
	text        *[]byte // the content, of a small file that is about to be decoded
}

// Content is an original being read.
type Content interface {
	io.Reader
	io.ReaderAt
	io.Seeker
	io.Closer
}

// Untouched says whether a file of this name, size and time of change has been
// imported, so that it need not be read again: its original is there.
func (t *Import) Untouched(name string, size int64, modified time.Time) bool {
	h, err := t.history() // an error comes again from Keep
	if err != nil {
		return false
	}
	sha, seen := h.seen[fingerprint{SpellName(name), size, modified.UTC().Truncate(time.Microsecond).UnixMicro()}]
	if !seen || t.lock.lost[sha] {
		return false
	}
	info, err := os.Lstat(filepath.Join(t.lock.dir, originalPath(sha)))
	return err == nil && info.Size() == size
}

// copyRooms are what files are copied through. A file that fits into one is not
// read again to be decoded.
var copyRooms = sync.Pool{New: func() any { b := make([]byte, 1<<20); return &b }}

// Keep copies a file; Commit makes the copy an original. It may be called from
// many goroutines. If the same content is known, Already tells, nothing is kept,
// and the file is removed on Commit if so asked.
func (t *Import) Keep(ctx context.Context, in Input) (*Kept, error) {
	f, err := os.OpenFile(in.Path, os.O_RDONLY|syscall.O_NOFOLLOW|syscall.O_NONBLOCK, 0)
	if err != nil {
		if errors.Is(err, syscall.ELOOP) {
			return nil, fmt.Errorf("%s: %w", in.Name, ErrNotRegular)
		}
		return nil, fmt.Errorf("%s cannot be read: %w", in.Name, err)
	}
	defer f.Close()
	in.Name = SpellName(in.Name)
	k := &Kept{Input: in}
	ok := false
	defer func() {
		if !ok {
			k.discard()
		}
	}()
	before, err := f.Stat()
	if err != nil {
		return nil, err
	}
	if !before.Mode().IsRegular() {
		return nil, fmt.Errorf("%s: %w", in.Name, ErrNotRegular)
	}
	k.Modified, k.modTime = before.ModTime().UTC().Truncate(time.Microsecond), before.ModTime()
	if err := k.read(ctx, t, f); err != nil {
		return nil, fmt.Errorf("keep %s: %w", in.Name, err)
	}
	after, err := os.Lstat(in.Path)
	if err != nil || after.Size() != k.Size || !after.ModTime().Equal(before.ModTime()) || !os.SameFile(before, after) {
		return nil, fmt.Errorf("%s is %w", in.Name, ErrMoving)
	}
	if in.Describe != nil {
		k.describeSHA = sum(in.Describe)
	}
	h, err := t.history()
	if err != nil {
		return nil, err
	}
	if file, found := h.known[k.SHA256]; found {
		k.Already, k.heals = &file, t.heals(k)
		t.mu.Lock()
		t.drops = append(t.drops, k)
		t.mu.Unlock()
		ok = k.heals
		return k, nil
	}
	// The disk writes it while it is decoded.
	t.w.later(func() error {
		if err := k.tmp.Sync(); err != nil && !k.dropped.Load() {
			return fmt.Errorf("keep %s: %w", in.Name, err)
		}
		return nil
	})
	ok = true
	return k, nil
}

// heals says whether the file, whose content was imported before, is wanted all
// the same: the original that it equals is gone or damaged. The first that comes
// takes its place.
func (t *Import) heals(k *Kept) bool {
	if fileIntact(filepath.Join(t.lock.dir, originalPath(k.SHA256)), k.Size, k.SHA256) == nil {
		return false
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	first := !t.keeping[k.SHA256]
	t.keeping[k.SHA256] = true
	return first
}

// read copies the file.
func (k *Kept) read(ctx context.Context, t *Import, f *os.File) (err error) {
	if k.tmp, err = t.w.create(); err != nil {
		return err
	}
	k.path = k.tmp.Name()
	if err = k.pass(&stoppable{ctx, f}, k.tmp); err != nil {
		return err
	}
	k.SHA256 = k.tmp.Sum()
	return k.tmp.Flush()
}

// pass passes the file on, and keeps its content at hand where it is small.
func (k *Kept) pass(r io.Reader, to io.Writer) error {
	room := copyRooms.Get().(*[]byte)
	*room = (*room)[:cap(*room)]
	n, err := io.ReadFull(r, *room)
	whole := err == io.EOF || err == io.ErrUnexpectedEOF
	if err == nil || whole {
		_, err = to.Write((*room)[:n])
	}
	k.Size = int64(n)
	if err == nil && whole {
		*room = (*room)[:n]
		k.text = room
		return nil
	}
	if err == nil {
		var more int64
		more, err = io.CopyBuffer(to, r, *room)
		k.Size += more
	}
	copyRooms.Put(room)
	return err
}

// stoppable is a reader that ends with its context.
type stoppable struct {
	ctx context.Context
	r   io.Reader
}

func (s *stoppable) Read(p []byte) (int, error) {
	if err := s.ctx.Err(); err != nil {
		return 0, err
	}
	return s.r.Read(p)
}

// Open reads what is kept. The content of a small file is at hand the first time,
// unless it was to be forgotten.
func (k *Kept) Open() (Content, error) {
	if k.text == nil {
		return os.Open(k.path)
	}
	room := k.text
	k.text = nil
	return &atHand{bytes.NewReader(*room), room}, nil
}

// Forget says that it will not be opened soon.
func (k *Kept) Forget() {
	if k.text != nil {
		copyRooms.Put(k.text)
		k.text = nil
	}
}

// atHand is a content in memory.
type atHand struct {
	*bytes.Reader
	room *[]byte
}

func (c *atHand) Close() error {
	if c.room != nil {
		copyRooms.Put(c.room)
		c.room = nil
		c.Reset(nil)
	}
	return nil
}

func (k *Kept) discard() {
	k.dropped.Store(true)
	k.Forget()
	if k.tmp != nil {
		k.tmp.Discard()
	}
}

// originalPath is where the original of a hash lies in the archive folder. Its
// sidecar has ".json" appended.
func originalPath(sha string) string { return filepath.Join(originalsDir, sha[:2], sha) }
