package archive

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"golang.org/x/sync/errgroup"

	"wane/ingest/archive/bucket"
)

// fetches is how many files go to or come from a bucket at once.
const fetches = 8

// meet brings the copy up to its bucket, or the bucket into being from what is in
// the folder, and puts the bucket behind all that is done under the lock.
func meet(l *Lock, b *bucket.Bucket) error {
	f := &far{b: b, dir: l.dir}
	mark, err := readMark(l.dir)
	if err != nil {
		return err
	}
	if mark != "" && mark != b.String() {
		return fmt.Errorf("%w: %s is a copy of %s, and site.yaml names %s; name the one that it is a copy of, or "+
			"another folder",
			ErrElsewhere, l.dir, mark, b)
	}
	if err := f.load(); err != nil {
		return err
	}
	here, err := loadManifest(l.dir)
	if err != nil && (f.m == nil || !errors.Is(err, ErrTorn) && !errors.Is(err, ErrLost)) {
		return err
	}
	_, lerr := os.Lstat(filepath.Join(l.dir, manifestName))
	fresh := errors.Is(lerr, fs.ErrNotExist)
	l.far, l.seen.far, l.fs = f, f, &mirror{l.fs, f}
	switch {
	case f.m == nil && mark != "" && !fresh:
		return fmt.Errorf("%w: there is no %s in %s any more; %s", ErrLost, manifestName, b, doResend)
	case f.m == nil && fresh:
		return f.begin(l)
	case f.m == nil:
		return f.found(l, here)
	case mark == "" && !fresh && (err != nil || here.Checksum != f.m.Checksum):
		return fmt.Errorf("%w: %s holds an archive of its own, and so does %s; move the folder away, and its originals "+
			"into the inbox, from where they are imported",
			ErrElsewhere, l.dir, b)
	case err == nil && here.Originals > f.m.Originals:
		return fmt.Errorf("%w: %s counts %d files in %s and %d here: it is an older copy; %s", ErrLost, manifestName,
			f.m.Originals, b, here.Originals, doResend)
	}
	if err := f.mark(l, mark); err != nil {
		return err
	}
	if err == nil && !fresh && here.Checksum == f.m.Checksum {
		return nil
	}
	return f.pull(l)
}

// mark names the bucket in the folder, if it is not named yet.
func (f *far) mark(l *Lock, mark string) error {
	if mark != "" {
		return nil
	}
	w, err := newWriter(l, 1)
	if err != nil {
		return err
	}
	if err = w.placeBytes([]byte(f.b.String()+"\n"), markName); err == nil {
		err = w.syncFolders()
	}
	if err == nil {
		l.end()
	}
	return err
}

// begin makes sure that a new archive is one: the first import founds it.
func (f *far) begin(l *Lock) error {
	there, err := f.b.List("", 0)
	if err != nil {
		return err
	}
	if _, met := there[manifestName]; met {
		return fmt.Errorf("%s: %w", f.b, ErrOvertaken) // between two looks
	}
	for name := range there {
		return fmt.Errorf("%w: there is no %s in %s, but there is %s; %s", ErrLost, manifestName, f.b, name, doResend)
	}
	return f.mark(l, "")
}

// found sends the archive of a folder to an empty bucket.
func (f *far) found(l *Lock, m *Manifest) error {
	if _, err := loadForWriting(l); err != nil {
		return err
	}
	if _, err := f.complete(context.Background(), view(l.dir, m, l.seen)); err != nil {
		return fmt.Errorf("send the archive to %s: %w", f.b, err)
	}
	if err := f.swap(filepath.Join(l.dir, manifestName)); err != nil {
		return err
	}
	return f.mark(l, "")
}

// pull makes the copy what the bucket's manifest says. What cannot be had, since
// it is damaged there too, stays missing, and is found as on a disk.
func (f *far) pull(l *Lock) error {
	w, err := newWriter(l, 1)
	if err != nil {
		return err
	}
	a := view(l.dir, f.m, l.seen)
	all, lists, err := a.answersFor(f.m.Originals)
	if err != nil {
		return err
	}
	err = each(context.Background(), all, func(h *held) error {
		if info, err := os.Lstat(filepath.Join(l.dir, h.path)); err == nil && (h.bytes < 0 || info.Size() == h.bytes) {
			return nil
		}
		err := f.fetch(h.path, h.bytes, h.sha)
		if errors.Is(err, ErrDamaged) || errors.Is(err, errMissing) {
			return nil
		}
		return err
	})
	if err != nil {
		return fmt.Errorf("bring the copy up to %s: %w", f.b, err)
	}
	if err := w.placeAll(lists.missing); err != nil {
		return err
	}
	if lists.last != "" { // whoever put the manifest may not have come to put this
		f.told = append(f.told, lists.last)
	}
	if err := w.placeBytes(f.text, manifestName); err != nil {
		return err
	}
	if err := w.syncFolders(); err != nil {
		return err
	}
	if journal, err := readJournal(l.dir); err != nil || journal != nil {
		return err // the next import clears up, which knows what to keep
	}
	if _, err := sweep(l.fs, l.dir, f.m); err != nil {
		return err
	}
	l.end()
	return nil
}

// lists are those that tell of all that a manifest counts.
type lists struct {
	missing map[string][]byte // of the folder, by path
	last    string
}

// answersFor gives all files that an archive answers for, but for its lists, which
// are told apart. Where the table of files is damaged, there are only parts.
func (a *Archive) answersFor(counted int64) (all []*held, l lists, err error) {
	for _, p := range a.m.Parts {
		all = append(all, &held{path: filepath.FromSlash(p.Path), bytes: p.Bytes, sha: p.SHA256, table: p.Table})
	}
	files, err := a.Files()
	if errors.Is(err, ErrDamaged) {
		return all, l, nil
	}
	if err != nil {
		return nil, l, err
	}
	all = append(all, originalsOf(files)...)
	told, err := readSides(a.dir, counted)
	if err != nil {
		return nil, l, err
	}
	l.missing = told.missing(sidecarsOf(files))
	for path := range l.missing {
		l.last = max(l.last, path)
	}
	for first := range told.lists {
		l.last = max(l.last, listPath(first))
	}
	return all, l, nil
}

// originalsOf gives the originals of files and their descriptions.
func originalsOf(files []File) (all []*held) {
	described := map[string]bool{"": true}
	for i := range files {
		f := &files[i]
		all = append(all, &held{path: originalPath(f.SHA256), bytes: f.Size, sha: f.SHA256})
		if d := f.DescriptionSHA; !described[d] {
			described[d] = true
			all = append(all, &held{path: originalPath(d), bytes: -1, sha: d})
		}
	}
	return all
}

// each does something with files, some at a time.
func each(ctx context.Context, all []*held, do func(*held) error) error {
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(fetches)
	for _, h := range all {
		g.Go(func() error {
			if err := ctx.Err(); err != nil {
				return err
			}
			return do(h)
		})
	}
	return g.Wait()
}
