package archive

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"wane/ingest/internal/fsys"
)

// originalsDir holds the files that were imported, byte for byte.
const originalsDir = "originals"

// partName is how every part is called.
var partName = regexp.MustCompile(`^[0-9a-f]{16}\.parquet$`)

// leftovers lists the files in the making, but for the journal, and the parts that
// the manifest does not name.
func leftovers(dir string, m *Manifest) (left []string, err error) {
	left, _, err = lookAround(dir, m)
	return left, err
}

func lookAround(dir string, m *Manifest) (left, folders []string, err error) {
	named := map[string]bool{}
	for _, p := range m.Parts {
		named[p.Path] = true
	}
	err = filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			if errors.Is(err, fs.ErrNotExist) {
				return nil // a run beside has removed it
			}
			return err
		}
		rel, err := filepath.Rel(dir, path)
		if err != nil {
			return err
		}
		rel = filepath.ToSlash(rel)
		switch {
		case rel == originalsDir:
			return filepath.SkipDir
		case d.IsDir():
			if rel != "." && rel != tmpDir {
				folders = append(folders, path)
			}
			return nil
		case named[rel], rel == tmpDir+"/"+journalName, !strings.HasPrefix(rel, tmpDir+"/") &&
			!partName.MatchString(d.Name()):
			return nil
		}
		left = append(left, rel)
		return nil
	})
	return left, folders, err
}

// sweep removes what lookAround finds, and tells what. Originals and files that the
// archive did not make stay. Only the holder of the lock may sweep: nobody else
// can be making the files that it removes.
func sweep(f fsys.FS, dir string, m *Manifest) (removed []string, err error) {
	left, folders, err := lookAround(dir, m)
	if err != nil {
		return nil, err
	}
	for _, rel := range left {
		removed = append(removed, rel)
		if err := f.Remove(filepath.Join(dir, filepath.FromSlash(rel))); err != nil {
			return removed, err
		}
	}
	slices.Sort(folders)
	slices.Reverse(folders)
	return removed, removeEmpty(f, folders)
}

// retire does what sweep does where nothing can lie about but the parts of old
// that next does not name and the files in the making: it looks at no others.
func retire(f fsys.FS, dir string, old, next *Manifest) error {
	named := map[string]bool{}
	for _, p := range next.Parts {
		named[p.Path] = true
	}
	left := map[string]bool{} // folders
	for _, p := range old.Parts {
		if named[p.Path] {
			continue
		}
		path := filepath.Join(dir, filepath.FromSlash(p.Path))
		if err := f.Remove(path); err != nil {
			return err
		}
		for d := filepath.Dir(path); d != dir; d = filepath.Dir(d) {
			left[d] = true
		}
	}
	making, err := os.ReadDir(filepath.Join(dir, tmpDir))
	if err != nil {
		return err
	}
	for _, e := range making {
		if e.Name() == journalName {
			continue // until the inputs are gone for good
		}
		if err := f.Remove(filepath.Join(dir, tmpDir, e.Name())); err != nil {
			return err
		}
	}
	folders := sortedKeys(left)
	slices.Reverse(folders)
	return removeEmpty(f, folders)
}

// removeEmpty removes the folders that hold nothing. They come deepest first, so
// that a folder that held only empty ones goes too.
func removeEmpty(f fsys.FS, folders []string) error {
	for _, d := range folders {
		if left, err := os.ReadDir(d); err == nil && len(left) == 0 {
			if err := f.Remove(d); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return err
			}
		}
	}
	return nil
}
