package archive

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// ErrLost says that the manifest is gone, or older than what it should tell of. An
// archive that has lost its root is never taken for a new one.
var ErrLost = errors.New("the manifest is lost")

// traceOf gives some file that shows that an archive was here; "" for a new one.
func traceOf(dir string) (trace string, err error) {
	err = filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if errors.Is(err, fs.ErrNotExist) && path == dir {
			return filepath.SkipAll
		}
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(dir, path)
		switch {
		case err != nil:
			return err
		case d.IsDir() && rel == tmpDir:
			return filepath.SkipDir
		case d.IsDir(), rel == lockName, rel == scrubName, rel == manifestName, rel == markName:
			return nil
		}
		trace = filepath.ToSlash(rel)
		return filepath.SkipAll
	})
	return trace, err
}

// loadForWriting is loadManifest for the holder of the lock, who must not build on
// a manifest that tells of less than there is: one that was brought back from
// an older copy, or belongs to another archive.
func loadForWriting(l *Lock) (*Manifest, error) {
	m, err := loadManifest(l.dir)
	if err != nil {
		return nil, err
	}
	journal, err := readJournal(l.dir)
	if err != nil {
		return nil, err
	}
	return m, behind(l.dir, m, journal)
}

// behind says whether there are lists of files that the manifest does not count,
// though no import was cut off before it counted.
func behind(dir string, m *Manifest, journal []string) error {
	names, err := os.ReadDir(filepath.Join(dir, listsDir))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	for _, d := range names {
		first, ok := firstOf(d.Name())
		if !ok || first <= m.Originals {
			continue
		}
		s := &sides{of: map[string]sidecar{}, own: map[string]bool{}, lists: map[int64][]byte{}, bad: map[string]error{}}
		s.readList(dir, first)
		if len(journal) > 0 && first == m.Originals+1 && s.allOf(journal) {
			continue
		}
		return fmt.Errorf("%w: %s counts %d files, but %s tells of more: it is an older copy or another archive's; run "+
			"`wane rebuild`, which makes it anew from the originals",
			ErrLost, filepath.Join(dir, manifestName), m.Originals, filepath.ToSlash(listPath(first)))
	}
	return nil
}

// allOf says whether all sidecars speak of files of the journal. A list that was
// cut off in the making cannot be read and has its name all the same only where
// the disk lied.
func (s *sides) allOf(journal []string) bool {
	named := map[string]bool{}
	for _, sha := range journal {
		named[sha] = true
	}
	for sha := range s.of {
		if !named[sha] {
			return false
		}
	}
	return len(s.bad) == 0
}

// readJournal gives the originals that were about to be named; nil without one.
func readJournal(dir string) (names []string, err error) {
	path := filepath.Join(dir, tmpDir, journalName)
	b, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err == nil {
		err = json.Unmarshal(b, &names)
	}
	if err != nil {
		return nil, fmt.Errorf("%w: the journal %s is damaged: %w; run `wane rebuild`, which counts all that is there",
			ErrLost, path, err)
	}
	return names, nil
}

// recall gathers what is known of the files that were imported: from the lists,
// and from the table of files, whose parts are named by their content and so
// believed before a list. trusted says that m is the manifest of what is there.
// Whatever is not whole is an error: what nothing tells of would be lost.
func recall(dir string, m *Manifest, trusted bool, journal []string) ([]sidecar, error) {
	told, err := readSides(dir, 1<<62)
	if err != nil {
		return nil, err
	}
	known := map[string]sidecar{}
	journaled := map[string]bool{}
	for _, sha := range journal {
		journaled[sha] = true
	}
	for sha, s := range told.of {
		if trusted && s.Sequence > m.Originals && (journaled[sha] || told.own[sha]) {
			continue // of a killed run
		}
		known[sha] = s
	}
	rows, err := filesTold(dir, m, trusted)
	if err != nil {
		return nil, err
	}
	most := int64(0)
	if trusted {
		most = m.Originals
	}
	for _, s := range rows {
		known[s.SHA256] = s
	}
	by := map[int64]string{}
	for sha, s := range known {
		if other, twice := by[s.Sequence]; twice {
			return nil, fmt.Errorf("%s and %s have the same sequence number %d in their sidecars",
				s.Name, known[other].Name, s.Sequence)
		}
		by[s.Sequence] = sha
		most = max(most, s.Sequence)
	}
	out := make([]sidecar, 0, most)
	for seq := int64(1); seq <= most; seq++ {
		sha, ok := by[seq]
		if !ok {
			return nil, fmt.Errorf("nothing tells any more of file number %d, which would be lost; %s", seq, told.whatIsBad())
		}
		out = append(out, known[sha])
	}
	if trusted {
		return out, nil
	}
	return out, orphan(dir, out, journaled)
}

// whatIsBad lists the sidecars that cannot be read, and what to do.
func (s *sides) whatIsBad() string {
	var bad []string
	for _, path := range sortedKeys(s.bad) {
		bad = append(bad, s.bad[path].Error())
	}
	return strings.Join(append(bad, "bring "+filepath.ToSlash(listsDir)+" or "+manifestName+" back from a backup"), "; ")
}

// filesTold reads the table of files where it is sound: the parts that the
// manifest names, or without one those whose name is their content's.
func filesTold(dir string, m *Manifest, trusted bool) (out []sidecar, err error) {
	parts := m.table(Files)
	if !trusted {
		parts = nil
		err = filepath.WalkDir(filepath.Join(dir, Files), func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || !partName.MatchString(d.Name()) {
				if errors.Is(err, fs.ErrNotExist) {
					return nil
				}
				return err
			}
			b, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			rel, err := filepath.Rel(dir, path)
			if s := sum(b); err == nil && strings.HasPrefix(d.Name(), s[:16]) {
				parts = append(parts, Part{Table: Files, Path: filepath.ToSlash(rel), Bytes: int64(len(b)), SHA256: s})
			}
			return err
		})
		if err != nil {
			return nil, err
		}
	}
	for _, p := range parts {
		a := view(dir, &Manifest{Format: Format, Parts: []Part{p}}, newVerified())
		files, err := a.Files()
		if errors.Is(err, ErrDamaged) {
			continue // the lists tell
		}
		if err != nil {
			return nil, err
		}
		out = append(out, sidecarsOf(files)...)
	}
	return out, nil
}

// orphan refuses to make a manifest anew while there is an original that nothing
// speaks of: its list is lost.
func orphan(dir string, known []sidecar, journaled map[string]bool) error {
	spoken := map[string]bool{}
	for i := range known {
		spoken[known[i].SHA256], spoken[known[i].DescriptionSHA] = true, true
	}
	return eachOriginal(dir, func(sha string, side bool) error {
		if side || spoken[sha] || journaled[sha] {
			return nil
		}
		return fmt.Errorf("nothing speaks of %s, which would be lost: move it into the inbox, from where it is imported "+
			"again, and repeat", filepath.ToSlash(originalPath(sha)))
	})
}
