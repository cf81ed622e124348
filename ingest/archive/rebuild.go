package archive

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// Original is a file that was imported, as its sidecar tells, with the text of
// the description it was read by (nil for the plain forms).
type Original struct {
	SHA256     string
	Name       string
	Size       int64
	Modified   time.Time
	ImportedAt time.Time
	Sequence   int64
	Source     string
	Describe   []byte
}

// Decode reads an original again into the sink and gives the number of blank
// cells. It must do what was done when the file was imported; it may Refuse the
// file, and then its result does not count.
type Decode func(ctx context.Context, o Original, f Content, s *Sink) (blank int64, err error)

// RebuildOptions are the settings of a rebuild.
type RebuildOptions struct {
	Decode  Decode
	Workers int   // as in Options
	Memory  int64 // as in Options
	// Describe, if set, gives the description by which an original is to be read
	// from now on, in place of the one it was read by: how the quarantine is
	// tried again after a mend. ok false leaves it as it was.
	Describe func(Original) (source string, text []byte, ok bool)

	same bool // what comes out must be what the manifest says, if that is sound
}

// Rebuild makes everything that was imported anew from the originals and their
// sidecars alone. From the same originals comes the same archive, byte for byte.
// Nothing changes before the one swap at the end. Derived tables stay: their
// keys tell whether they still hold.
//
// It refuses if an original is missing or damaged, since its readings would be
// lost: Check tells which.
func Rebuild(ctx context.Context, l *Lock, opt RebuildOptions) (*Archive, error) {
	m, trusted, err := loadForRebuild(l)
	if err != nil {
		return nil, err
	}
	journal, err := readJournal(l.dir)
	if err != nil && !errors.Is(err, ErrLost) {
		return nil, err
	}
	told, err := recall(l.dir, m, trusted, journal)
	if err != nil {
		return nil, err
	}
	originals, err := wholeOriginals(l.dir, told)
	if err != nil {
		return nil, err
	}
	if trace, err := traceOf(l.dir); err != nil {
		return nil, err
	} else if len(originals) == 0 && trace != "" && !trusted {
		return nil, fmt.Errorf("%w, and no originals are there to make it from, but there is %s; bring the archive back from a backup", ErrLost, trace)
	}
	// The old manifest without what is to be rebuilt. Derived tables hold
	// together: where one is damaged all are derived anew.
	base := &Manifest{Format: Format}
	old := view(l.dir, m, l.seen)
	if err := old.Verify(); err == nil {
		for _, p := range m.Parts {
			if !isBase(p.Table) {
				base.Parts = append(base.Parts, p)
			}
		}
	} else if !errors.Is(err, ErrDamaged) {
		return nil, err
	}
	o := Options{Workers: opt.Workers, Memory: opt.Memory}
	o.fill()
	t := &Import{lock: l, opt: o, old: base, sure: m, same: opt.same && trusted, keeping: map[string]bool{}}
	t.history = func() (*history, error) { return &history{}, nil } // every original is read again
	if t.w, err = newWriter(l, o.Workers); err != nil {
		return nil, err
	}
	// What a killed run left in the making would be in the way. Parts that no
	// manifest names stay until the swap: the manifest may be the one at fault.
	if err := clearMaking(l); err != nil {
		return nil, err
	}
	defer t.Discard()
	for i, or := range originals {
		if err := t.again(ctx, i, or, opt); err != nil {
			return nil, fmt.Errorf("read %s again: %w", or.Name, err)
		}
	}
	if len(originals) == 0 {
		err := t.w.swap(base)
		if err == nil {
			l.end()
		}
		return t.Archive(), err
	}
	res, err := t.Commit(ctx)
	if err != nil {
		return nil, err
	}
	return res.Archive, nil
}

// again reads one original.
func (t *Import) again(ctx context.Context, order int, o Original, opt RebuildOptions) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if opt.Describe != nil {
		if source, text, ok := opt.Describe(o); ok {
			o.Source, o.Describe = source, text
		}
	}
	k := &Kept{
		Input: Input{Name: o.Name, Source: o.Source, Describe: o.Describe}, SHA256: o.SHA256, Size: o.Size,
		Modified: o.Modified,
		path:     filepath.Join(t.lock.dir, originalPath(o.SHA256)),
	}
	if o.Describe != nil {
		k.describeSHA = sum(o.Describe)
	}
	s, err := t.Sink(order, k)
	if err != nil {
		return err
	}
	s.importedAt, s.sequence, s.horizon = o.ImportedAt, o.Sequence, o.ImportedAt.Add(FutureSlack).UnixMicro()
	f, err := k.Open()
	if err != nil {
		return err
	}
	defer f.Close()
	blank, err := opt.Decode(ctx, o, f, s)
	if err != nil || s.done {
		return err
	}
	return s.Done(blank)
}

// loadForRebuild loads the manifest; trusted says that it tells of all that is
// there. Without a sound one an empty one stands in its place.
func loadForRebuild(l *Lock) (m *Manifest, trusted bool, err error) {
	m, err = loadForWriting(l)
	switch {
	case err == nil:
		return m, true, nil
	case errors.Is(err, ErrTorn), errors.Is(err, ErrLost):
		return &Manifest{Format: Format}, false, nil
	}
	return nil, false, err
}

// wholeOriginals checks that each original is whole.
func wholeOriginals(dir string, told []sidecar) ([]Original, error) {
	var out []Original
	var bad []error
	for i := range told {
		o, err := readOriginal(dir, &told[i])
		if err != nil {
			bad = append(bad, err)
			continue
		}
		out = append(out, o)
	}
	if len(bad) > 0 {
		return nil, fmt.Errorf("the originals are not whole, and what they hold would be lost: %w", errors.Join(bad...))
	}
	return out, nil
}

// eachOriginal calls fn for each file among the originals, and for each sidecar
// with side set.
func eachOriginal(dir string, fn func(sha string, side bool) error) error {
	root := filepath.Join(dir, originalsDir)
	return filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if errors.Is(err, fs.ErrNotExist) && path == root {
			return filepath.SkipAll
		}
		if err != nil || d.IsDir() {
			return err
		}
		sha, side := strings.CutSuffix(d.Name(), ".json")
		if len(sha) != 64 || filepath.Base(filepath.Dir(path)) != sha[:2] {
			return nil
		}
		return fn(sha, side)
	})
}

// readOriginal checks the files that a sidecar speaks of.
func readOriginal(dir string, s *sidecar) (o Original, err error) {
	sha := s.SHA256
	o = Original{SHA256: sha, Name: s.Name, Size: s.Size, Modified: s.Modified, ImportedAt: s.ImportedAt,
		Sequence: s.Sequence, Source: s.Source}
	if err := fileIntact(filepath.Join(dir, originalPath(sha)), s.Size, sha); err != nil {
		return o, fmt.Errorf("original of %s: %w", s.Name, err)
	}
	if s.DescriptionSHA != "" {
		if o.Describe, err = os.ReadFile(filepath.Join(dir, originalPath(s.DescriptionSHA))); err == nil &&
			sum(o.Describe) != s.DescriptionSHA {
			err = errors.New("its content is not what its name says")
		}
		if err != nil {
			return o, fmt.Errorf("description of %s: %w", s.Name, err)
		}
	}
	return o, nil
}

// clearMaking empties the folder of files in the making, but for the journal.
func clearMaking(l *Lock) error {
	names, err := os.ReadDir(filepath.Join(l.dir, tmpDir))
	if err != nil {
		return err
	}
	for _, d := range names {
		if d.Name() == journalName {
			continue
		}
		if err := l.fs.Remove(filepath.Join(l.dir, tmpDir, d.Name())); err != nil {
			return err
		}
	}
	return nil
}
