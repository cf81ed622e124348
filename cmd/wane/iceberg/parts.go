package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"

	"wane/ingest/group"
)

// part is a file of a table.
type part struct {
	site string // "" for those of the group itself
	path string // with its scheme
}

// manifest is what is asked of an archive's manifest.json (ingest/archive/LAYOUT.md). The
// package that writes it cannot be linked beside this format's library: both bring an
// Arrow of their own, with the same symbols.
type manifest struct {
	Format int `json:"format"`
	Parts  []struct {
		Table string `json:"table"`
		Path  string `json:"path"`
		Rows  int64  `json:"rows"`
	} `json:"parts"`
}

// newest is the format of archives that is known here.
const newest = 2

// partsOf lists the files of every table but readings, of the group's sites and its own.
func partsOf(f group.Folder, c group.Config) (map[string][]part, error) {
	out := map[string][]part{}
	for _, m := range c.Sites {
		if err := archived(out, m.Name, f.Of(m)); err != nil {
			return nil, fmt.Errorf("site %s: %w", m.Name, err)
		}
	}
	return out, archived(out, "", string(f))
}

func archived(out map[string][]part, site, folder string) error {
	dir, err := filepath.Abs(filepath.Join(folder, "archive"))
	if err != nil {
		return err
	}
	m, err := manifestOf(dir)
	for _, p := range m.Parts {
		if p.Table != "readings" && p.Rows > 0 { // files without rows are named by no scan
			out[p.Table] = append(out[p.Table], part{site, scheme + filepath.Join(dir, filepath.FromSlash(p.Path))})
		}
	}
	return err
}

func manifestOf(dir string) (m manifest, err error) {
	text, err := os.ReadFile(filepath.Join(dir, "manifest.json"))
	if err != nil {
		return m, fmt.Errorf("%w; run `wane group nightly` first", err)
	}
	if err := json.Unmarshal(text, &m); err != nil {
		return m, fmt.Errorf("%s: %w", dir, err)
	}
	if m.Format > newest {
		return m, fmt.Errorf("%s has format %d, this program knows %d: take a newer one", dir, m.Format, newest)
	}
	return m, nil
}
