package batch

import (
	"fmt"
	"path/filepath"
	"sort"

	"wane/ingest/site"
)

// yearsOf finds the years that have a reliability summary among the reports.
func yearsOf(folder site.Folder) ([]int, error) {
	pages, err := filepath.Glob(folder.Path("reports", "yearly-*", "index.html"))
	if err != nil {
		return nil, err
	}
	var out []int
	for _, p := range pages {
		var year int
		if _, err := fmt.Sscanf(filepath.Base(filepath.Dir(p)), "yearly-%d", &year); err == nil {
			out = append(out, year)
		}
	}
	sort.Ints(out)
	return out, nil
}
