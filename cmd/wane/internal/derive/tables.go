package derive

import (
	"wane/ingest/archive"
	"wane/queries"
)

// Tables gives the files of each table that the queries ask.
func Tables(a *archive.Archive) queries.Tables {
	files := func(table string) []string {
		var out []string
		for _, p := range a.Parts(table) {
			out = append(out, a.Path(p))
		}
		return out
	}
	return queries.Tables{Readings: files(archive.Readings), Daily: files(TableDaily), Levels: files(TableLevels)}
}
