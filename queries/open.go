// Package queries asks the archive's Parquet files one question a file, in
// DuckDB's SQL.
//
//  1. Open makes an in-memory engine for one run, and a view a table over just
//     the files that the manifest names. There is no database file.
//  2. Each *.sql file is one statement. Its header says its name, its purpose,
//     its parameters with their types and units, and what its columns mean.
//  3. Each statement has one function here, which takes the parameters as
//     values and gives typed rows. A column that may be null is a Null.
//
// The engine reads no network and loads no extension, runs no file-system
// function but on the files named, and knows no time zone: days arrive as
// dates, moments as UTC.
package queries

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"strings"

	_ "github.com/marcboeker/go-duckdb" // registers the driver "duckdb"
)

//go:embed *.sql schema/*.sql
var statements embed.FS

// Tables are the files of each table, from the manifest; a table without files
// is empty.
type Tables struct {
	Readings, Daily, Levels []string
}

// Limits bounds what the engine may take. Zero values take the engine's own
// defaults, except Temp: without one, nothing is spilled to disk.
type Limits struct {
	Threads  int
	MemoryMB int
	Temp     string // folder for spilled intermediate results
}

// DB is one engine for one run. It is for one goroutine at a time.
type DB struct {
	pool *sql.DB
	conn *sql.Conn
}

// Open starts an engine over the given files. Close it.
func Open(ctx context.Context, t Tables, l Limits) (*DB, error) {
	pool, err := sql.Open("duckdb", "")
	if err != nil {
		return nil, fmt.Errorf("open query engine: %w", err)
	}
	conn, err := pool.Conn(ctx) // one connection a run: settings and views are its own
	if err != nil {
		return nil, errors.Join(fmt.Errorf("open query engine: %w", err), pool.Close())
	}
	db := &DB{pool: pool, conn: conn}
	if err := db.prepare(ctx, t, l); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return db, nil
}

// Close ends the engine.
func (db *DB) Close() error { return errors.Join(db.conn.Close(), db.pool.Close()) }

func (db *DB) prepare(ctx context.Context, t Tables, l Limits) error {
	set := []string{
		"SET autoinstall_known_extensions = false",
		"SET autoload_known_extensions = false",
		"SET TimeZone = 'UTC'",
		"SET enable_progress_bar = false",
		"CREATE TEMP TABLE part (tbl VARCHAR, path VARCHAR)",
	}
	if l.Threads > 0 {
		set = append(set, fmt.Sprintf("SET threads = %d", l.Threads))
	}
	if l.MemoryMB > 0 {
		set = append(set, fmt.Sprintf("SET memory_limit = '%dMB'", l.MemoryMB))
	}
	for _, s := range set {
		if _, err := db.conn.ExecContext(ctx, s); err != nil {
			if strings.Contains(s, "TimeZone") { // an engine without zones has nothing to set
				continue
			}
			return fmt.Errorf("set up query engine: %s: %w", s, err)
		}
	}
	if l.Temp != "" {
		if _, err := db.conn.ExecContext(ctx, "SET temp_directory = '"+strings.ReplaceAll(l.Temp, "'", "''")+"'"); err != nil {
			return fmt.Errorf("set up query engine: %w", err)
		}
	}
	for _, v := range []struct {
		name  string
		files []string
		over  string
	}{
		// parts hold different numbers of decimals: read by name they meet in the widest
		{"readings", t.Readings, "SELECT sensor, channel, time, CAST(value AS DOUBLE) AS value, conflict FROM read_parquet(getvariable('files_readings'), union_by_name = true, hive_partitioning = false)"},
		{"daily", t.Daily, "SELECT * FROM read_parquet(getvariable('files_daily'), hive_partitioning = false)"},
		{"levels", t.Levels, "SELECT * FROM read_parquet(getvariable('files_levels'), hive_partitioning = false)"},
	} {
		if err := db.view(ctx, v.name, v.files, v.over); err != nil {
			return fmt.Errorf("view %s: %w", v.name, err)
		}
	}
	return nil
}

// view makes the table of that name visible: over its files, or empty.
func (db *DB) view(ctx context.Context, name string, files []string, over string) error {
	if len(files) == 0 {
		ddl, err := statements.ReadFile("schema/" + name + ".sql")
		if err != nil {
			return err
		}
		_, err = db.conn.ExecContext(ctx, string(ddl))
		return err
	}
	for _, f := range files { // as values: a path is never part of a statement
		if _, err := db.conn.ExecContext(ctx, "INSERT INTO part VALUES (?, ?)", name, f); err != nil {
			return err
		}
	}
	if _, err := db.conn.ExecContext(ctx, "SET VARIABLE files_"+name+" = (SELECT list(path ORDER BY path) FROM part WHERE tbl = '"+name+"')"); err != nil {
		return err
	}
	_, err := db.conn.ExecContext(ctx, "CREATE TEMP VIEW "+name+" AS "+over)
	return err
}

// rows runs the statement in file and hands each row to scan.
func (db *DB) rows(ctx context.Context, file string, scan func(*sql.Rows) error, params ...any) error {
	text, err := statements.ReadFile(file)
	if err != nil {
		return err
	}
	rows, err := db.conn.QueryContext(ctx, string(text), params...)
	if err != nil {
		return fmt.Errorf("query %s: %w", file, err)
	}
	defer rows.Close()
	for rows.Next() {
		if err := scan(rows); err != nil {
			return fmt.Errorf("query %s: %w", file, err)
		}
	}
	if err := rows.Err(); err != nil {
		return fmt.Errorf("query %s: %w", file, err)
	}
	return nil
}

// collect runs the statement in file and gives its rows; fields gives the
// places of a row's columns, in order.
func collect[T any](ctx context.Context, db *DB, file string, fields func(*T) []any, params ...any) ([]T, error) {
	var out []T
	err := db.rows(ctx, file, func(r *sql.Rows) error {
		var row T
		if err := r.Scan(fields(&row)...); err != nil {
			return err
		}
		out = append(out, row)
		return nil
	}, params...)
	return out, err
}

// Null is a number that may be absent. Or gives it, or what stands for absent.
type Null = sql.Null[float64]
