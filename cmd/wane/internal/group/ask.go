package group

import (
	"context"
	"errors"
	"fmt"
	"os"
	"runtime"

	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive"
	"wane/ingest/group"
	"wane/queries"
)

// Ask opens the query engine over the tables of all sites, with a column site before
// their own, and those of the group, and hands it to fn.
func Ask(ctx context.Context, f group.Folder, c group.Config, fn func(*queries.DB) error) error {
	var sites []queries.SiteTables
	for _, m := range c.Sites {
		dir := f.Of(m)
		if _, err := os.Stat(dir); err != nil {
			return fmt.Errorf("site %s: there is no folder %s; mend group.yaml, or run `wane group nightly`, which fetches "+
				"settings from a bucket", m.Name, dir)
		}
		a, _, err := sitefolder.View(dir)
		if err == nil {
			err = errors.Join(a.Verify(), a.Bring())
		}
		if err != nil {
			return fmt.Errorf("site %s: %w", m.Name, err)
		}
		sites = append(sites, queries.SiteTables{Site: m.Name, Tables: derive.Tables(a)})
	}
	own, err := archive.Open(f.Path("archive"))
	if err == nil {
		err = own.Verify()
	}
	if err != nil {
		return err
	}
	db, err := queries.OpenSites(ctx, sites, derive.Tables(own), queries.Limits{Threads: runtime.NumCPU(), MemoryMB: 700,
		Temp: os.TempDir()})
	if err != nil {
		return err
	}
	return errors.Join(fn(db), db.Close())
}
