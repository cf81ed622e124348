package archive

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"syscall"

	"golang.org/x/sync/errgroup"

	"wane/ingest/archive/internal/parq"
	"wane/ingest/reading"
)

// Result is what a commit did.
type Result struct {
	Archive *Archive
	Files   []File  // imported, by sequence
	Again   []*Kept // known already, or twice in this import
	// Left lists files that were imported and could not be removed from where
	// they came from, with the reason. They will be known next time.
	Left []string

	// Healed lists files whose originals were gone or damaged, and are whole now.
	Healed []string

	sinks []*Sink // by sequence
}

// heal puts files that came again in the place of their damaged originals, for
// good, before they are removed from where they came from.
func (t *Import) heal() (healed []string, err error) {
	for _, k := range t.drops {
		if !k.heals {
			continue
		}
		if err := t.w.place(k.tmp, originalPath(k.SHA256)); err != nil {
			return nil, fmt.Errorf("bring back the original of %s: %w", k.Name, err)
		}
		delete(t.lock.lost, k.SHA256)
		healed = append(healed, k.Name)
	}
	if err := t.w.syncFolders(); err != nil {
		return nil, fmt.Errorf("bring back originals: %w", err)
	}
	return healed, nil
}

// Refused lists why files that were imported cannot be used as a whole, by
// sequence.
func (r *Result) Refused() (reasons []string) {
	for _, s := range r.sinks {
		for _, x := range s.rejects {
			if x.Code == CodeWholeFile {
				reasons = append(reasons, x.Reason)
			}
		}
	}
	return reasons
}

// Commit makes the import count. On an error nothing of it counts.
func (t *Import) Commit(ctx context.Context) (*Result, error) {
	if t.done {
		return nil, errors.New("the import has ended")
	}
	defer t.Discard()
	_, err := t.history()
	if err != nil {
		return nil, err
	}
	slices.SortFunc(t.sinks, func(a, b *Sink) int { return cmp.Compare(a.order, b.order) })
	for i, s := range t.sinks {
		if !s.done {
			return nil, fmt.Errorf("the decoding of %s has not ended", s.kept.Name)
		}
		if i > 0 && s.order == t.sinks[i-1].order {
			return nil, fmt.Errorf("%s and %s have the same place in the order", s.kept.Name, t.sinks[i-1].kept.Name)
		}
	}
	for i, s := range t.sinks {
		if s.sequence == 0 {
			s.sequence = t.old.Originals + int64(i) + 1
		}
	}
	slices.SortFunc(t.drops, func(a, b *Kept) int { return cmp.Compare(a.Name, b.Name) })
	res := &Result{Archive: t.Archive(), Again: t.drops}
	if len(t.sinks) > 0 {
		t.announce()
		next, files, err := t.build(ctx)
		if err != nil {
			return nil, err
		}
		if err := t.sameAsBefore(next); err != nil {
			return nil, err
		}
		if err := t.w.swap(next); err != nil {
			return nil, err
		}
		res.Files, res.Archive, res.sinks = files, view(t.lock.dir, next, t.lock.seen), t.sinks
	}
	if res.Healed, err = t.heal(); err != nil {
		return nil, err
	}
	t.done = true
	t.closeSpill()
	for _, k := range t.drops {
		k.discard()
	}
	removed := t.removeInputs()
	if len(t.sinks) > 0 {
		err = t.retire(res.Archive.m)
	}
	var durable bool
	res.Left, durable = removed()
	if err != nil {
		err = fmt.Errorf("all is imported, but parts that were replaced are still there: %w", err)
	}
	if err == nil && durable && t.sure == nil && len(t.sinks) > 0 {
		err = t.lock.fs.Remove(filepath.Join(t.lock.dir, tmpDir, journalName))
	}
	if err == nil && durable {
		t.lock.end()
	}
	return res, err
}

// sameAsBefore refuses a repair that would come out as another archive: the
// program reads the files otherwise than it did, or what is told of them has
// changed.
func (t *Import) sameAsBefore(next *Manifest) error {
	if !t.same {
		return nil
	}
	held := map[string]string{}
	for _, p := range t.sure.Parts {
		if isBase(p.Table) {
			held[p.Path] = p.SHA256
		}
	}
	for _, p := range next.Parts {
		if !isBase(p.Table) {
			continue
		}
		if held[p.Path] != p.SHA256 {
			return fmt.Errorf("%w, and the originals now read as something else (%s was not in it); `wane rebuild --readings` takes what they read as now", ErrDamaged, p.Path)
		}
		delete(held, p.Path)
	}
	for path := range held {
		return fmt.Errorf("%w, and the originals now read as something else (%s does not come out of them); `wane rebuild --readings` takes what they read as now", ErrDamaged, path)
	}
	return nil
}

// retire removes what the import has replaced. Begin has swept; a rebuild, whose
// manifest may be the one at fault, sweeps here.
func (t *Import) retire(next *Manifest) error {
	if t.sure == nil {
		return retire(t.lock.fs, t.lock.dir, t.old, next)
	}
	if err := t.removeLists(); err != nil {
		return err
	}
	if err := t.lock.fs.Remove(filepath.Join(t.lock.dir, tmpDir, journalName)); err != nil {
		return err // what it speaks of counts now, or lies about for its file to come again
	}
	_, err := sweep(t.lock.fs, t.lock.dir, next)
	return err
}

// removeLists removes the lists that tell of nothing that the rebuild counts.
func (t *Import) removeLists() error {
	told, err := readSides(t.lock.dir, math.MaxInt64)
	if err != nil {
		return err
	}
	want := make([]sidecar, len(t.sinks))
	for i, s := range t.sinks {
		f := s.file()
		want[i] = sidecarOf(&f)
	}
	_, extra := told.compare(want)
	for _, path := range extra {
		if err := t.lock.fs.Remove(filepath.Join(t.lock.dir, path)); err != nil {
			return err
		}
	}
	return nil
}

// build writes all parts and gives the manifest that names them.
func (t *Import) build(ctx context.Context) (*Manifest, []File, error) {
	// The merge keeps few cores busy at its ends; these two do not wait for it.
	beside := t.inBackground(t.coverage, t.quarantine)
	readings, stored, doubled, err := t.mergeReadings(ctx)
	parts, besideErr := beside()
	if err != nil {
		return nil, nil, fmt.Errorf("merge readings: %w", err)
	}
	if besideErr != nil {
		return nil, nil, besideErr
	}
	next := &Manifest{Format: Format, Originals: t.old.Originals}
	next.Parts = append(append(next.Parts, readings...), parts...)

	files := newLedger(Files)
	var taken []File
	for i, s := range t.sinks {
		f := s.file()
		next.Originals = max(next.Originals, f.Sequence)
		f.Stored, f.Duplicate = stored[i], doubled[i]
		if !f.Lawful() {
			return nil, nil, fmt.Errorf("%s: %d rows, but %d stored, %d duplicate and %d quarantined: this is an error in the program, and nothing was imported",
				f.Name, f.Rows, f.Stored, f.Duplicate, f.Quarantined)
		}
		taken = append(taken, f)
		f.row(files.at(f.ImportedAt.UnixMicro()))
	}
	if parts, err = files.write(t.w, t.Archive()); err != nil {
		return nil, nil, err
	}
	next.Parts = append(next.Parts, parts...)
	for _, p := range t.old.Parts {
		if !isBase(p.Table) {
			next.Parts = append(next.Parts, p)
		}
	}
	return next, taken, nil
}

// inBackground does things one after the other, in the background unless
// everything is to happen in turn. The function that it gives waits for them.
func (t *Import) inBackground(each ...func() ([]Part, error)) func() (parts []Part, err error) {
	var parts []Part
	var errs []error
	all := func() {
		for _, do := range each {
			p, err := do()
			parts, errs = append(parts, p...), append(errs, err)
		}
	}
	var wg sync.WaitGroup
	if t.opt.Workers > 1 {
		wg.Go(all)
	} else {
		all()
	}
	return func() ([]Part, error) {
		wg.Wait()
		return parts, errors.Join(errs...)
	}
}

// coverage writes the table Coverage.
func (t *Import) coverage() ([]Part, error) {
	l := newLedger(Coverage)
	series := map[int64]int{} // by time of import
	for _, s := range t.sinks {
		series[s.importedAt.UnixMicro()] += len(s.sorted)
	}
	for at, n := range series {
		l.room(at, n)
	}
	for _, s := range t.sinks {
		s.cover(l.at(s.importedAt.UnixMicro()))
	}
	return l.write(t.w, t.Archive())
}

// quarantine writes the table Quarantine.
func (t *Import) quarantine() ([]Part, error) {
	l := newLedger(Quarantine)
	for _, s := range t.sinks {
		f := s.file()
		s.list(&f, l.at(f.ImportedAt.UnixMicro()))
	}
	return l.write(t.w, t.Archive())
}

// file is the file's row but for what the merge will tell: stored and doubled.
func (s *Sink) file() File {
	f := File{
		Sequence: s.sequence, SHA256: s.kept.SHA256, Name: s.kept.Name, Source: s.kept.Source,
		DescriptionSHA: s.kept.describeSHA,
		Size:           s.kept.Size, Modified: s.kept.Modified, ImportedAt: s.importedAt,
	}
	f.Rows, f.Blank = s.rows, s.blank
	for _, r := range s.rejects {
		f.Quarantined += r.Rows
	}
	return f
}

// Series gives the series of which the file holds readings to fn, in order, with
// their number. The sink is done; a commit may be under way.
func (s *Sink) Series(fn func(series reading.Series, readings int64)) {
	for _, c := range s.sorted {
		fn(c.series, c.n)
	}
}

// cover appends the coverage of the file, by series.
func (s *Sink) cover(cols []Column) {
	for _, c := range s.sorted {
		cols[0].Int = append(cols[0].Int, s.sequence)
		cols[1].Text = append(cols[1].Text, c.series.Sensor)
		cols[2].Text = append(cols[2].Text, c.series.Channel)
		cols[3].Int = append(cols[3].Int, c.first)
		cols[4].Int = append(cols[4].Int, c.last)
		cols[5].Int = append(cols[5].Int, c.n)
	}
}

// list appends the rejects of the file.
func (s *Sink) list(f *File, cols []Column) {
	for _, r := range s.rejects {
		row(cols, f.Sequence, f.SHA256, f.Name, f.ImportedAt, int64(r.Line), int64(r.Last), r.Rows, r.Column, r.Code,
			r.Reason, r.Text)
	}
}

// mergeReadings writes the partitions that the import touches and gives all parts
// of the table as they are from now on, with the counts by sink.
func (t *Import) mergeReadings(ctx context.Context) (parts []Part, stored, doubled []int64, err error) {
	jobs, parts, err := t.plan()
	if err != nil {
		return nil, nil, nil, err
	}
	old := map[string]Part{}
	for _, p := range t.old.Parts {
		old[p.Path] = p
	}
	if t.sure != nil {
		for _, p := range t.sure.Parts {
			if partIntact(t.Archive().Path(p), p) == nil {
				old[p.Path] = p
			}
		}
	}
	stored, doubled = make([]int64, len(t.sinks)), make([]int64, len(t.sinks))
	if err := t.verifyBefore(jobs); err != nil {
		return nil, nil, nil, err
	}
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	var (
		wg   sync.WaitGroup
		mu   sync.Mutex
		next int
	)
	for range min(t.opt.Workers, len(jobs)) {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for {
				mu.Lock()
				i := next
				next++
				mu.Unlock()
				if i >= len(jobs) || ctx.Err() != nil {
					return
				}
				m, err := t.merger(jobs[i], old)
				var made []Part
				if err == nil {
					made, err = m.run()
					m.close()
				}
				if err != nil {
					cancel(err)
					return
				}
				mu.Lock()
				parts = append(parts, made...)
				for i := range stored {
					stored[i] += m.stored[i]
					doubled[i] += m.doubled[i]
				}
				mu.Unlock()
			}
		}()
	}
	wg.Wait()
	return parts, stored, doubled, context.Cause(ctx)
}

// verifyBefore holds the parts whose rows are about to be written again against
// their checksums: what a disk has changed must not come out under a new one.
func (t *Import) verifyBefore(jobs []*work) error {
	var all []Part
	for _, j := range jobs {
		all = append(all, j.from...)
	}
	a := t.Archive()
	var g errgroup.Group
	g.SetLimit(t.opt.Workers)
	for _, p := range all {
		g.Go(func() error { return a.verify(p) })
	}
	return g.Wait()
}

func (t *Import) merger(w *work, old map[string]Part) (*merger, error) {
	m := &merger{
		w: t.w, spill: t.spill, at: w.at, from: monthStart(w.at.month), to: monthStart(w.at.month + 1), pieces: w.pieces,
		stored: make([]int64, len(t.sinks)), doubled: make([]int64, len(t.sinks)), out: newPartWriters(t.w, w.at, old),
	}
	if w.at.day > 0 {
		m.from += int64(w.at.day-1) * dayMicros
		m.to = m.from + dayMicros
	}
	for _, p := range w.from {
		c, err := parq.OpenReadings(t.Archive().Path(p), p.Scale)
		if err != nil {
			m.close()
			return nil, err
		}
		m.cursors = append(m.cursors, &source{c: c, scale: uint8(p.Scale)})
	}
	return m, nil
}

func (m *merger) close() {
	for _, c := range m.cursors {
		c.c.Close()
	}
}

// removeInputs removes what was imported from where it came from, unless it has
// changed since. A file that cannot be removed is no failure: it is known now.
// The function that it gives waits for the end and tells what is left, and
// whether the rest is gone for good.
func (t *Import) removeInputs() func() (left []string, durable bool) {
	all := t.drops
	for _, s := range t.sinks {
		all = append(all[:len(all):len(all)], s.kept)
	}
	gone, errs := make([]bool, len(all)), make([]error, len(all))
	for i, k := range all {
		if k.Remove {
			t.w.later(func() error {
				gone[i], errs[i] = t.removeInput(k)
				return nil
			})
		}
	}
	return func() (left []string, durable bool) {
		_ = t.w.wait() // none of them gave it an error
		folders := map[string]bool{}
		for i, k := range all {
			if gone[i] {
				folders[filepath.Dir(k.Path)] = true
			}
			if errs[i] != nil {
				left = append(left, fmt.Sprintf("%s: %v", k.Name, errs[i]))
			}
		}
		durable = true
		for _, d := range sortedKeys(folders) {
			durable = t.lock.fs.SyncDir(d) == nil && durable // the removal is a tidying; it may come back
		}
		return left, durable
	}
}

func (t *Import) removeInput(k *Kept) (gone bool, err error) {
	info, err := os.Lstat(k.Path)
	switch {
	case errors.Is(err, syscall.ENOENT):
		return false, nil
	case err != nil:
		return false, err
	case info.Size() != k.Size || !info.ModTime().Equal(k.modTime):
		return false, errors.New("it has changed since it was read")
	}
	return true, t.lock.fs.Remove(k.Path)
}

func sortedKeys[K cmp.Ordered, V any](m map[K]V) []K { return slices.Sorted(maps.Keys(m)) }
