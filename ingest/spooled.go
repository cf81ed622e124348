package ingest

import (
	"fmt"
	"os"
	"slices"

	"wane/ingest/collect/spool"
)

// spooled lists what was collected and is sealed: spool/NAME is read by the
// description of that name, whatever its files are called, and removed once it
// is imported.
func spooled(o Options, all []*Described, notes *[]string) ([]offered, error) {
	entries, err := os.ReadDir(o.Site.Path(spool.Folder))
	if os.IsNotExist(err) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("look for what was collected: %w", err)
	}
	var out []offered
	for _, e := range entries {
		if !e.IsDir() {
			continue
		}
		i := slices.IndexFunc(all, func(d *Described) bool { return d.Name == e.Name() })
		var by *Described
		if i >= 0 {
			by = all[i]
		}
		files, err := walk(o.Site.Path(spool.Folder, e.Name()), e.Name()+"/", true, nil, notes)
		if err != nil {
			return nil, err
		}
		if by == nil && len(files) > 0 {
			*notes = append(*notes, fmt.Sprintf("%d collected files wait in spool/%s: no description in sources/ has the name %s any more; give one that name", len(files), e.Name(), e.Name()))
			continue
		}
		for _, f := range files {
			f.by = by
			out = append(out, f)
		}
	}
	return out, nil
}
