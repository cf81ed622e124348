//go:build counterparts

package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"wane/queries"
)

// Statements of queries/ that other engines can follow, each with what stands for its
// parameters. Those over readings are asked of the archive alone: readings are not
// registered.
var portable = map[string][]string{
	"burning_days.sql":      {"DATE '2025-06-01'", "DATE '2026-03-30'"},
	"coverage_by_month.sql": {"DATE '2023-01-01'", "DATE '2026-03-30'"},
	"daily_levels.sql":      {"DATE '2025-09-01'", "DATE '2026-03-30'", "''"},
	"decline.sql":           {"DATE '2026-01-31'", "'F1-A01'"},
	"left_out.sql":          {"DATE '2023-01-01'", "DATE '2026-03-30'", "''"},
	"record_span.sql":       {"DATE '2026-03-30'"},
	"levels.sql":            {"DATE '2024-01-01'", "DATE '2026-03-30'"},
}

// asMade is what stands for levels.sql on the engine that has run it: the table.
const asMade = `SELECT v.life, l.* FROM levels l JOIN lives v ON v.fixture = l.fixture AND v.lamp_life = l.lamp_life
WHERE l.day BETWEEN $1 AND $2 ORDER BY v.life, l.day`

// across are statements over all sites.
var across = []string{
	`SELECT site, status, count(*) AS lamps, avg(due_hours) AS due_hours FROM due
GROUP BY site, status ORDER BY site, status`,
	`SELECT d.site, l.lamp_type, count(*) AS days, sum(d.lit_h) AS lit_h, avg(d.ppfd) AS ppfd
FROM daily d JOIN lives l ON l.site = d.site AND l.fixture = d.fixture AND d.day >= l.read_from
WHERE d.day >= DATE '2025-01-01' GROUP BY d.site, l.lamp_type ORDER BY d.site, l.lamp_type`,
	`SELECT * FROM group_due ORDER BY site, fixture`,
}

// Another engine, which reads nothing but the Iceberg tables, gives the rows that ours
// gives: for each site by the statements as they stand in queries/, over views of that
// site, and across sites. It cannot delete the sites' files.
func TestRealTrinoGivesTheSameRows(t *testing.T) {
	to := t.TempDir()
	said := registered(t, to)
	x := startTrino(t)
	x.ask(t, "", "CREATE SCHEMA wane")
	var tables []string
	for _, m := range regexp.MustCompile(`(?m)^(\w+): .*; file://(.*)/metadata/(.*)$`).FindAllStringSubmatch(said, -1) {
		tables = append(tables, m[1])
		x.ask(t, "", fmt.Sprintf("CALL system.register_table('wane', '%s', 'file://%s', '%s')", m[1], m[2], m[3]))
	}
	names, err := filepath.Glob("../../../queries/*.sql")
	if err != nil || len(names) == 0 {
		t.Fatal(err)
	}
	for _, site := range []string{"north", "south"} {
		x.ask(t, "", "CREATE SCHEMA at_"+site)
		x.viewsOf(t, site)
		ours := openSite(t, site)
		for _, path := range names {
			text, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if regexp.MustCompile(`own to this engine|FROM readings`).Match(text) {
				continue
			}
			name := filepath.Base(path)
			given, ok := portable[name]
			if !ok {
				t.Errorf("%s: say how this test asks it", name)
				continue
			}
			own, theirs := string(text), string(text)
			if name == "levels.sql" { // whoever writes its rows brings them into order
				own, theirs = asMade, theirs+"ORDER BY o.life, o.day"
			}
			sameAnswer(t, site+": "+name, ask(t, ours, filled(own, given)), x.ask(t, "at_"+site, filled(theirs, given)))
		}
	}
	all := openAll(t)
	for _, text := range across {
		sameAnswer(t, text, ask(t, all, text), x.ask(t, "wane", text))
	}
	for _, name := range tables {
		x.ask(t, "wane", "DROP TABLE "+name)
	}
	sameRowsOnDisk(t)
}

// filled puts values for parameters.
func filled(text string, values []string) string {
	for i, v := range values {
		text = strings.ReplaceAll(text, "$"+strconv.Itoa(i+1), v)
	}
	return text
}

// viewsOf makes a schema of one site: each table without its column site, and the views
// that levels.sql stands on.
func (x *trino) viewsOf(t *testing.T, site string) {
	t.Helper()
	described, err := queries.Described()
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range described {
		if d.Name == "readings" {
			continue
		}
		var columns []string
		for _, c := range d.Columns {
			columns = append(columns, `"`+c.Name+`"`)
		}
		x.ask(t, "", fmt.Sprintf("CREATE VIEW at_%s.%s AS SELECT %s FROM wane.%s WHERE site = '%s'", site, d.Name,
			strings.Join(columns, ", "), d.Name, site))
	}
	for _, name := range []string{"lit", "outputs"} {
		text, err := os.ReadFile("../../../queries/view/" + name + ".sql")
		if err != nil {
			t.Fatal(err)
		}
		x.ask(t, "at_"+site, strings.Replace(string(text), " TEMP ", " ", 1))
	}
}

// files are the files of an archive, as our engine is told them.
func files(t *testing.T, dir string) queries.Tables {
	t.Helper()
	m, err := manifestOf(dir)
	if err != nil {
		t.Fatal(err)
	}
	out := queries.Tables{}
	for _, p := range m.Parts {
		out[p.Table] = append(out[p.Table], filepath.Join(dir, p.Path))
	}
	return out
}

func openSite(t *testing.T, site string) *queries.DB {
	t.Helper()
	db, err := queries.Open(t.Context(), files(t, two.Path("..", site, "archive")), queries.Limits{Threads: 1})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db
}

func openAll(t *testing.T) *queries.DB {
	t.Helper()
	db, err := queries.OpenSites(t.Context(), []queries.SiteTables{
		{Site: "north", Tables: files(t, two.Path("..", "north", "archive"))},
		{Site: "south", Tables: files(t, two.Path("..", "south", "archive"))},
	}, files(t, two.Path("archive")), queries.Limits{Threads: 1})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db
}

// sameRowsOnDisk sees to it that all files are where the manifests say.
func sameRowsOnDisk(t *testing.T) {
	t.Helper()
	for _, dir := range []string{"../north", "../south", "."} {
		for _, paths := range files(t, two.Path(dir, "archive")) {
			for _, path := range paths {
				if _, err := os.Stat(path); err != nil {
					t.Errorf("the other engine has deleted a site's file: %v", err)
				}
			}
		}
	}
}

// ask asks our engine.
func ask(t *testing.T, db *queries.DB, text string) (out [][]any) {
	t.Helper()
	err := queries.Ask(t.Context(), db, text, func([]queries.Column) error { return nil }, func(row []any) error {
		out = append(out, slices.Clone(row))
		return nil
	})
	if err != nil {
		t.Fatalf("%s: %v", text, err)
	}
	return out
}

// sameAnswer holds two answers against each other, row by row: numbers within 1e-12 of
// their size, everything else as it is written.
func sameAnswer(t *testing.T, what string, want, got [][]any) {
	t.Helper()
	if len(want) == 0 || len(want) != len(got) {
		t.Errorf("%s: %d rows, ours has %d", what, len(got), len(want))
		return
	}
	for i := range want {
		for j := range want[i] {
			if !sameValue(want[i][j], got[i][j]) {
				t.Errorf("%s: row %d column %d is %v, ours says %v", what, i, j, got[i][j], want[i][j])
				return
			}
		}
	}
	t.Logf("%.60q: %d rows", what, len(want))
}

func sameValue(want, got any) bool {
	switch w := want.(type) {
	case time.Time:
		want = w.Format(time.DateOnly)
	case float64:
		g, err := strconv.ParseFloat(fmt.Sprint(got), 64)
		return err == nil && math.Abs(g-w) <= 1e-12*max(1, math.Abs(w))
	}
	return fmt.Sprint(want) == fmt.Sprint(got)
}

// trino is a server of the test, with the tables in catalogue iceberg.
type trino struct{ url string }

// startTrino starts the server that lies in WANE_TRINO, on the loopback address, and stops
// it at the end of the test.
func startTrino(t *testing.T) *trino {
	t.Helper()
	home, dir := os.Getenv("WANE_TRINO"), t.TempDir()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	x := &trino{"http://" + ln.Addr().String()}
	_, port, _ := net.SplitHostPort(ln.Addr().String())
	ln.Close()
	for name, text := range map[string]string{
		"node.properties": "node.environment=test\nnode.id=one\nnode.data-dir=" + dir + "\nnode.bind-ip=127.0.0.1\n" +
			"node.internal-address=127.0.0.1\n",
		"jvm.config": "-Xmx1500M\n-XX:+UseSerialGC\n-XX:TieredStopAtLevel=1\n",
		"config.properties": "coordinator=true\nnode-scheduler.include-coordinator=true\nhttp-server.http.port=" + port +
			"\ndiscovery.uri=" + x.url + "\n",
		"catalog/iceberg.properties": "connector.name=iceberg\niceberg.catalog.type=TESTING_FILE_METASTORE\n" +
			"hive.metastore.catalog.dir=local://" + dir + "/metastore\nlocal.location=/\nfs.native-local.enabled=true\n" +
			"iceberg.register-table-procedure.enabled=true\n",
	} {
		path := filepath.Join(dir, "etc", name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	c := exec.Command(filepath.Join(home, "bin", "launcher"), "--etc-dir", filepath.Join(dir, "etc"), "run")
	c.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	var log bytes.Buffer
	c.Stdout, c.Stderr = &log, &log
	if err := c.Start(); err != nil {
		t.Fatalf("%v; WANE_TRINO names the folder of a server (.ci/trino installs one)", err)
	}
	ended := make(chan error, 1)
	go func() { ended <- c.Wait() }()
	t.Cleanup(func() {
		_ = syscall.Kill(-c.Process.Pid, syscall.SIGKILL)
		<-ended
	})
	for range 240 {
		if _, err := x.try("", "SELECT 1"); err == nil {
			return x
		}
		select {
		case err := <-ended:
			ended <- err
			t.Fatalf("the server ended: %v\n%s", err, &log)
		case <-time.After(500 * time.Millisecond):
		}
	}
	t.Fatalf("the server does not answer:\n%s", &log)
	return nil
}

func (x *trino) ask(t *testing.T, schema, text string) [][]any {
	t.Helper()
	rows, err := x.try(schema, text)
	if err != nil {
		t.Fatalf("%s: %v", text, err)
	}
	return rows
}

// try has the server run a statement, and reads the answer page by page.
func (x *trino) try(schema, text string) (rows [][]any, err error) {
	method, at, body := http.MethodPost, x.url+"/v1/statement", text
	for at != "" {
		r, err := http.NewRequest(method, at, strings.NewReader(body))
		if err != nil {
			return nil, err
		}
		r.Header.Set("X-Trino-User", "test")
		r.Header.Set("X-Trino-Catalog", "iceberg")
		r.Header.Set("X-Trino-Schema", schema)
		answer, err := http.DefaultClient.Do(r)
		if err != nil {
			return nil, err
		}
		var page struct {
			NextURI string  `json:"nextUri"`
			Data    [][]any `json:"data"`
			Error   *struct{ Message string }
		}
		d := json.NewDecoder(answer.Body)
		d.UseNumber()
		if err := errors.Join(d.Decode(&page), answer.Body.Close()); err != nil {
			return nil, err
		}
		if page.Error != nil {
			return nil, errors.New(page.Error.Message)
		}
		rows = append(rows, page.Data...)
		method, at, body = http.MethodGet, page.NextURI, ""
	}
	return rows, nil
}
