package archive

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"wane/ingest/archive/bucket"
)

// complete sends what the bucket lacks of an archive, or has in another length,
// from a whole copy, and tells what.
func (f *far) complete(ctx context.Context, a *Archive) (sent []string, err error) {
	there, err := f.b.List("", 0)
	if err != nil {
		return nil, err
	}
	all, err := f.copied(a)
	if err != nil {
		return nil, err
	}
	var lack []*held
	for _, h := range all {
		if o, ok := there[filepath.ToSlash(h.path)]; !ok || h.bytes >= 0 && o.Size != h.bytes {
			lack = append(lack, h)
			sent = append(sent, filepath.ToSlash(h.path))
		}
	}
	return sent, each(ctx, lack, func(h *held) error { return f.send(filepath.Join(a.dir, h.path), h.path) })
}

// copied gives all files of the archive that lie in the folder: lists too.
func (f *far) copied(a *Archive) ([]*held, error) {
	all, _, err := a.answersFor(a.m.Originals)
	if err != nil {
		return nil, err
	}
	told, err := readSides(a.dir, a.m.Originals)
	if err != nil {
		return nil, err
	}
	for first, text := range told.lists {
		all = append(all, &held{path: listPath(first), bytes: int64(len(text)), sha: sum(text)})
	}
	for sha := range told.own {
		b, err := os.ReadFile(filepath.Join(a.dir, sidePath(sha)))
		if err != nil {
			return nil, err
		}
		all = append(all, &held{path: sidePath(sha), bytes: int64(len(b)), sha: sum(b)})
	}
	var here []*held
	for _, h := range all {
		if _, err := os.Lstat(filepath.Join(a.dir, h.path)); err == nil {
			here = append(here, h)
		} else if !errors.Is(err, fs.ErrNotExist) {
			return nil, err
		}
	}
	return here, nil
}

// grace is how long a part stays in the bucket that its manifest does not name: a
// reader may still have the manifest before, and a writer may have put it for
// one to come. A run takes less.
const grace = 7 * 24 * time.Hour

// clear removes what has waited for longer.
func (f *far) clear(now time.Time) (removed []string, err error) {
	there, err := f.b.List("", 0)
	if err != nil {
		return nil, err
	}
	named := map[string]bool{}
	for _, p := range f.m.Parts {
		named[p.Path] = true
	}
	for _, name := range sortedKeys(there) {
		base := name[strings.LastIndex(name, "/")+1:]
		if named[name] || !partName.MatchString(base) || strings.HasPrefix(name, originalsDir+"/") ||
			now.Sub(there[name].Put) < grace {
			continue
		}
		if err := f.b.Remove(name); err != nil {
			return removed, err
		}
		removed = append(removed, name)
	}
	return removed, nil
}

// check reads every object, and adds to the report what is not as it should be.
// With again, it sends the copy's, where that is whole.
func (f *far) check(ctx context.Context, r *Report, again bool) error {
	if f.m == nil {
		return nil
	}
	bad, err := f.damaged(ctx)
	if err != nil {
		return err
	}
	for _, h := range bad {
		r.bad(filepath.ToSlash(h.path), "run check --repair, which sends the copy again", "in %s: %v", f.b, h.damage)
	}
	if !again {
		return nil
	}
	return each(ctx, bad, func(h *held) error {
		if fileIntact(filepath.Join(f.dir, h.path), h.bytes, h.sha) != nil {
			return nil // the next check finds both
		}
		return f.send(filepath.Join(f.dir, h.path), h.path)
	})
}

// heal brings from the bucket what the disk here has changed or lost.
func (f *far) heal(ctx context.Context, l *Lock) error {
	if f.m == nil {
		return nil
	}
	all, _, err := view(f.dir, f.m, l.seen).answersFor(f.m.Originals)
	if err != nil {
		return err
	}
	return each(ctx, all, func(h *held) error {
		err := l.seen.whole(f.dir, h.path, h.bytes, h.sha)
		if errors.Is(err, errMissing) || errors.Is(err, ErrDamaged) {
			return nil // Check finds it
		}
		return err
	})
}

// damaged gives the files of which the bucket's object is not what the copy is.
func (f *far) damaged(ctx context.Context) (bad []*held, err error) {
	all, err := f.copied(view(f.dir, f.m, newVerified()))
	if err != nil {
		return nil, err
	}
	err = each(ctx, all, func(h *held) error {
		h.damage = f.objectIntact(h)
		var bytes damage
		if errors.Is(h.damage, errMissing) || errors.As(h.damage, &bytes) {
			return nil
		}
		return h.damage
	})
	for _, h := range all {
		if h.damage != nil {
			bad = append(bad, h)
		}
	}
	return bad, err
}

// objectIntact reads an object.
func (f *far) objectIntact(h *held) error {
	r, _, err := f.b.Get(filepath.ToSlash(h.path))
	if errors.Is(err, bucket.ErrNone) {
		return errMissing
	}
	if err != nil {
		return err
	}
	defer r.Close()
	return intact(r, h.bytes, h.sha)
}
