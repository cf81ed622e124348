package archive

import (
	"encoding/json"
	"os"
	"path/filepath"
)

// journalName is the file, among those in the making, that lists the originals
// that are about to get their names.
const journalName = "journal"

// journal writes down, for good, which originals are about to be named, so that a run that
// finds the list knows what may lie about without a manifest that counts it.
func (t *Import) journal() error {
	var names []string
	for _, s := range t.sinks {
		names = append(names, s.kept.SHA256)
		if d := s.kept.describeSHA; d != "" {
			names = append(names, d)
		}
	}
	b, err := json.Marshal(names)
	if err != nil {
		return err
	}
	if err := t.w.placeBytes(append(b, '\n'), filepath.Join(tmpDir, journalName)); err != nil {
		return err
	}
	return t.w.fs.SyncDir(filepath.Join(t.w.dir, tmpDir))
}

// recoverFrom clears up after a run that did not come to its end: files in the making, parts
// that do not count and sidecars that never counted are removed. The files that
// the run was importing are still where they came from, since those are removed
// last, and are imported again.
func recoverFrom(l *Lock, m *Manifest, before func() (*history, error)) (swept []string, err error) {
	names, err := readJournal(l.dir)
	if err != nil {
		return nil, err
	}
	if names == nil && l.clean() {
		return nil, nil
	}
	var known map[string]Known
	if len(names) > 0 {
		h, err := before()
		if err != nil {
			return nil, err
		}
		known = h.known
	}
	w, err := newWriter(l, 1)
	if err != nil {
		return nil, err
	}
	remove := func(rel string) error {
		path := filepath.Join(l.dir, rel)
		if _, err := os.Lstat(path); err != nil {
			return nil
		}
		if err := l.fs.Remove(path); err != nil {
			return err
		}
		w.changed(filepath.Dir(rel))
		swept = append(swept, filepath.ToSlash(rel))
		return nil
	}
	if names != nil {
		if err := remove(listPath(m.Originals + 1)); err != nil {
			return swept, err
		}
	}
	for _, sha := range names {
		if len(sha) != 64 {
			continue
		}
		if _, counts := known[sha]; counts {
			continue
		}
		// Its sidecar goes: the sequence never counted. The bytes stay, in case
		// their file is gone; they are taken up when it comes again.
		if err := remove(sidePath(sha)); err != nil {
			return swept, err
		}
	}
	if err := w.syncFolders(); err != nil {
		return swept, err
	}
	more, err := sweep(l.fs, l.dir, m)
	if err == nil && names != nil {
		more = append(more, tmpDir+"/"+journalName)
		err = l.fs.Remove(filepath.Join(l.dir, tmpDir, journalName))
	}
	if err == nil {
		l.cleared()
	}
	return append(swept, more...), err
}
