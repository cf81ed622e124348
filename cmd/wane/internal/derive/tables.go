package derive

import (
	"wane/ingest/archive"
	"wane/queries"
)

// Tables gives the files of each table of the archive.
func Tables(a *archive.Archive) queries.Tables {
	out := queries.Tables{}
	for _, p := range a.Manifest().Parts {
		out[p.Table] = append(out[p.Table], a.Path(p))
	}
	return out
}
