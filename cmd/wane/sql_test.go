package main

import (
	"database/sql"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	_ "github.com/marcboeker/go-duckdb"

	"wane/cmd/wane/internal/derive"
	"wane/ingest/archive"
	"wane/queries"
)

// nightlySite is a small site after its first night, with a file that holds a
// row for quarantine.
func nightlySite(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	plainSite(t, dir, 430, never)
	bad := "time,sensor,channel,value\n2024-01-01T00:30:00Z,log,v,230.0\nyesterday,log,v,231\n"
	if err := os.WriteFile(filepath.Join(dir, "inbox", "bad.csv"), []byte(bad), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, errs, code := wane(t, "nightly", "--site", dir); code != exitDone && code != exitPerson {
		t.Fatalf("nightly: %d %s", code, errs)
	}
	return dir
}

// askYourself gives the statements of the README.
func askYourself(t *testing.T) []string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, m := range regexp.MustCompile("(?s)```sql\n(.*?)```").FindAllStringSubmatch(string(text), -1) {
		out = append(out, m[1])
	}
	if len(out) != 3 {
		t.Fatalf("the README has %d statements, not 3", len(out))
	}
	return out
}

// The README's statements give what the engine gives without wane, which reads
// the folders as any other program would.
func TestAskYourself(t *testing.T) {
	t.Parallel()
	dir := nightlySite(t)
	alone, err := sql.Open("duckdb", "")
	if err != nil {
		t.Fatal(err)
	}
	defer alone.Close()
	alone.SetMaxOpenConns(1)
	for _, table := range []string{"readings", "daily", "levels"} {
		// the folders' names are left out: a folder day=all is not the column day
		glob := filepath.Join(dir, "archive", table, "**", "*.parquet")
		if _, err := alone.Exec("CREATE TEMP VIEW " + table + " AS SELECT * FROM read_parquet('" + glob +
			"', hive_partitioning = false, union_by_name = true)"); err != nil {
			t.Fatal(err)
		}
	}
	for _, statement := range askYourself(t) {
		file := filepath.Join(t.TempDir(), "question.sql")
		if err := os.WriteFile(file, []byte(statement), 0o644); err != nil {
			t.Fatal(err)
		}
		out, errs, code := wane(t, "sql", file, "--site", dir, "--format", "csv")
		if code != exitDone {
			t.Errorf("%s\nends with %d: %s", statement, code, errs)
			continue
		}
		got, err := csv.NewReader(strings.NewReader(out)).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		want := rowsOf(t, alone, statement)
		if len(got) < 3 || len(got) != len(want) {
			t.Errorf("%s\ngives %d lines, alone %d", statement, len(got), len(want))
			continue
		}
		for i := range want {
			for k := range want[i] {
				if !sameCell(got[i][k], want[i][k]) {
					t.Errorf("%s\nline %d gives %v, alone %v", statement, i, got[i], want[i])
					break
				}
			}
		}
	}
}

// rowsOf is a statement's answer with its head, as text.
func rowsOf(t *testing.T, db *sql.DB, statement string) [][]string {
	t.Helper()
	rows, err := db.Query(statement)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	head, err := rows.Columns()
	if err != nil {
		t.Fatal(err)
	}
	out := [][]string{head}
	for rows.Next() {
		values, places := make([]any, len(head)), make([]any, len(head))
		for i := range values {
			places[i] = &values[i]
		}
		if err := rows.Scan(places...); err != nil {
			t.Fatal(err)
		}
		line := make([]string, len(head))
		for i, v := range values {
			if at, ok := v.(time.Time); ok {
				v = at.UTC().Format(time.RFC3339)
			}
			line[i] = fmt.Sprint(v)
		}
		out = append(out, line)
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	return out
}

// sameCell lets two numbers differ by what the order of a sum does.
func sameCell(a, b string) bool {
	x, errX := strconv.ParseFloat(a, 64)
	y, errY := strconv.ParseFloat(b, 64)
	if errX != nil || errY != nil {
		return a == b
	}
	return math.Abs(x-y) <= 1e-9*math.Max(1, math.Abs(x))
}

// Every table that a night leaves in the archive is described as it is.
func TestEveryTableIsDescribed(t *testing.T) {
	t.Parallel()
	dir := nightlySite(t)
	described, err := queries.Described()
	if err != nil {
		t.Fatal(err)
	}
	a, err := archive.Open(filepath.Join(dir, "archive"))
	if err != nil {
		t.Fatal(err)
	}
	tables := derive.Tables(a)
	if len(tables) < 6 {
		t.Fatalf("only %d tables in the archive", len(tables))
	}
	db, err := queries.Open(t.Context(), tables, queries.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	for name := range tables {
		i := slices.IndexFunc(described, func(d queries.Table) bool { return d.Name == name })
		if i < 0 {
			t.Errorf("table %s of the archive has no description in queries/schema", name)
			continue
		}
		var got, want []string
		err := queries.Ask(t.Context(), db, `SELECT * FROM "`+name+`" LIMIT 1`, func(cs []queries.Column) error {
			for _, c := range cs {
				got = append(got, c.Name+" "+c.Type)
			}
			return nil
		}, func([]any) error { return nil })
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
		for _, c := range described[i].Columns {
			want = append(want, c.Name+" "+c.Type)
		}
		if !slices.Equal(got, want) {
			t.Errorf("%s holds\n%v\ndescribed are\n%v", name, got, want)
		}
	}
}

// The forms of the command, its refusals and their statuses.
func TestSQLCommand(t *testing.T) {
	t.Parallel()
	dir := nightlySite(t)
	for _, c := range []struct {
		args []string
		code int
		want string // in what is printed
	}{
		{[]string{"SELECT 1.50 AS d, 'a' AS s, true AS b, DATE '2025-01-02' AS day, TIMESTAMP '2025-01-02 03:04:05.5' AS at, NULL AS n", "--format", "json"},
			exitDone, `{"d": 1.50, "s": "a", "b": true, "day": "2025-01-02", "at": "2025-01-02T03:04:05.5Z", "n": null}`},
		{[]string{"SELECT 1.50 AS d, '=1+1' AS s, CAST('nan' AS DOUBLE) AS x", "--format", "csv"}, exitDone,
			"d,s,x\n1.50,'=1+1,\n"},
		{[]string{"SELECT 'a' || chr(27) || chr(10) AS s"}, exitDone, "a??"},
		{[]string{"SELECT 1 AS n WHERE false", "--format", "json"}, exitDone, "[\n]\n"},
		{[]string{"SELECT * FROM range(1001)"}, exitDone, "the first 1000 of 1001 rows"},
		{[]string{"SELECT q.reason, f.rows FROM quarantine q JOIN files f ON f.sequence = q.sequence", "--format", "csv"},
			exitDone, ",2\n"},
		{[]string{"--tables"}, exitDone, "umol/m2/s"},
		{[]string{"--tables", "--format", "json"}, exitDone,
			`"table": "levels", "column": "run_hours", "type": "DOUBLE", "unit": "h"`},
		{[]string{"--tables", "SELECT 1"}, exitUsage, "takes no statement"},
		{[]string{"SELECT", "1"}, exitUsage, "quotes"},
		{[]string{""}, exitUsage, "no statement"},
		{[]string{}, exitUsage, "no statement"},
		{[]string{"no-such-file.sql"}, exitUsage, "no file no-such-file.sql"},
		{[]string{"SELECT * FROM '" + dir + "/register/fixtures.csv'"}, exitUsage, "not a table of the archive"},
		{[]string{"DROP VIEW levels"}, exitUsage, "only SELECT"},
		{[]string{"SELECT levl FROM levels"}, exitUsage, "levl"},
	} {
		out, errs, code := wane(t, append([]string{"sql", "--site", dir}, c.args...)...)
		if code != c.code || !strings.Contains(out+errs, c.want) {
			t.Errorf("sql %q ends with %d, want %d with %q\n%s%s", c.args, code, c.code, c.want, out, errs)
		}
	}
}
