package archive

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"wane/ingest/archive/internal/parq"
)

// Finding is something that is not as it should be.
type Finding struct {
	Path string // in the archive folder
	What string // what is wrong
	Do   string // what to do about it

	kind  int
	mends bool // Repair can mend it
}

// Kinds of findings, by what it takes to mend them.
const (
	ofBase    = iota // what was imported: made anew from the originals
	ofDerived        // derived anew by the next run
	leftover         // removed
)

// String gives the finding as one line.
func (f Finding) String() string { return f.Path + ": " + f.What + "; " + f.Do }

// Report is what Check found.
type Report struct {
	Findings []Finding
	Parts    int    // parts verified
	Readings int64  // readings in them
	Files    int    // files imported
	Counts   Counts // of all files
	// Waiting lists files that are kept but do not count yet: left by a killed
	// run, and taken up when the file is offered again. This is no fault.
	Waiting []string
}

const (
	doRepair  = "run check --repair, which makes it anew from the originals"
	doBackup  = "bring the file back from a backup; it cannot be made anew"
	doDerive  = "the next night derives it anew; or run check --repair or rebuild"
	doProgram = "run check --repair; if it stays, this is an error in the program"
)

func (r *Report) bad(path, do, format string, a ...any) {
	r.Findings = append(r.Findings, Finding{Path: filepath.ToSlash(path), What: fmt.Sprintf(format, a...), Do: do,
		mends: do == doRepair})
}

// Check verifies every checksum, count and footer, the order and bounds of the
// readings, that the originals are whole, and that no row is unaccounted for. It
// needs no lock: where a run swaps the manifest meanwhile it begins anew. The
// error is only for what kept it from looking.
func Check(ctx context.Context, dir string) (*Report, error) { return check(ctx, dir, false) }

// check is Check; mine says that the caller holds the lock, so that nobody writes.
func check(ctx context.Context, dir string, mine bool) (*Report, error) {
	seen := newVerified()
	for {
		r, m, err := checkOnce(ctx, dir, seen, mine)
		if err == nil && len(r.Findings) == 0 {
			return r, nil
		}
		if now, nerr := loadManifest(dir); nerr == nil && m != nil && now.Checksum != m.Checksum {
			continue // what was found may be what the run has replaced
		}
		return r, err
	}
}

func checkOnce(ctx context.Context, dir string, seen *verified, mine bool) (*Report, *Manifest, error) {
	r := &Report{}
	m, err := loadManifest(dir)
	if errors.Is(err, ErrTorn) || errors.Is(err, ErrLost) {
		r.bad(manifestName, doRepair, "%v", err)
		return r, nil, nil
	}
	if err != nil {
		return nil, nil, err
	}
	a := view(dir, m, seen)
	sound := true
	for _, p := range m.Parts {
		if err := ctx.Err(); err != nil {
			return nil, m, err
		}
		err := a.checkPart(p)
		switch {
		case err != nil && isBase(p.Table):
			r.bad(p.Path, doRepair, "%v", err)
			sound = false
		case err != nil:
			r.bad(p.Path, doDerive, "%v", err)
			r.Findings[len(r.Findings)-1].kind = ofDerived
		default:
			r.Parts++
			if p.Table == Readings {
				r.Readings += p.Rows
			}
		}
	}
	if _, err := readJournal(dir); errors.Is(err, ErrLost) {
		r.bad(filepath.Join(tmpDir, journalName), doRepair, "%v", err)
	} else if err != nil {
		return nil, m, err
	}
	counted := map[string]bool{}
	if sound {
		if err := r.law(a, counted); err != nil {
			return nil, m, err
		}
	}
	if err := r.strays(a, mine); err != nil {
		return nil, m, err
	}
	err = eachOriginal(dir, func(sha string, side bool) error {
		if !side && sound && !counted[sha] {
			r.Waiting = append(r.Waiting, filepath.ToSlash(originalPath(sha)))
		}
		return ctx.Err()
	})
	return r, m, err
}

// checkPart looks at a part once.
func (a *Archive) checkPart(p Part) error {
	if a.seen.has(p.Path) {
		return nil
	}
	err := partIntact(a.Path(p), p)
	if err == nil {
		a.seen.add(p.Path)
		if p.Table == Readings {
			err = a.checkReadings(p)
		}
	}
	return err
}

// strays looks for parts that the manifest does not name, and for a manifest that
// is older than its lists. While somebody writes both may be; a run that was
// killed leaves such parts to the next. So what is found counts only if nobody
// wrote before it was looked for and nobody writes after: a run that came and went
// in between has swapped the manifest, and the check begins anew.
func (r *Report) strays(a *Archive, mine bool) error {
	if !mine {
		if some, err := someoneWrites(a.dir); err != nil || some {
			return err
		}
	}
	journal, _ := readJournal(a.dir) // a damaged one is a finding of its own
	old := behind(a.dir, a.m, journal)
	if old != nil && !errors.Is(old, ErrLost) {
		return old
	}
	left, err := leftovers(a.dir, a.m)
	if err != nil {
		return err
	}
	if !mine {
		if some, err := someoneWrites(a.dir); err != nil || some {
			return err
		}
	}
	if old != nil {
		r.bad(manifestName, doRepair, "%v", old)
	}
	for _, path := range left {
		if _, err := os.Lstat(filepath.Join(a.dir, path)); errors.Is(err, fs.ErrNotExist) {
			continue // of a run that changed nothing
		}
		r.bad(path, "check --repair or the next night removes it",
			"the manifest does not name it, so that it counts for nothing")
		r.Findings[len(r.Findings)-1].kind = leftover
	}
	return nil
}

// someoneWrites tells by the lock's file, which names its holder, and by files in
// the making whether a run is writing into the archive, or was killed doing so.
func someoneWrites(dir string) (bool, error) {
	holder, err := os.ReadFile(filepath.Join(dir, lockName))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return false, err
	}
	making, err := os.ReadDir(filepath.Join(dir, tmpDir))
	if errors.Is(err, fs.ErrNotExist) {
		err = nil
	}
	return len(holder) > 0 || len(making) > 0, err
}

// law adds up the tables and holds the originals against them.
func (r *Report) law(a *Archive, counted map[string]bool) error {
	files, err := a.Files()
	if err != nil {
		return err
	}
	quarantined, err := a.Quarantined()
	if err != nil {
		return err
	}
	if err := r.sidecars(a, files); err != nil {
		return err
	}
	held := map[int64]int64{}
	for _, q := range quarantined {
		held[q.Sequence] += q.Rows
	}
	for i := range files {
		f := &files[i]
		counted[f.SHA256], counted[f.DescriptionSHA] = true, true
		r.Files++
		r.Counts.Add(f.Counts)
		if !f.Lawful() {
			r.bad(originalPath(f.SHA256), doProgram, "%s had %d rows, but %d are stored, %d duplicate and %d quarantined",
				f.Name, f.Rows, f.Stored, f.Duplicate, f.Quarantined)
		}
		if held[f.Sequence] != f.Quarantined {
			r.bad(originalPath(f.SHA256), doProgram, "%s has %d rows in quarantine, and %d are there", f.Name, f.Quarantined,
				held[f.Sequence])
		}
		if err := fileIntact(filepath.Join(a.dir, originalPath(f.SHA256)), f.Size, f.SHA256); err != nil {
			r.bad(originalPath(f.SHA256), doBackup, "the original of %s: %v", f.Name, err)
		}
		if d := f.DescriptionSHA; d != "" {
			if err := fileIntact(filepath.Join(a.dir, originalPath(d)), -1, d); err != nil {
				r.bad(originalPath(d), doBackup, "the description by which %s was read: %v", f.Name, err)
			}
		}
	}
	if n := int64(len(files)); n != a.m.Originals {
		r.bad(Files, doRepair, "the manifest counts %d files and the table of files has %d", a.m.Originals, n)
	}
	if r.Counts.Stored != r.Readings {
		r.bad(Readings, doProgram, "%d readings were stored and %d are there", r.Counts.Stored, r.Readings)
	}
	return nil
}

// sidecars holds the lists of what was imported against the table of files.
func (r *Report) sidecars(a *Archive, files []File) error {
	told, err := readSides(a.dir, a.m.Originals)
	if err != nil {
		return err
	}
	missing, extra := told.compare(sidecarsOf(files))
	for _, path := range sortedKeys(missing) {
		why := told.bad[path]
		if why == nil {
			why = errors.New("it is missing or tells something else than the table of files")
		}
		r.bad(path, doRepair, "%v", why)
	}
	for _, path := range extra {
		r.bad(path, doRepair, "it tells of files that are told of elsewhere, or of none that are here")
	}
	return nil
}

// partIntact checks size, checksum and footer.
func partIntact(path string, p Part) error {
	if err := fileIntact(path, p.Bytes, p.SHA256); err != nil {
		return err
	}
	rows, err := parq.Rows(path)
	if err != nil {
		return err
	}
	if rows != p.Rows {
		return fmt.Errorf("%d rows, the manifest says %d", rows, p.Rows)
	}
	return nil
}

// errMissing is how a file is told that is not there.
var errMissing = missing{}

type missing struct{}

func (missing) Error() string { return "it is missing" }
func (missing) Unwrap() error { return fs.ErrNotExist }

// fileIntact checks size (unless negative) and checksum.
func fileIntact(path string, size int64, want string) error {
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return errMissing
	}
	if err != nil {
		return err
	}
	defer f.Close()
	return intact(f, size, want)
}

func intact(r io.Reader, size int64, want string) error {
	h := sha256.New()
	n, err := io.Copy(h, r)
	switch {
	case err != nil:
		return err
	case size >= 0 && n != size:
		return damage(fmt.Sprintf("%d bytes, should be %d", n, size))
	case hex.EncodeToString(h.Sum(nil)) != want:
		return damage("its checksum does not match")
	}
	return nil
}

// damage is how bytes are told that are not what they were.
type damage string

func (d damage) Error() string { return string(d) }

// checkReadings checks that readings are in order, within their partition, and
// marked as conflicts where they are.
func (a *Archive) checkReadings(p Part) error {
	at, err := parsePartition(p.Partition)
	if err != nil {
		return err
	}
	var last Run
	var lastTime, lastValue, conflicts int64
	var lastClash, begun bool
	latest := at.month
	if at.day == 0 {
		latest++
	}
	err = a.ReadReadings(p, func(r *Run) error {
		for i, t := range r.Time {
			same := begun && r.Series == last.Series
			if begun && (compareSeries(last.Series, r.Series) > 0 || same &&
				cmp.Or(cmp.Compare(lastTime, t), cmp.Compare(lastValue, r.Mantissa[i])) >= 0) {
				return fmt.Errorf("the readings of %v are out of order", r.Series)
			}
			if partitionOf(t, latest) != at {
				return fmt.Errorf("a reading of %v lies outside its partition", r.Series)
			}
			if clash := same && lastTime == t; clash && !(lastClash && r.Conflict[i]) {
				return fmt.Errorf("a conflict of %v is not marked", r.Series)
			}
			if r.Conflict[i] {
				conflicts++
			}
			last.Series, lastTime, lastValue, lastClash, begun = r.Series, t, r.Mantissa[i], r.Conflict[i], true
		}
		return nil
	})
	if err == nil && conflicts != p.Conflicts {
		err = fmt.Errorf("%d readings in conflict, the manifest says %d", conflicts, p.Conflicts)
	}
	return err
}

// Repair checks and, where something is amiss that the originals can mend, makes
// it anew, the same as it was. It gives what was found before; what it could not
// mend is found by the next Check. Where a derived table is damaged all of them
// are dropped, for the next run to make: they hold together.
func Repair(ctx context.Context, l *Lock, opt RebuildOptions) (*Report, error) {
	if l.far == nil {
		return repairFolder(ctx, l, opt)
	}
	if err := l.far.heal(ctx, l); err != nil {
		return nil, err
	}
	r, err := repairFolder(ctx, l, opt)
	if err != nil {
		return r, err
	}
	return r, l.far.check(ctx, r, true)
}

// repairFolder is Repair of the folder.
func repairFolder(ctx context.Context, l *Lock, opt RebuildOptions) (*Report, error) {
	r, err := check(ctx, l.dir, true)
	if err != nil || len(r.Findings) == 0 {
		return r, err
	}
	l.seen = newVerified() // what was whole a while ago may be among the findings
	l.seen.far = l.far
	kinds := [3]int{}
	for _, f := range r.Findings {
		kinds[f.kind]++
	}
	if kinds[ofBase] == 0 {
		if kinds[ofDerived] > 0 {
			err = DropDerived(l)
		} else {
			err = removeLeftovers(l)
		}
		return r, err
	}
	opt.same = true
	_, err = Rebuild(ctx, l, opt)
	return r, err
}

// removeLeftovers removes the parts that count for nothing.
func removeLeftovers(l *Lock) error {
	m, err := loadForWriting(l)
	if err != nil {
		return err
	}
	_, err = sweep(l.fs, l.dir, m)
	return err
}
