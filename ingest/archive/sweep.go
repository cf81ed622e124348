package archive

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"wane/ingest/archive/internal/fsys"
)

// originalsDir holds the files that were taken in, byte for byte.
const originalsDir = "originals"

// partName is how every part is called.
var partName = regexp.MustCompile(`^[0-9a-f]{16}\.parquet$`)

// sweep removes the files in the making and the parts that the manifest does
// not name, and tells which. Originals and files that the archive did not make
// stay. Only the holder of the lock may sweep: nobody else can be making the
// files that it removes.
func sweep(f fsys.FS, dir string, m *Manifest) (removed []string, err error) {
	named := map[string]bool{}
	for _, p := range m.Parts {
		named[p.Path] = true
	}
	var folders []string
	err = filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
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
		case named[rel], !strings.HasPrefix(rel, tmpDir+"/") && !partName.MatchString(d.Name()):
			return nil
		}
		removed = append(removed, rel)
		return f.Remove(path)
	})
	if err != nil {
		return removed, err
	}
	// Deepest first, so that a folder that held only empty ones goes too.
	slices.Sort(folders)
	slices.Reverse(folders)
	for _, d := range folders {
		if left, err := os.ReadDir(d); err == nil && len(left) == 0 {
			if err := f.Remove(d); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return removed, err
			}
		}
	}
	return removed, nil
}
