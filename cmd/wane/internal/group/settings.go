package group

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive/bucket"
	"wane/ingest/group"
	"wane/ingest/site"
)

// What of a site's folder is its settings; the rest of what lies there is not fetched.
var settings = []string{site.ConfigFile, "register/*.csv", "sources/*.yaml"}

// fetchedFile tells of each file of the copy what it was when it was fetched.
const fetchedFile = "fetched.json"

// Bounds of one site's settings.
const (
	mostSettings      = 1000 // files of a kind
	mostSettingsBytes = 128 << 20
)

type fetched struct {
	Tag string `json:"tag"` // of the object
	SHA string `json:"sha256"`
}

// copying brings a copy of settings up to what is in the bucket.
type copying struct {
	from *bucket.Bucket
	dir  site.Folder
	last map[string]fetched // when the copy was made
	here map[string]string  // SHA-256 of the files of the copy now
	next map[string]fetched
	news map[string][]byte // to be written
	gone []string          // to be removed
}

// Fetch brings the settings of a site into its folder where they are in a bucket. After
// an error the folder has the settings that it had, unless the error is the disk's, and
// what a person changed in the folder is never overwritten.
func Fetch(f group.Folder, c group.Config, m group.Member) error {
	if !m.Far() {
		return nil
	}
	place := *c.Store
	place.Bucket = m.Folder
	from, err := sitefolder.Bucket(string(f), &place, "group.yaml: store")
	if err != nil {
		return err
	}
	x := &copying{from: from, dir: site.Folder(f.Of(m)), next: map[string]fetched{}, news: map[string][]byte{}}
	there, err := x.listed()
	if err == nil {
		err = x.known()
	}
	if err == nil {
		err = x.compare(there)
	}
	if err == nil {
		err = x.write()
	}
	return err
}

// settled says whether there are settings to go by.
func (s *Site) settled() bool {
	_, err := os.Stat(filepath.Join(s.Dir, site.ConfigFile))
	return err == nil
}

// listed gives the settings in the bucket.
func (x *copying) listed() (map[string]bucket.Object, error) {
	there := map[string]bucket.Object{}
	for _, kind := range settings {
		below, _, _ := strings.Cut(kind, "*")
		all, err := x.from.List(below, mostSettings)
		if err != nil {
			return nil, err
		}
		if err := pick(there, kind, all); err != nil {
			return nil, fmt.Errorf("%s: %w", x.from, err)
		}
	}
	var bytes int64
	for _, o := range there {
		bytes += o.Size
	}
	if bytes > mostSettingsBytes {
		return nil, fmt.Errorf("%s: its settings are %d bytes, more than the %d that they may be", x.from, bytes,
			mostSettingsBytes)
	}
	if _, ok := there[site.ConfigFile]; !ok {
		return nil, fmt.Errorf("%s holds no %s; put the site's settings there", x.from, site.ConfigFile)
	}
	return there, nil
}

// pick adds the objects of a kind of settings to there. A name that would lead out of the
// folder is refused.
func pick(there map[string]bucket.Object, kind string, all map[string]bucket.Object) error {
	for name, o := range all {
		if strings.HasSuffix(name, "/") && path.Clean(name)+"/" == name {
			continue // stands for the folder itself
		}
		if !fs.ValidPath(name) || !filepath.IsLocal(filepath.FromSlash(name)) {
			return fmt.Errorf("the name %q leads out of the folder; remove the object", name)
		}
		if ok, _ := path.Match(kind, name); ok { // a bad pattern is the only error
			there[name] = o
		}
	}
	return nil
}

// known reads what is here.
func (x *copying) known() error {
	text, err := os.ReadFile(x.dir.Path(fetchedFile))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if json.Unmarshal(text, &x.last) != nil {
		x.last = nil // each file is compared with the bucket's
	}
	x.here = map[string]string{}
	for _, kind := range settings {
		names, err := fs.Glob(os.DirFS(string(x.dir)), kind)
		if err != nil {
			return err
		}
		for _, name := range names {
			b, err := os.ReadFile(x.dir.Path(filepath.FromSlash(name)))
			if err != nil {
				return err
			}
			x.here[name] = sum(b)
		}
	}
	return nil
}

// compare finds what is to be written and removed, and touches nothing.
func (x *copying) compare(there map[string]bucket.Object) error {
	var changed []string
	left := int64(mostSettingsBytes)
	for _, name := range slices.Sorted(maps.Keys(there)) {
		was, have := x.last[name], x.here[name]
		if have != "" && have == was.SHA && there[name].Tag == was.Tag {
			x.next[name] = was
			continue
		}
		b, tag, err := x.get(name, left)
		if err != nil {
			return err
		}
		left -= int64(len(b))
		x.next[name] = fetched{tag, sum(b)}
		switch have {
		case sum(b):
		case "", was.SHA:
			x.news[name] = b
		default:
			changed = append(changed, name)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(x.here)) {
		if _, ok := there[name]; ok {
			continue
		}
		if x.here[name] != x.last[name].SHA {
			changed = append(changed, name)
		}
		x.gone = append(x.gone, name)
	}
	if len(changed) > 0 {
		return fmt.Errorf("%s in %s is not what came from %s; put it there, or remove it here", strings.Join(changed, ", "),
			x.dir, x.from)
	}
	return x.homed()
}

// homed refuses settings whose archive would be on this machine alone.
func (x *copying) homed() error {
	text, ok := x.news[site.ConfigFile]
	if !ok {
		return nil
	}
	if c, found := site.Parse(text, sitefolder.CronLine); len(found) == 0 && c.Archive == nil {
		return fmt.Errorf("%s of %s has no `archive:`, so that nothing of the site would outlive this machine; put its "+
			"archive into a bucket, or name its folder in group.yaml", site.ConfigFile, x.from)
	}
	return nil
}

// get reads an object of at most so many bytes.
func (x *copying) get(name string, most int64) (b []byte, tag string, err error) {
	r, tag, err := x.from.Get(name)
	if err != nil {
		return nil, "", err
	}
	b, err = io.ReadAll(io.LimitReader(r, most+1))
	if err == nil && int64(len(b)) > most {
		err = fmt.Errorf("%s/%s is longer than it may be", x.from, name)
	}
	return b, tag, errors.Join(err, r.Close())
}

// write makes the copy what compare found, and notes it last: a run that is cut off is
// made good by the next.
func (x *copying) write() error {
	for _, d := range []string{"register", "sources", "inbox"} {
		if err := os.MkdirAll(x.dir.Path(d), 0o755); err != nil {
			return err
		}
	}
	for _, name := range slices.Sorted(maps.Keys(x.news)) {
		if err := site.WriteFile(x.dir.Path(filepath.FromSlash(name)), x.news[name]); err != nil {
			return err
		}
	}
	for _, name := range x.gone {
		if err := os.Remove(x.dir.Path(filepath.FromSlash(name))); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	if maps.Equal(x.next, x.last) {
		return nil
	}
	text, err := json.MarshalIndent(x.next, "", "  ")
	if err != nil {
		return err
	}
	return site.WriteFile(x.dir.Path(fetchedFile), append(text, '\n'))
}

func sum(b []byte) string {
	h := sha256.Sum256(b)
	return hex.EncodeToString(h[:])
}
