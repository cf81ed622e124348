package yearly

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive"
	"wane/ingest/site"
	"wane/queries"
	"wane/transform/yearly"
)

// Options is one summary.
type Options struct {
	Folder    site.Folder
	Site      sitefolder.Site
	Year      int
	Originals bool // copies of the logger files into the warranty bundles
	Forecasts bool // ask the lamps at both ends of the year
}

// Made is a summary and its files, by path within the year's folder.
type Made struct {
	Summary  *yearly.Summary
	Measured *Measured
	Files    map[string][]byte
}

// Make makes the summary of a year and lays its files out.
func Make(ctx context.Context, a *archive.Archive, db *queries.DB, o Options) (*Made, error) {
	g, err := gather(ctx, a, db, o.Site, o.Year, o.Forecasts)
	if err != nil {
		return nil, err
	}
	s, err := yearly.Make(g.in)
	if err != nil {
		return nil, err
	}
	m, err := g.measure(o.Folder)
	if err != nil {
		return nil, err
	}
	files, err := g.bundles(s.Claims, o.Originals)
	if err != nil {
		return nil, err
	}
	if err := byMake(files, s.Claims); err != nil {
		return nil, err
	}
	for _, t := range tables(s, m) {
		if files["tables/"+t.name+".csv"], err = t.bytes(); err != nil {
			return nil, err
		}
	}
	if files["summary.json"], err = summaryJSON(s, m, o.Site); err != nil {
		return nil, err
	}
	if files["index.html"], err = pageOf(s, m, o.Site); err != nil {
		return nil, err
	}
	files["manifest.sha256"] = manifest(files)
	return &Made{Summary: s, Measured: m, Files: files}, nil
}

func summaryJSON(s *yearly.Summary, m *Measured, site sitefolder.Site) ([]byte, error) {
	b, err := json.MarshalIndent(struct {
		Site     string `json:"site"`
		Invented bool   `json:"invented"`
		Zone     string `json:"zone"`
		Days     string `json:"days_are"`
		*yearly.Summary
		Measured *Measured `json:"measurement"`
	}{site.Config.Name, site.Config.Invented, site.Config.Zone, "days since 1970-01-01", s, m}, "", " ")
	if err != nil {
		return nil, fmt.Errorf("summary as JSON: %w", err)
	}
	return append(b, '\n'), nil
}

// Folder is where a year's files stand below the site's reports.
func Folder(folder site.Folder, year int) string {
	return folder.Path("reports", fmt.Sprintf("yearly-%d", year))
}

// Write puts the files into dir. A file that holds the same already is left
// alone; the manifest comes last; what an earlier summary left is removed.
func Write(dir string, files map[string][]byte) error {
	put := func(name string) error {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if old, err := os.ReadFile(path); err == nil && bytes.Equal(old, files[name]) {
			return nil
		}
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			return err
		}
		return site.WriteFile(path, files[name])
	}
	for name := range files {
		if name == "manifest.sha256" {
			continue
		}
		if err := put(name); err != nil {
			return fmt.Errorf("write yearly summary: %w", err)
		}
	}
	if err := sweep(dir, files); err != nil {
		return fmt.Errorf("sweep yearly summary: %w", err)
	}
	if err := put("manifest.sha256"); err != nil {
		return fmt.Errorf("write yearly summary: %w", err)
	}
	return nil
}

// sweep removes files and empty folders that are not of this summary.
func sweep(dir string, files map[string][]byte) error {
	var folders []string
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || path == dir {
			return err
		}
		if d.IsDir() {
			folders = append(folders, path)
			return nil
		}
		rel, err := filepath.Rel(dir, path)
		if err != nil {
			return err
		}
		if _, ok := files[filepath.ToSlash(rel)]; ok {
			return nil
		}
		return os.Remove(path)
	})
	if err != nil {
		return err
	}
	for i := len(folders) - 1; i >= 0; i-- {
		rel, err := filepath.Rel(dir, folders[i])
		if err != nil {
			return err
		}
		if !holds(files, filepath.ToSlash(rel)+"/") {
			if err := os.Remove(folders[i]); err != nil {
				return err
			}
		}
	}
	return nil
}

func holds(files map[string][]byte, prefix string) bool {
	for name := range files {
		if strings.HasPrefix(name, prefix) {
			return true
		}
	}
	return false
}
