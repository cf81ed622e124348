package yearly

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime/debug"
	"sort"
	"strings"
	"time"

	"wane/cmd/wane/internal/derive"
	"wane/ingest/archive"
	"wane/ingest/site"
	"wane/queries"
	"wane/transform/calendar"
)

// Measured is the measurement system of the year: what was taken in, what was
// not used, and what the numbers were made with.
type Measured struct {
	Months      []queries.MonthRow `json:"-"`
	Left        []Left             `json:"left_out"`
	Readings    int64              `json:"readings_of_light"`
	Usable      int64              `json:"usable"`
	Sources     []Source           `json:"sources"`
	Rejected    []Rejected         `json:"rejected"`
	Conflicts   int64              `json:"readings_in_conflict"`
	Config      []Hashed           `json:"configuration"`
	ConfigHash  string             `json:"configuration_sha256"`
	Program     string             `json:"program"`
	Tables      string             `json:"derived_tables_version"`
	Corrections string             `json:"corrections"`
	files       []archive.File     // that hold readings of the year, by name
}

// Left is readings of light that no level rests on, by why.
type Left struct {
	Reason string  `json:"reason"`
	Count  int64   `json:"readings"`
	Share  float64 `json:"share"`
}

// Source is the files of one source description that hold readings of the year.
type Source struct {
	Name        string `json:"source"`
	Files       int    `json:"files"`
	Rows        int64  `json:"rows"`
	Stored      int64  `json:"stored"`
	Duplicate   int64  `json:"duplicate"`
	Quarantined int64  `json:"quarantined"`
}

// Rejected is rows in quarantine from those files, by reason.
type Rejected struct {
	Code string `json:"code"`
	Rows int64  `json:"rows"`
}

// Hashed is a file with its SHA-256.
type Hashed struct {
	Path   string `json:"path"`
	SHA256 string `json:"sha256"`
}

// measure gathers the measurement system.
func (g *gatherer) measure(folder site.Folder) (*Measured, error) {
	m := &Measured{Tables: derive.Version, Program: program()}
	var err error
	if m.Months, err = queries.CoverageByMonth(g.ctx, g.db, calendar.Date(g.in.First),
		calendar.Date(g.in.AsOf)); err != nil {
		return nil, err
	}
	rows, err := queries.LeftOut(g.ctx, g.db, calendar.Date(g.in.First), calendar.Date(g.in.AsOf), "")
	if err != nil {
		return nil, err
	}
	m.leftOut(rows)
	if err := m.taken(g.a, calendar.Start(g.in.First, g.loc), calendar.Start(g.in.AsOf+1, g.loc)); err != nil {
		return nil, err
	}
	if err := m.configuration(folder); err != nil {
		return nil, err
	}
	c := g.site.Config
	m.Corrections = fmt.Sprintf("per cent of light per per cent of voltage by gear (%s); change of light per degree from %[3]g °C by lamp type (%[2]s); 100 %% is the median of %[4]d days after %[5]g h",
		pairs(c.Corrections.Supply), pairs(c.Corrections.Ambient), c.Corrections.ReferenceC, c.Baseline.Days,
		c.Baseline.SeasoningHours)
	return m, nil
}

func (m *Measured) leftOut(rows []queries.LeftOutRow) {
	n := map[string]int64{}
	for _, r := range rows {
		m.Readings += r.Readings
		m.Usable += r.Usable
		m.Conflicts += r.Conflicting
		n["lamp off"] += r.Unlit
		n["daylight on the sensor"] += r.Daylight
		n["not plausible"] += r.Implausible
		n["running up"] += r.RunningUp
		n["switching off"] += r.Edge
		n["sensor stuck"] += r.Stuck
		n["another dim state than most of the day"] += r.OddDim
		n["supply far from the day's"] += r.OddSupply
		n["shadow or spike"] += r.Shadowed
		n["two values at one moment"] += r.Conflicting
	}
	for reason, c := range n {
		if c > 0 {
			m.Left = append(m.Left, Left{reason, c, float64(c) / float64(max(m.Readings, 1))})
		}
	}
	sort.Slice(m.Left, func(i, j int) bool {
		if m.Left[i].Count != m.Left[j].Count {
			return m.Left[i].Count > m.Left[j].Count
		}
		return m.Left[i].Reason < m.Left[j].Reason
	})
}

// taken lists the files that hold readings of the year. When they were taken
// in is not told: it is no property of the data.
func (m *Measured) taken(a *archive.Archive, from, to time.Time) error {
	files, err := a.Files()
	if err != nil {
		return err
	}
	covered, err := a.Coverage()
	if err != nil {
		return err
	}
	in := map[int64]bool{}
	for _, c := range covered {
		if !c.Last.Before(from) && c.First.Before(to) {
			in[c.Sequence] = true
		}
	}
	bySource := map[string]*Source{}
	for _, f := range files {
		if !in[f.Sequence] {
			continue
		}
		m.files = append(m.files, f)
		name := f.Source
		if name == "" {
			name = "plain form"
		}
		if bySource[name] == nil {
			bySource[name] = &Source{Name: name}
		}
		s := bySource[name]
		s.Files++
		s.Rows, s.Stored, s.Duplicate, s.Quarantined = s.Rows+f.Rows, s.Stored+f.Stored, s.Duplicate+f.Duplicate,
			s.Quarantined+f.Quarantined
	}
	for _, s := range bySource {
		m.Sources = append(m.Sources, *s)
	}
	sort.Slice(m.Sources, func(i, j int) bool { return m.Sources[i].Name < m.Sources[j].Name })
	bad, err := a.Quarantined()
	if err != nil {
		return err
	}
	codes := map[string]int64{}
	for _, q := range bad {
		if in[q.Sequence] {
			codes[q.Code] += q.Rows
		}
	}
	for c, n := range codes {
		m.Rejected = append(m.Rejected, Rejected{c, n})
	}
	sort.Slice(m.Rejected, func(i, j int) bool {
		if m.Rejected[i].Rows != m.Rejected[j].Rows {
			return m.Rejected[i].Rows > m.Rejected[j].Rows
		}
		return m.Rejected[i].Code < m.Rejected[j].Code
	})
	return nil
}

// configuration hashes what people write: site.yaml, register and sources.
func (m *Measured) configuration(folder site.Folder) error {
	all := sha256.New()
	for _, root := range []string{site.ConfigFile, "register", "sources"} {
		err := filepath.WalkDir(folder.Path(root), func(path string, d fs.DirEntry, err error) error {
			switch {
			case os.IsNotExist(err):
				return nil
			case err != nil || d.IsDir():
				return err
			}
			rel, err := filepath.Rel(string(folder), path)
			if err != nil || strings.HasPrefix(filepath.Base(rel), ".") || strings.HasSuffix(rel, "~") {
				return err
			}
			data, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			h := Hashed{filepath.ToSlash(rel), hash(data)}
			m.Config = append(m.Config, h)
			fmt.Fprintf(all, "%s  %s\n", h.SHA256, h.Path)
			return nil
		})
		if err != nil {
			return fmt.Errorf("hash the configuration: %w", err)
		}
	}
	m.ConfigHash = hex.EncodeToString(all.Sum(nil))
	return nil
}

// pairs writes a map in order of its keys.
func pairs[K ~string](m map[K]float64) string {
	var out []string
	for k, v := range m {
		name := string(k)
		if name == "" {
			name = "not known"
		}
		out = append(out, fmt.Sprintf("%s %g", name, v))
	}
	sort.Strings(out)
	return strings.Join(out, ", ")
}

func hash(data []byte) string {
	s := sha256.Sum256(data)
	return hex.EncodeToString(s[:])
}

// program names the binary by what it was built from.
func program() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "wane, built without version information"
	}
	revision, changed := "", ""
	for _, s := range info.Settings {
		switch {
		case s.Key == "vcs.revision":
			revision = " " + s.Value
		case s.Key == "vcs.modified" && s.Value == "true":
			changed = " with changes"
		}
	}
	return "wane " + strings.Trim(info.Main.Version, "()") + revision + changed
}
