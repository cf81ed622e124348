package archive

import (
	"os"

	"wane/ingest/internal/fsys"
)

// hasty is the real disk without fsync: for tests that do not ask what a power
// cut leaves.
type hasty struct{ fsys.OS }

type hastyWriter struct{ fsys.Writer }

func (hastyWriter) Sync() error { return nil }

func (hasty) Sync(*os.File) error { return nil }

func (hasty) SyncDir(string) error { return nil }

func (h hasty) Create(path string) (fsys.Writer, error) {
	w, err := h.OS.Create(path)
	return hastyWriter{w}, err
}
