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
}

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
	doProgram = "run check --repair; if it stays, this is an error in the program"
)

func (r *Report) bad(path, do, format string, a ...any) {
	r.Findings = append(r.Findings, Finding{filepath.ToSlash(path), fmt.Sprintf(format, a...), do})
}

// Check verifies every checksum, count and footer, the order and bounds of the
// readings, that the originals are whole, and that no row is unaccounted for.
// The error is only for what kept it from looking.
func Check(ctx context.Context, dir string) (*Report, error) {
	r := &Report{}
	m, err := loadManifest(dir)
	if errors.Is(err, ErrTorn) {
		r.bad(manifestName, doRepair, "%v", err)
		return r, nil
	}
	if err != nil {
		return nil, err
	}
	a := &Archive{dir: dir, m: m}
	sound := true
	for _, p := range m.Parts {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		err := partIntact(a.Path(p), p)
		if err == nil && p.Table == Readings {
			err = a.checkReadings(p)
		}
		if err != nil {
			do := doRepair
			if !isBase(p.Table) {
				do = "run rebuild, which makes the derived tables anew"
			}
			r.bad(p.Path, do, "%v", err)
			sound = sound && !isBase(p.Table)
			continue
		}
		r.Parts++
		if p.Table == Readings {
			r.Readings += p.Rows
		}
	}
	counted := map[string]bool{}
	if sound {
		if err := r.law(a, counted); err != nil {
			return nil, err
		}
	}
	err = eachOriginal(dir, func(sha string, side bool) error {
		if !side && sound && !counted[sha] {
			r.Waiting = append(r.Waiting, filepath.ToSlash(originalPath(sha)))
		}
		return ctx.Err()
	})
	return r, err
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
	told, err := readSides(a.dir, a.m.Originals)
	if err != nil {
		return err
	}
	missing := told.missing(sidecarsOf(files))
	for _, path := range sortedKeys(missing) {
		why := told.bad[path]
		if why == nil {
			why = errors.New("it is missing or tells something else than the table of files")
		}
		r.bad(path, doRepair, "%v", why)
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
			r.bad(originalPath(f.SHA256), doProgram, "%s had %d rows, but %d are stored, %d duplicate and %d quarantined", f.Name, f.Rows, f.Stored, f.Duplicate, f.Quarantined)
		}
		if held[f.Sequence] != f.Quarantined {
			r.bad(originalPath(f.SHA256), doProgram, "%s has %d rows in quarantine, and %d are there", f.Name, f.Quarantined, held[f.Sequence])
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
	if r.Counts.Stored != r.Readings {
		r.bad(Readings, doProgram, "%d readings were stored and %d are there", r.Counts.Stored, r.Readings)
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

// fileIntact checks size (unless negative) and checksum.
func fileIntact(path string, size int64, want string) error {
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return errors.New("it is missing")
	}
	if err != nil {
		return err
	}
	defer f.Close()
	h := sha256.New()
	n, err := io.Copy(h, f)
	switch {
	case err != nil:
		return err
	case size >= 0 && n != size:
		return fmt.Errorf("%d bytes, should be %d", n, size)
	case hex.EncodeToString(h.Sum(nil)) != want:
		return errors.New("its checksum does not match")
	}
	return nil
}

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
			if begun && (compareSeries(last.Series, r.Series) > 0 || same && cmp.Or(cmp.Compare(lastTime, t), cmp.Compare(lastValue, r.Mantissa[i])) >= 0) {
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
// it anew. It gives what was found before; what it could not mend is found by
// the next Check. Derived tables that are damaged are dropped, for the next run
// to make.
func Repair(ctx context.Context, l *Lock, opt RebuildOptions) (*Report, error) {
	r, err := Check(ctx, l.dir)
	if err != nil || len(r.Findings) == 0 {
		return r, err
	}
	if a, err := Open(l.dir); err == nil {
		// Where the table of files is itself at fault, the sidecars tell.
		if _, err := restoreSidecars(l, a); err != nil && !errors.Is(err, ErrGone) && !damaged(r, a, Files) {
			return r, fmt.Errorf("restore the sidecars: %w", err)
		}
	}
	if _, err := Rebuild(ctx, l, opt); err != nil {
		return r, err
	}
	return r, nil
}

// damaged says whether a part of the table is among the findings.
func damaged(r *Report, a *Archive, table string) bool {
	for _, p := range a.Parts(table) {
		for _, f := range r.Findings {
			if f.Path == p.Path {
				return true
			}
		}
	}
	return false
}
