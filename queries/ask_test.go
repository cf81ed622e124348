package queries

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func asking(t *testing.T, l Limits) *DB {
	t.Helper()
	db, err := Open(context.Background(), Tables{}, l)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db
}

// answer runs a statement and gives its rows as text.
func answer(ctx context.Context, db *DB, statement string) (columns, rows []string, err error) {
	err = Ask(ctx, db, statement, func(cs []Column) error {
		for _, c := range cs {
			columns = append(columns, c.Name+" "+c.Type)
		}
		return nil
	}, func(values []any) error {
		rows = append(rows, strings.Trim(fmt.Sprint(values), "[]"))
		return nil
	})
	return columns, rows, err
}

// What a person asks of the tables is answered, also twice with one engine.
func TestAskAnswers(t *testing.T) {
	db := asking(t, Limits{Threads: 2})
	for statement, want := range map[string]string{
		"SELECT count(*) AS n FROM levels":                   "n BIGINT: 0",
		"FROM range(3);  -- with a remark":                   "range BIGINT: 0|1|2",
		"VALUES (1), (2)":                                    "col0 INTEGER: 1|2",
		"(SELECT 'a;b' AS \"a b\" LIMIT 1)":                  "a b VARCHAR: a;b",
		"WITH t AS (SELECT 1 AS n) SELECT n + 1 AS m FROM t": "m INTEGER: 2",
		"SELECT 1.50 AS d, [1, 2] AS l, NULL AS n":           "d DECIMAL(3,2) l INTEGER[] n INTEGER: 1.50 [1, 2] <nil>",
		"WITH RECURSIVE t AS (SELECT 1 AS n UNION ALL SELECT n + 1 FROM t WHERE n < 3) SELECT n FROM t": "n INTEGER: 1|2|3",
		"SELECT 1 AS n FROM daily d JOIN levels l ON d.fixture = l.fixture":                             "n INTEGER: ",
	} {
		columns, rows, err := answer(context.Background(), db, statement)
		if got := strings.Join(columns, " ") + ": " + strings.Join(rows, "|"); err != nil || got != want {
			t.Errorf("%s\n gives %s, %v\n want  %s", statement, got, err, want)
		}
	}
}

// An answer of many pages comes whole and in order.
func TestAskGivesEveryRowInOrder(t *testing.T) {
	db := asking(t, Limits{Threads: 2})
	next := int64(0)
	err := Ask(context.Background(), db, fmt.Sprintf("SELECT range AS n FROM range(%d) ORDER BY n", 2*page+7),
		func([]Column) error { return nil },
		func(v []any) error {
			if v[0] != next {
				return fmt.Errorf("row %d holds %v", next, v[0])
			}
			next++
			return nil
		})
	if err != nil || next != 2*page+7 {
		t.Errorf("%d rows, %v", next, err)
	}
}

// Nothing but the tables can be read, and nothing changed.
func TestAskKeepsToTheArchive(t *testing.T) {
	dir := t.TempDir()
	secret := filepath.Join(dir, "secret.csv")
	if err := os.WriteFile(secret, []byte("word\nxyzzy\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(dir, "out")
	db := asking(t, Limits{Threads: 1})
	for _, statement := range []string{
		"SELECT * FROM read_csv('" + secret + "')",
		"SELECT * FROM READ_CSV_AUTO('" + secret + "')",
		"SELECT * FROM read_text('" + secret + "')",
		"SELECT * FROM read_blob('" + secret + "')",
		"SELECT * FROM read_parquet('" + secret + "')",
		"SELECT * FROM parquet_metadata('" + secret + "')",
		"SELECT * FROM read_json('" + secret + "')",
		"SELECT * FROM sniff_csv('" + secret + "')",
		"SELECT * FROM glob('" + dir + "/*')",
		"SELECT * FROM '" + secret + "'",
		"SELECT * FROM \"" + secret + "\"",
		"FROM '" + secret + "' SELECT word",
		"SELECT (SELECT word FROM '" + secret + "')",
		"SELECT 1 WHERE EXISTS (SELECT * FROM read_text('" + secret + "'))",
		"SELECT * FROM levels UNION ALL SELECT * FROM '" + secret + "'",
		"WITH t AS (SELECT * FROM '" + secret + "') SELECT * FROM t",
		// a name that is one inside is a path outside
		"SELECT * FROM (WITH \"" + secret + "\" AS (SELECT 1) SELECT 2) AS t, \"" + secret + "\"",
		"SELECT * FROM levels, LATERAL (SELECT * FROM read_text('" + secret + "'))",
		"SELECT list_transform([1], x -> (SELECT count(*) FROM '" + secret + "'))",
		"SELECT * FROM query('SELECT * FROM read_text(''" + secret + "'')')",
		"SELECT * FROM query_table('" + secret + "')",
		"SELECT * FROM histogram_values('" + secret + "', word)",
		"SELECT json_serialize_plan('SELECT * FROM read_csv(''" + secret + "'')')",
		"SELECT * FROM json_execute_serialized_sql(json_serialize_sql('SELECT 1'))",
		"PRAGMA json_execute_serialized_sql('{}')",
		"SELECT getvariable('files')", "SELECT getenv('HOME')", "SELECT current_setting('temp_directory')",
		"SELECT * FROM duckdb_settings()", "SELECT * FROM duckdb_secrets()", "SELECT * FROM information_schema.tables",
		"SELECT * FROM arrow_scan(1, 2, 3)", "SELECT * FROM 'https://127.0.0.1:1/x.csv'",
		"DESCRIBE '" + secret + "'", "DESCRIBE SELECT * FROM '" + secret + "'", "SUMMARIZE '" + secret + "'", "SHOW TABLES",
		"PIVOT '" + secret + "' ON word USING count(*)",
		"SELECT * FROM (PIVOT '" + secret + "' ON word IN ('a') USING count(*))",
		"COPY (SELECT 1) TO '" + out + "'", "COPY levels FROM '" + secret + "'",
		"EXPORT DATABASE '" + out + "'",
		"IMPORT DATABASE '" + dir + "'", "ATTACH '" + out + "' AS x", "USE main", "DETACH main",
		"INSTALL httpfs", "LOAD httpfs", "LOAD '" + secret + "'",
		"SET memory_limit = '100GB'", "RESET ALL", "PRAGMA database_list", "CALL pragma_version()", "CHECKPOINT",
		"CREATE TABLE x AS SELECT 1", "CREATE VIEW x AS SELECT 1", "CREATE MACRO m() AS 1", "CREATE SECRET (TYPE S3)",
		"INSERT INTO levels SELECT * FROM levels", "UPDATE levels SET level = 1", "DELETE FROM levels",
		"DROP VIEW levels", "ALTER TABLE levels RENAME TO x",
		"EXPLAIN ANALYZE SELECT 1", "PREPARE p AS SELECT 1", "EXECUTE p", "BEGIN", "VACUUM",
		"SELECT 1; SELECT 2", "SELECT 1; COPY (SELECT 1) TO '" + out + "'", "SELECT 1) TO '" + out + "'; --",
		"SELECT 1\x00; COPY (SELECT 1) TO '" + out + "'",
		"SELECT * FROM levels POSITIONAL JOIN '" + secret + "'",
		"SELECT * FROM levels ORDER BY (SELECT content FROM read_text('" + secret + "'))",
		"SELECT max(level) OVER (ORDER BY (SELECT 1 FROM '" + secret + "')) FROM levels",
		"SELECT CASE WHEN true THEN (TABLE \"" + secret + "\") END",
		"SELECT 1 AS rowid", "", ";", "-- nothing", "nonsense",
		"SELECT * FROM no_such_table", "SELECT no_such_column FROM levels",
	} {
		columns, rows, err := answer(context.Background(), db, statement)
		if !errors.Is(err, ErrNotAsked) {
			t.Errorf("%s\n gives %v %v, %v", statement, columns, rows, err)
		} else if strings.Contains(err.Error(), "xyzzy") {
			t.Errorf("%s\n tells %v", statement, err)
		}
	}
	if _, err := os.Stat(out); err == nil {
		t.Error("something was written")
	}
}

// What a statement may do was decided by looking through this version's
// functions, of which there may be others in the next: go through
// duckdb_functions() again before this is changed.
func TestAskKnowsTheEngine(t *testing.T) {
	_, rows, err := answer(context.Background(), asking(t, Limits{}), "SELECT version() AS v")
	if err != nil || len(rows) != 1 || rows[0] != "v1.1.3" {
		t.Errorf("the engine is %v, %v", rows, err)
	}
}

// A statement without end ends with its context.
func TestAskIsInterrupted(t *testing.T) {
	ctx, cancel := context.WithTimeout(context.Background(), 50*time.Millisecond)
	defer cancel()
	const endless = "SELECT count(*) FROM range(10000000) a, range(10000000) b WHERE hash(a.range, b.range) = 1"
	_, _, err := answer(ctx, asking(t, Limits{Threads: 2}), endless)
	if !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("ended with %v", err)
	}
}

// An answer greater than the memory that there is, with no folder to put it, is
// an error, not a process that grows.
func TestAskKeepsToItsMemory(t *testing.T) {
	const great = "SELECT repeat('x', 1000) || range AS x FROM range(1000000)"
	_, rows, err := answer(context.Background(), asking(t, Limits{Threads: 1, MemoryMB: 40}), great)
	if err == nil || !strings.Contains(err.Error(), "memory") {
		t.Errorf("%d rows, %v", len(rows), err)
	}
}
