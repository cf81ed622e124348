package main

import (
	"bytes"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/apache/iceberg-go/table"

	"wane/ingest/group"
)

// two is a group of two invented sites, after its night.
var two group.Folder

var program string

func TestMain(m *testing.M) {
	dir, err := os.MkdirTemp("", "iceberg-test-")
	if err != nil {
		panic(err)
	}
	program, two = filepath.Join(dir, "wane"), group.Folder(filepath.Join(dir, "group"))
	c := exec.Command("go", "build", "-o", program, "./cmd/wane")
	c.Dir = filepath.Join("..", "..", "..")
	if said, err := c.CombinedOutput(); err != nil {
		panic(fmt.Sprintf("%v: %s", err, said))
	}
	wane("demo", filepath.Join(dir, "north"), "--seed", "1", "--date", "2026-03-31")
	wane("demo", filepath.Join(dir, "south"), "--seed", "2", "--date", "2026-03-31")
	wane("group", "new", string(two))
	text := "name: Two invented sites\ninvented: true\nsites:\n  - {name: north, folder: ../north}\n" +
		"  - {name: south, folder: ../south}\n"
	if err := os.WriteFile(two.Path(group.ConfigFile), []byte(text), 0o644); err != nil {
		panic(err)
	}
	wane("group", "nightly", "--group", string(two), "--no-sites")
	code := m.Run()
	os.RemoveAll(dir)
	os.Exit(code)
}

// wane runs the plain program, which may say that something needs a person.
func wane(args ...string) {
	said, err := exec.Command(program, args...).CombinedOutput()
	if e, ok := err.(*exec.ExitError); err != nil && !(ok && e.ExitCode() == 3) {
		panic(fmt.Sprintf("wane %v: %v %s", args, err, said))
	}
}

// registered registers the group's tables, and gives what was said.
func registered(t *testing.T, to string) string {
	t.Helper()
	var out bytes.Buffer
	if code, err := run(t.Context(), two, to, &out); code != exitDone || err != nil {
		t.Fatalf("%d: %v", code, err)
	}
	return out.String()
}

// Every table holds the rows of its files, each under its site, before and after a night
// that has replaced some; nothing is copied, and what is as it was makes no snapshot.
func TestTablesAreTheSitesFiles(t *testing.T) {
	to := t.TempDir()
	registered(t, to)
	sameRows(t, to)
	for line := range strings.Lines(registered(t, to)) {
		if !strings.Contains(line, " 0 new, 0 gone; ") || !strings.Contains(line, "/v2.metadata.json") {
			t.Errorf("nothing changed: %s", line)
		}
	}
	wane("log", "clean", "bay", "F1-A", "--value", "all", "--site", two.Path("..", "south"), "--at", "2026-02-10")
	wane("group", "nightly", "--group", string(two))
	said := registered(t, to)
	sameRows(t, to)
	if strings.Count(said, "/v3.metadata.json") == 0 || !strings.Contains(said, "daily: 74 files, 0 new, 0 gone") {
		t.Errorf("a cleaning in February changes levels and leaves the roll-up:\n%s", said)
	}
	err := filepath.WalkDir(to, func(path string, d fs.DirEntry, err error) error {
		if strings.HasSuffix(path, ".parquet") {
			t.Errorf("%s is a copy", path)
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
}

// sameRows holds the rows of every table against the manifests, site by site.
func sameRows(t *testing.T, to string) {
	t.Helper()
	l, err := openLake(to)
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]map[string]int64{}
	for site, dir := range map[string]string{"north": "../north", "south": "../south", "": "."} {
		m, err := manifestOf(two.Path(dir, "archive"))
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range m.Parts {
			if p.Table != "readings" {
				if want[p.Table] == nil {
					want[p.Table] = map[string]int64{}
				}
				want[p.Table][site] += p.Rows
			}
		}
	}
	if len(want) != 20 {
		t.Errorf("%d tables", len(want))
	}
	for name, rows := range want {
		if got := rowsOf(t, l, name); !maps.Equal(got, rows) {
			t.Errorf("%s has %v rows, should have %v", name, got, rows)
		}
	}
}

// rowsOf tells a table's rows by the site that its files are of, "" where the table is the
// group's own, and reads them all.
func rowsOf(t *testing.T, l *lake, name string) map[string]int64 {
	t.Helper()
	x, err := l.LoadTable(t.Context(), table.Identifier{name})
	if err != nil {
		t.Fatal(err)
	}
	tasks, err := x.Scan().PlanFiles(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	got, all := map[string]int64{}, int64(0)
	for _, f := range tasks {
		site, _ := f.File.Partition()[sitePartition].(string)
		got[site] += f.File.Count()
		all += f.File.Count()
	}
	rows, err := x.Scan().ToArrowTable(t.Context())
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	defer rows.Release()
	if rows.NumRows() != all {
		t.Errorf("%s: %d rows read, its files are said to hold %d", name, rows.NumRows(), all)
	}
	return got
}
