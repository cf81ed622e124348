package queries

import (
	"context"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
)

// SiteTables are the files of one site of a group.
type SiteTables struct {
	Site   string // as column site has it: letters, digits, dots, dashes, underscores
	Tables Tables
}

var plainSite = regexp.MustCompile(`^[A-Za-z0-9._-]+$`)

// OpenSites starts an engine over the archives of several sites: every table is that of
// all of them, with a column site before its own. more are tables of the group itself,
// which are seen as they are. The engine is for Ask; the other statements ask one site.
func OpenSites(ctx context.Context, sites []SiteTables, more Tables, l Limits) (*DB, error) {
	return open(ctx, l, func(db *DB) error { return db.overSites(ctx, sites, more) })
}

func (db *DB) overSites(ctx context.Context, sites []SiteTables, more Tables) error {
	all := Tables{}
	for _, s := range sites {
		if !plainSite.MatchString(s.Site) {
			return fmt.Errorf("%q cannot name a site", s.Site)
		}
		for name, files := range s.Tables {
			all[name+" of "+s.Site] = files
		}
	}
	maps.Copy(all, more)
	described, views, err := db.tablesOver(ctx, all)
	if err != nil {
		return err
	}
	for _, t := range described {
		var parts []string
		for _, s := range sites {
			if len(s.Tables[t.Name]) == 0 {
				continue
			}
			_, body, ok := strings.Cut(views[t.Name], " AS\n")
			if !ok {
				return fmt.Errorf("views.sql has no view of table %s", t.Name)
			}
			body = strings.ReplaceAll(body, "['"+t.Name+"']", "['"+t.Name+" of "+s.Site+"']")
			parts = append(parts, "SELECT '"+s.Site+"' AS site, * FROM ("+strings.TrimSuffix(strings.TrimSpace(body), ";")+")")
		}
		statement := "CREATE TEMP VIEW " + t.Name + " AS " + strings.Join(parts, " UNION ALL BY NAME ")
		if len(parts) == 0 {
			statement = strings.Replace(t.text, "CREATE TABLE "+t.Name+" (", "CREATE TEMP TABLE "+t.Name+" (site VARCHAR,", 1)
		}
		if err := db.run(ctx, "view "+t.Name, statement); err != nil {
			return err
		}
	}
	for _, name := range slices.Sorted(maps.Keys(more)) {
		statement := "CREATE TEMP VIEW " + name + " AS SELECT * FROM read_parquet(getvariable('files')['" + name +
			"'][1], hive_partitioning = false)"
		if err := db.run(ctx, "view "+name, statement); err != nil {
			return err
		}
	}
	return nil
}
