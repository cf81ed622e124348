// Package group reads group.yaml: what a group of sites is, and where its sites lie.
package group

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"

	"wane/ingest/internal/strictyaml"
	"wane/ingest/problem"
	"wane/ingest/site"
	"wane/transform/forecast"
)

// ConfigFile is the name of the configuration in the group folder.
const ConfigFile = "group.yaml"

// Config is group.yaml.
type Config struct {
	Name     string   `yaml:"name"`
	Invented bool     `yaml:"invented"` // the data are made up: every page says so
	Sites    []Member `yaml:"sites"`
	// Store is where the buckets of Sites are; nil where all are folders.
	Store *site.Archive `yaml:"store"`
	// OwnLots: each site names its lots for itself, so that one name at two sites is
	// two lots.
	OwnLots bool `yaml:"own_lots"`
	// Forecast is what is assumed of lamp types in the fit of the group.
	Forecast Assumed `yaml:"forecast"`
}

// Assumed is the part of a site's `forecast` that is the group's.
type Assumed struct {
	LampTypes map[string]forecast.ClassDefaults `yaml:"lamp_types"`
}

// Member is one site of the group.
type Member struct {
	Name   string `yaml:"name"`   // in column site
	Folder string `yaml:"folder"` // its site folder, from the group folder; or s3://bucket/prefix of its settings
}

// Far says that the site's settings are in a bucket; a folder of the group then holds a
// copy of them.
func (m Member) Far() bool { return strings.HasPrefix(m.Folder, "s3://") }

// settingsDir holds the copies of settings from buckets.
const settingsDir = "sites"

// MostSites bounds a group.
const MostSites = 1000

var siteName = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9._-]{0,59}$`)

// Parse reads and checks group.yaml. Every mistake is listed; the Config is usable
// only where the list is empty.
func Parse(data []byte) (Config, problem.List) {
	c := Config{Forecast: Assumed{LampTypes: forecast.DefaultTable().Classes}}
	doc, found := strictyaml.Decode(ConfigFile, data, &c)
	if !doc.Parsed() {
		return c, found
	}
	bad := func(path, what, do string) { found = append(found, doc.At(path, what, do)) }
	if c.Name == "" {
		bad("name", "the group has no name", "write `name: …`; it stands on every page")
	}
	if len(c.Sites) == 0 {
		bad("sites", "the group has no site", "write `sites:` with a line `- {name: north, folder: ../north}` for each")
	}
	if len(c.Sites) > MostSites {
		bad("sites", fmt.Sprintf("%d sites are more than the %d that a group may have", len(c.Sites), MostSites),
			"make several groups")
	}
	c.checkSites(bad)
	if c.Store != nil {
		c.Store.CheckStore(bad, "store")
		if c.Store.Bucket != "" {
			bad("store.bucket", "each site's folder names its own bucket", "take it out")
		}
	}
	table := forecast.DefaultTable()
	table.Classes = c.Forecast.LampTypes
	if err := table.Validate(); err != nil {
		bad("forecast", err.Error(), "see the commented section of a new site.yaml")
	}
	found.Sort()
	return c, found
}

func (c *Config) checkSites(bad func(path, what, do string)) {
	names, folders := map[string]int{}, map[string]int{}
	for i, s := range c.Sites {
		path := fmt.Sprintf("sites[%d]", i)
		if !siteName.MatchString(s.Name) {
			bad(path+".name", fmt.Sprintf("%q cannot name a site", s.Name),
				"write up to 60 letters, digits, dots, dashes and underscores, a letter or digit first")
		} else if before, ok := names[strings.ToLower(s.Name)]; ok {
			bad(path+".name", fmt.Sprintf("%q is the name of sites[%d] too", s.Name, before), "give each site a name of its own")
		}
		names[strings.ToLower(s.Name)] = i
		at := filepath.Clean(filepath.FromSlash(s.Folder))
		before, ok := folders[at]
		if s.Far() {
			place := site.Archive{Bucket: s.Folder}
			place.CheckPlace(bad, path+".folder")
			if c.Store == nil {
				bad(path+".folder", "it is in a bucket, and nothing says of which object store",
					"write `store:` with endpoint, region, access_key and secret_key, as `archive:` in a site.yaml")
			}
			copied := filepath.Join(settingsDir, s.Name)
			if b, taken := folders[copied]; taken {
				before, ok = b, true
			}
			folders[copied] = i
		}
		switch {
		case s.Folder == "":
			bad(path+".folder", "the site has no folder", "write where its site.yaml lies, from the group's folder")
		case strings.Contains(s.Folder, "://") && !s.Far():
			bad(path+".folder", fmt.Sprintf("%q is not a folder", s.Folder),
				"name a folder that this machine sees, or s3://bucket/prefix")
		case ok:
			bad(path+".folder", fmt.Sprintf("it is the folder of sites[%d] too", before), "name each site once")
		}
		folders[at] = i
	}
}

// Folder is a group folder on disk.
type Folder string

// Path joins elements below the folder.
func (f Folder) Path(elem ...string) string {
	return filepath.Join(append([]string{string(f)}, elem...)...)
}

// Of gives the folder of a site.
func (f Folder) Of(m Member) string {
	if m.Far() {
		return f.Path(settingsDir, m.Name)
	}
	at := filepath.FromSlash(m.Folder)
	if filepath.IsAbs(at) {
		return at
	}
	return f.Path(at)
}

// Load reads and checks the folder's group.yaml. The error is a problem.List where the
// file was read but cannot be used.
func (f Folder) Load() (Config, error) {
	data, err := os.ReadFile(f.Path(ConfigFile))
	if errors.Is(err, fs.ErrNotExist) {
		return Config{}, problem.List{{File: ConfigFile, What: fmt.Sprintf("there is none in %s", f),
			Do: "name the group's folder with --group, or make one with `wane group new DIR`"}}
	}
	if err != nil {
		return Config{}, fmt.Errorf("read %s: %w", ConfigFile, err)
	}
	c, found := Parse(data)
	return c, found.Err()
}
