package archive

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// Format is the version of the layout. A change that an older reader would
// misread raises it. Format 2 lists the sidecars of an import in one file; what
// reads 2 reads 1.
const Format = 2

// manifestName is the file that says what the archive holds.
const manifestName = "manifest.json"

// The tables that hold what was imported. All others are derived.
const (
	Readings   = "readings"   // series, time, value
	Files      = "files"      // what was imported, with its counts
	Coverage   = "coverage"   // which file holds which series from when to when
	Quarantine = "quarantine" // what did not pass, and why
)

var baseTables = []string{Readings, Files, Coverage, Quarantine}

// Manifest lists every part of the archive. A file that it does not list is a
// leftover, whatever it looks like.
type Manifest struct {
	Format int `json:"format"`
	// Originals is the number of files imported, and so the sequence number of
	// the latest.
	Originals int64 `json:"originals"`
	// Parts are sorted by table, then path.
	Parts []Part `json:"parts"`
	// Checksum is the SHA-256 of this document with an empty checksum.
	Checksum string `json:"checksum"`
}

// Part is one write-once file of a table.
type Part struct {
	Table     string `json:"table"`
	Partition string `json:"partition,omitempty"` // hive-style folders, e.g. "month=2026-11/day=25"
	Path      string `json:"path"`                // in the archive folder, with forward slashes
	Rows      int64  `json:"rows"`
	Bytes     int64  `json:"bytes"`
	SHA256    string `json:"sha256"`

	// Of readings only: decimals of the values, readings in conflict, and the
	// first and last time.
	Scale     int       `json:"scale,omitempty"`
	Conflicts int64     `json:"conflicts,omitempty"`
	First     time.Time `json:"first,omitzero"`
	Last      time.Time `json:"last,omitzero"`

	// Of derived parts only: what they were made from.
	Key string `json:"key,omitempty"`
}

// ErrNewer says that the archive was written by a later version.
var ErrNewer = errors.New("the archive has a newer format")

// ErrTorn says that the manifest is not what was written.
var ErrTorn = errors.New("the manifest is damaged")

func (m *Manifest) encode() []byte {
	slices.SortFunc(m.Parts, func(a, b Part) int {
		return cmp.Or(cmp.Compare(a.Table, b.Table), cmp.Compare(a.Path, b.Path))
	})
	m.Checksum = ""
	b := m.marshal()
	m.Checksum = sum(b)
	return append(b[:len(b)-len(checksumEnd(""))], checksumEnd(m.Checksum)...)
}

// checksumEnd is how a document ends that has this checksum.
func checksumEnd(sum string) string { return fmt.Sprintf(` "checksum": %q`+"\n}\n", sum) }

// checksumHolds says whether the document has the checksum that it should have,
// byte for byte.
func checksumHolds(b []byte, want string) bool {
	body, ok := bytes.CutSuffix(b, []byte(checksumEnd(want)))
	if !ok {
		return false
	}
	h := sha256.New()
	h.Write(body)
	h.Write([]byte(checksumEnd("")))
	return hex.EncodeToString(h.Sum(nil)) == want
}

func (m *Manifest) marshal() []byte {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	if err := e.Encode(m); err != nil {
		panic(fmt.Sprintf("a manifest is plain data: %v", err))
	}
	return b.Bytes()
}

func sum(b []byte) string {
	h := sha256.Sum256(b)
	return hex.EncodeToString(h[:])
}

// parseManifest reads and checks a manifest.
func parseManifest(b []byte) (*Manifest, error) {
	var m Manifest
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	err := d.Decode(&m)
	if err != nil {
		// A later format may have other fields.
		var head struct {
			Format int `json:"format"`
		}
		if herr := json.Unmarshal(b, &head); herr != nil {
			return nil, fmt.Errorf("%w: %v", ErrTorn, herr)
		}
		m.Format = head.Format
	}
	if m.Format > Format {
		return nil, fmt.Errorf("%w: it is %d, this program reads up to %d; use the newer program", ErrNewer, m.Format, Format)
	}
	if err != nil {
		return nil, fmt.Errorf("%w: %v", ErrTorn, err)
	}
	if m.Format < 1 {
		return nil, fmt.Errorf("%w: format %d never was", ErrTorn, m.Format)
	}
	if !checksumHolds(b, m.Checksum) {
		return nil, fmt.Errorf("%w: its checksum does not match", ErrTorn)
	}
	seen := map[string]bool{}
	for _, p := range m.Parts {
		if p.Table == "" || !filepath.IsLocal(filepath.FromSlash(p.Path)) || !strings.HasPrefix(p.Path, p.Table+"/") ||
			seen[p.Path] {
			return nil, fmt.Errorf("%w: part %q of table %q", ErrTorn, p.Path, p.Table)
		}
		if p.Scale < 0 || p.Scale > 9 || p.Rows < 0 || p.Bytes < 0 {
			return nil, fmt.Errorf("%w: part %q has impossible figures", ErrTorn, p.Path)
		}
		seen[p.Path] = true
	}
	return &m, nil
}

// loadManifest reads the manifest of an archive; a folder without anything is a
// new archive, one with files and no manifest has lost it.
func loadManifest(dir string) (*Manifest, error) {
	b, err := os.ReadFile(filepath.Join(dir, manifestName))
	if errors.Is(err, fs.ErrNotExist) {
		trace, err := traceOf(dir)
		if err == nil && trace != "" {
			err = fmt.Errorf("%w: %s is missing, but there is %s; run `wane rebuild`, which makes it anew from the originals",
				ErrLost, filepath.Join(dir, manifestName), trace)
		}
		return &Manifest{Format: Format}, err
	}
	if err != nil {
		return nil, err
	}
	m, err := parseManifest(b)
	if errors.Is(err, ErrTorn) {
		return nil, fmt.Errorf("%s: %w; run check --repair, which makes a new one from the originals",
			filepath.Join(dir, manifestName), err)
	}
	return m, err
}

// table gives the parts of one table.
func (m *Manifest) table(name string) []Part {
	var out []Part
	for _, p := range m.Parts {
		if p.Table == name {
			out = append(out, p)
		}
	}
	return out
}

// isBase says whether a table holds what was imported.
func isBase(table string) bool { return slices.Contains(baseTables, table) }
