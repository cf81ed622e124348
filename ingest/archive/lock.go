package archive

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync/atomic"
	"time"

	"github.com/gofrs/flock"

	"wane/ingest/internal/fsys"
)

const lockName = "lock"

// ErrLocked says that another process writes to the archive.
var ErrLocked = errors.New("the archive is being written to")

// Holder is who has the lock, as it wrote itself down. It is for messages: the
// lock itself is the operating system's, and ends with its process.
type Holder struct {
	PID   int       `json:"pid"`
	Start time.Time `json:"start"`
	What  string    `json:"what"`
}

// Lock is the right to change the archive. There is one at a time.
type Lock struct {
	dir   string
	flock *flock.Flock
	fs    fsys.FS

	far      *far // of an archive in a bucket
	seen     *verified
	lost     map[string]bool // originals that were found damaged, by SHA-256
	busy     bool            // a writer has begun and not ended
	leftover bool            // an earlier one has not ended: there may be files that do not count
	named    atomic.Int64    // files in the making so far
}

// begin and end bracket whatever may leave files that do not count, should it not
// come to its end. They are called in turn.
func (l *Lock) begin() {
	l.leftover = l.leftover || l.busy
	l.busy = true
}

func (l *Lock) end() { l.busy = false }

// clean says that there is nothing that does not count, so that none need look.
func (l *Lock) clean() bool {
	making, err := os.ReadDir(filepath.Join(l.dir, tmpDir))
	return !l.busy && !l.leftover && len(making) == 0 && (err == nil || errors.Is(err, fs.ErrNotExist))
}

// cleared says that somebody has looked.
func (l *Lock) cleared() { l.busy, l.leftover = false, false }

// Acquire takes the lock of the archive in dir, which it makes if need be. If
// another process has it, the error is ErrLocked and names the holder.
func Acquire(dir string, me Holder) (*Lock, error) { return Place{Dir: dir}.Acquire(me) }

func acquire(dir string, me Holder, f fsys.FS) (*Lock, error) {
	up, err := filepath.Abs(filepath.Dir(dir))
	if err != nil {
		return nil, err
	}
	if err := fsys.MkdirAll(f, up, filepath.Base(dir)); err != nil {
		return nil, fmt.Errorf("make the archive: %w", err)
	}
	path := filepath.Join(dir, lockName)
	fl := flock.New(path)
	got, err := fl.TryLock()
	if err != nil {
		return nil, fmt.Errorf("lock the archive: %w", err)
	}
	if !got {
		h, err := holder(path)
		if err != nil {
			return nil, fmt.Errorf("%w by another process", ErrLocked)
		}
		return nil, fmt.Errorf("%w by %s, process %d, since %s; wait for it to end", ErrLocked, h.What, h.PID,
			h.Start.Format(time.RFC3339))
	}
	last, err := os.ReadFile(path)
	if err != nil {
		fl.Close()
		return nil, fmt.Errorf("read the lock: %w", err)
	}
	b, err := json.Marshal(me)
	if err == nil {
		// The name in the lock is a courtesy, so it goes without fsync; a torn
		// one is read as unknown.
		err = os.WriteFile(path, append(b, '\n'), 0o644)
	}
	if err != nil {
		fl.Close()
		return nil, fmt.Errorf("write the lock: %w", err)
	}
	return &Lock{dir: dir, flock: fl, fs: f, seen: newVerified(), lost: map[string]bool{}, leftover: len(last) > 0}, nil
}

// holder reads who wrote the lock file last.
func holder(path string) (Holder, error) {
	var h Holder
	b, err := os.ReadFile(path)
	if err == nil {
		err = json.Unmarshal(b, &h)
	}
	return h, err
}

// Dir is the archive's folder.
func (l *Lock) Dir() string { return l.dir }

// Release gives the lock up. The lock file stays: removing it would let two
// processes lock two files of one name. It is empty if there is nothing for the
// next to clear up.
func (l *Lock) Release() error {
	if l.busy || l.leftover {
		return l.flock.Close()
	}
	if err := os.Truncate(l.flock.Path(), 0); err != nil {
		l.flock.Close()
		return err
	}
	return l.flock.Close()
}
