package archive

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"wane/ingest/archive/bucket"
	"wane/ingest/internal/fsys"
)

// Place is where an archive is: in a folder, or in a bucket with a copy in the
// folder.
type Place struct {
	Dir    string
	Bucket *bucket.Bucket // nil: the folder is the archive
}

// markName is the file in the copy of an archive that names the bucket.
const markName = "bucket"

// ErrElsewhere says that the folder and the bucket are not one archive.
var ErrElsewhere = errors.New("the folder and the bucket are not the same archive")

// Open views the archive as it is now. Of one in a bucket, parts are fetched
// when they are read.
func (p Place) Open() (*Archive, error) {
	if p.Bucket == nil {
		if err := p.unmarked(); err != nil {
			return nil, err
		}
		m, err := loadManifest(p.Dir)
		if err != nil {
			return nil, err
		}
		return view(p.Dir, m, newVerified()), nil
	}
	f := &far{b: p.Bucket, dir: p.Dir}
	if err := f.load(); err != nil {
		return nil, err
	}
	m := f.m
	if m == nil {
		if _, err := os.Lstat(filepath.Join(p.Dir, manifestName)); err == nil {
			return nil, fmt.Errorf("%w: %s holds none yet; `wane nightly` sends what is in %s there", ErrElsewhere, p.Bucket, p.Dir)
		}
		m = &Manifest{Format: Format}
	}
	seen := newVerified()
	seen.far = f
	return view(p.Dir, m, seen), nil
}

// unmarked refuses to take the copy of an archive for the archive.
func (p Place) unmarked() error {
	mark, err := readMark(p.Dir)
	if err == nil && mark != "" {
		err = fmt.Errorf("%w: %s is a copy of %s, which site.yaml does not name; name it there, or remove %s to go on in "+
			"the folder alone",
			ErrElsewhere, p.Dir, mark, filepath.Join(p.Dir, markName))
	}
	return err
}

func readMark(dir string) (string, error) {
	b, err := os.ReadFile(filepath.Join(dir, markName))
	if errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	return strings.TrimSpace(string(b)), err
}

// View opens the archive and calls fn, again with a new view as often as parts
// of the last one went away while fn read them.
func (p Place) View(fn func(*Archive) error) error {
	var last string
	for {
		a, err := p.Open()
		if err != nil {
			return err
		}
		err = fn(a)
		if !errors.Is(err, ErrGone) {
			return err
		}
		if a.m.Checksum == last {
			return fmt.Errorf("%w, but the manifest is the same: run check", err)
		}
		last = a.m.Checksum
	}
}

// Acquire takes the lock of the archive, which it makes if need be. If another
// process of this machine has it, the error is ErrLocked and names the holder. A
// copy is first brought up to its bucket; a writer elsewhere is found out when
// the manifest is swapped.
func (p Place) Acquire(me Holder) (*Lock, error) { return p.acquire(me, fsys.OS{}) }

func (p Place) acquire(me Holder, f fsys.FS) (*Lock, error) {
	l, err := acquire(p.Dir, me, f)
	if err != nil {
		return nil, err
	}
	if p.Bucket == nil {
		err = p.unmarked()
	} else {
		err = meet(l, p.Bucket)
	}
	if err != nil {
		return nil, errors.Join(err, l.Release())
	}
	return l, nil
}

// Check verifies every checksum, count and footer; see the function Check. Of an
// archive in a bucket, it takes the lock, and every object is read too.
func (p Place) Check(ctx context.Context, me Holder) (r *Report, err error) {
	if p.Bucket == nil {
		if err := p.unmarked(); err != nil {
			return nil, err
		}
		return Check(ctx, p.Dir)
	}
	l, err := p.Acquire(me)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, l.Release()) }()
	if r, err = check(ctx, p.Dir, true); err != nil {
		return nil, err
	}
	return r, l.far.check(ctx, r, false)
}
