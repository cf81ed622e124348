package group

import (
	"bytes"
	"maps"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"

	"wane/ingest/archive/bucket"
	"wane/ingest/group"
	"wane/ingest/site"
)

// far is a site whose settings are in a store of this process.
type far struct {
	t    *testing.T
	back *s3mem.Backend
	srv  *httptest.Server
	gets []string // objects that were read
	f    group.Folder
	c    group.Config
}

func newFar(t *testing.T) *far {
	t.Helper()
	x := &far{t: t, back: s3mem.New(), f: group.Folder(t.TempDir())}
	if err := x.back.CreateBucket("lamps"); err != nil {
		t.Fatal(err)
	}
	store := gofakes3.New(x.back).Server()
	x.srv = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodGet && strings.HasPrefix(r.URL.Path, "/lamps/north/") {
			x.gets = append(x.gets, strings.TrimPrefix(r.URL.Path, "/lamps/north/"))
		}
		store.ServeHTTP(w, r)
	}))
	t.Cleanup(x.srv.Close)
	x.c = group.Config{Sites: []group.Member{{Name: "a", Folder: "s3://lamps/north"}},
		Store: &site.Archive{Endpoint: x.srv.URL, Region: "us-east-1"}}
	return x
}

func (x *far) put(name, text string) {
	x.t.Helper()
	_, err := x.back.PutObject("lamps", "north/"+name, map[string]string{"Last-Modified": "Sun, 1 Jun 2025 02:15:00 GMT"},
		strings.NewReader(text), int64(len(text)), nil)
	if err != nil {
		x.t.Fatal(err)
	}
}

func (x *far) remove(name string) {
	x.t.Helper()
	if _, err := x.back.DeleteObject("lamps", "north/"+name); err != nil {
		x.t.Fatal(err)
	}
}

// fetch fetches, and wants the error to hold why; "" for none.
func (x *far) fetch(why string) {
	x.t.Helper()
	x.gets = nil
	err := Fetch(x.f, x.c, x.c.Sites[0])
	if why == "" && err != nil || why != "" && (err == nil || !strings.Contains(err.Error(), why)) {
		x.t.Fatalf("%v, want %q", err, why)
	}
}

// has wants the copy to hold these files and no other.
func (x *far) has(want map[string]string) {
	x.t.Helper()
	got := map[string]string{}
	root := string(x.f)
	err := filepath.WalkDir(root, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() || d.Name() == fetchedFile {
			return err
		}
		b, err := os.ReadFile(path)
		rel, _ := filepath.Rel(filepath.Join(root, "sites", "a"), path)
		got[filepath.ToSlash(rel)] = string(b)
		return err
	})
	if err != nil || !maps.Equal(got, want) {
		x.t.Fatalf("%v %v, want %v", err, got, want)
	}
}

const homedSite = "name: A\nzone: UTC\narchive: {bucket: 's3://lamps/a', endpoint: 'https://o.example'}\n"

// What changed in the bucket is fetched, what has gone goes, and nothing else is read.
func TestFetchBringsWhatChanged(t *testing.T) {
	x := newFar(t)
	for name, text := range map[string]string{"site.yaml": homedSite, "register/fixtures.csv": "1",
		"register/logbook.csv": "2", "sources/x.yaml": "3", "register/": "", "register/readme.txt": "no setting", "register/old/fixtures.csv": "0",
		"archive/manifest.json": "{}", "inbox/all.csv": "r", "site.yaml.bak": "b"} {
		x.put(name, text)
	}
	x.fetch("")
	want := map[string]string{"site.yaml": homedSite, "register/fixtures.csv": "1", "register/logbook.csv": "2",
		"sources/x.yaml": "3"}
	x.has(want)
	if x.fetch(""); len(x.gets) > 0 {
		t.Errorf("read again: %v", x.gets)
	}
	x.put("register/fixtures.csv", "4") // as long as before
	x.remove("sources/x.yaml")
	x.fetch("")
	want["register/fixtures.csv"] = "4"
	delete(want, "sources/x.yaml")
	x.has(want)
	if !slices.Equal(x.gets, []string{"register/fixtures.csv"}) {
		t.Errorf("read %v", x.gets)
	}
	if err := os.Remove(x.f.Path("sites", "a", fetchedFile)); err != nil { // as after a run that was cut off
		t.Fatal(err)
	}
	x.fetch("")
	x.has(want)
	x.remove("site.yaml")
	x.fetch("holds no site.yaml")
	x.has(want)
	x.srv.Close()
	x.fetch("connection refused")
	x.has(want)
}

// What a person wrote into the copy is neither overwritten nor removed.
func TestFetchKeepsWhatWasWrittenHere(t *testing.T) {
	x := newFar(t)
	x.put("site.yaml", homedSite)
	x.put("register/logbook.csv", "1")
	x.fetch("")
	here := func(name, text string) {
		t.Helper()
		if err := os.WriteFile(x.f.Path("sites", "a", "register", name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	here("logbook.csv", "1 and a line")
	here("surveys.csv", "new")
	want := map[string]string{"site.yaml": homedSite, "register/logbook.csv": "1 and a line",
		"register/surveys.csv": "new"}
	for range 2 {
		x.fetch("register/logbook.csv, register/surveys.csv in ")
		x.has(want)
		x.put("register/logbook.csv", "2")
	}
	x.put("register/logbook.csv", "1 and a line")
	x.put("register/surveys.csv", "new")
	x.fetch("")
	x.has(want)
	x.remove("register/surveys.csv")
	x.fetch("")
	delete(want, "register/surveys.csv")
	x.has(want)
}

// A site without `archive:` would be on this machine alone.
func TestFetchRefusesASiteWithoutABucket(t *testing.T) {
	x := newFar(t)
	x.put("site.yaml", "name: A\nzone: UTC\n")
	x.fetch("has no `archive:`")
	x.has(map[string]string{})
}

// Names in a bucket may be anything; the copy stays in its folder.
func TestFetchRefusesNamesThatLeadOut(t *testing.T) {
	for _, name := range []string{"register/../../../x.csv", "register/../site.csv", "register//x.csv", "register/./x.csv",
		"register/../", "register//"} {
		there := map[string]bucket.Object{}
		if err := pick(there, "register/*.csv", map[string]bucket.Object{name: {}}); err == nil || len(there) > 0 {
			t.Errorf("%s: %v, %v", name, there, err)
		}
	}
	x := newFar(t)
	x.put("site.yaml", homedSite)
	x.put("register/../../../x.csv", "out")
	x.fetch("leads out of the folder")
	x.has(map[string]string{})
}

func TestFetchIsBounded(t *testing.T) {
	x := newFar(t)
	x.put("site.yaml", homedSite)
	for i := range mostSettings + 1 {
		x.put("sources/"+string(rune('a'+i%26))+strings.Repeat("x", i/26)+".yaml", "")
	}
	x.fetch("more than the 1000 objects")
	x.has(map[string]string{})

	y := newFar(t)
	y.put("site.yaml", homedSite)
	y.put("register/fixtures.csv", string(bytes.Repeat([]byte("x"), mostSettingsBytes)))
	y.fetch("more than the 134217728")
	y.has(map[string]string{})
	if len(y.gets) > 0 {
		t.Errorf("read %v", y.gets)
	}
}
