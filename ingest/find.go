package ingest

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sort"
	"strings"

	"wane/ingest/problem"
	"wane/ingest/site"
	"wane/ingest/source"
)

// Descriptions reads and checks sources/*.yaml. All mistakes of all files are
// listed; a site without the folder has no descriptions.
func Descriptions(folder site.Folder) ([]*Described, error) {
	paths, err := filepath.Glob(folder.Path("sources", "*.yaml"))
	if err != nil {
		return nil, err
	}
	sort.Strings(paths)
	var out []*Described
	var found problem.List
	for _, p := range paths {
		data, err := os.ReadFile(p)
		if err != nil {
			return nil, fmt.Errorf("read source description: %w", err)
		}
		d, err := source.Load(data, "sources/"+filepath.Base(p))
		var list problem.List
		switch {
		case errors.As(err, &list):
			found = append(found, list...)
		case err != nil:
			return nil, err
		default:
			out = append(out, &Described{Description: d, Text: data})
		}
	}
	return out, found.Err()
}

// Described is a description with its text, which is kept with every file that
// is read by it.
type Described struct {
	*source.Description
	Text []byte
}

// offered is a file that may be imported.
type offered struct {
	path   string
	name   string // how it is known: below the inbox, or below its source's folder or name
	remove bool   // out of the inbox or the spool once it is imported
	by     *Described
}

// find lists the files to import, in the order of their names.
func find(o Options, all []*Described) ([]offered, []string, error) {
	if len(o.Files) > 0 {
		var out []offered
		for _, f := range o.Files {
			out = append(out, offered{path: f, name: filepath.ToSlash(filepath.Base(f))})
		}
		return out, nil, nil
	}
	var notes []string
	out, err := walk(o.Site.Path("inbox"), "", true, nil, &notes)
	if err != nil {
		return nil, nil, err
	}
	more, err := spooled(o, all, &notes)
	if err != nil {
		return nil, nil, err
	}
	out = append(out, more...)
	for _, d := range all {
		for _, from := range d.From {
			if !filepath.IsAbs(from) {
				from = o.Site.Path(filepath.FromSlash(from))
			}
			st, err := os.Stat(from)
			if err != nil {
				notes = append(notes, fmt.Sprintf("source %s: %v; mend `from` in %s, or mount the folder", d.Name, err, d.File()))
				continue
			}
			if !st.IsDir() {
				out = append(out, offered{path: from, name: d.Name + "/" + filepath.Base(from), by: d})
				continue
			}
			more, err := walk(from, d.Name+"/", false, d, &notes)
			if err != nil {
				return nil, nil, err
			}
			out = append(out, more...)
		}
	}
	return out, notes, nil
}

// walk lists the regular files below dir. Hidden files and those still being
// written by the usual name for that are not looked at; links are not followed.
// A folder below that cannot be read is noted, and the rest goes on.
func walk(dir, prefix string, remove bool, by *Described, notes *[]string) ([]offered, error) {
	var out []offered
	err := filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err != nil {
			if errors.Is(err, fs.ErrNotExist) && path == dir {
				return filepath.SkipAll // no inbox yet
			}
			if path != dir {
				*notes = append(*notes, fmt.Sprintf("%v; nothing of that folder was imported", err))
				return nil
			}
			return fmt.Errorf("look for files: %w", err)
		}
		hidden := strings.HasPrefix(e.Name(), ".") && path != dir
		if e.IsDir() {
			if hidden {
				return filepath.SkipDir
			}
			return nil
		}
		if hidden || strings.HasSuffix(e.Name(), ".part") || strings.HasSuffix(e.Name(), ".tmp") {
			return nil
		}
		rel, err := filepath.Rel(dir, path)
		if err != nil {
			return err
		}
		if by != nil && !by.Match(e.Name()) {
			return nil
		}
		out = append(out, offered{path: path, name: prefix + filepath.ToSlash(rel), remove: remove, by: by})
		return nil
	})
	return out, err
}
