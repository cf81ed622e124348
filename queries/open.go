// Package queries asks the archive's Parquet files one question a file, in
// DuckDB's SQL.
//
//  1. Open makes an in-memory engine for one run, and a view a table over just
//     the files that the manifest names. There is no database file.
//  2. Each *.sql file is one statement. Its header says its name, its purpose,
//     its parameters with their types and units, and what its columns mean.
//  3. Each statement has one function here, which takes the parameters as
//     values and gives typed rows. A column that may be null is a Null.
//  4. schema/*.sql says what each table holds, column by column; Describe gives
//     it, views.sql makes a view of each.
//  5. Ask runs a statement that a person wrote, which can read these tables and
//     nothing else.
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

//go:embed *.sql schema/*.sql view/*.sql
var statements embed.FS

// Tables are the files of each table by its name, from the manifest. A table
// that is described here and has no files is empty; one that has files and no
// description is not seen.
type Tables map[string][]string

// Limits bounds what the engine may take. Zero values take the engine's own
// defaults, except Temp: without one, nothing is spilled to disk.
type Limits struct {
	Threads  int
	MemoryMB int
	Temp     string // folder for spilled intermediate results
}

// DB is one engine for one run. It is for one goroutine at a time.
type DB struct {
	pool  *sql.DB
	conn  *sql.Conn
	shown map[string]string // whether each described table is a VIEW or a TABLE by now
}

// Open starts an engine over the given files. Close it.
func Open(ctx context.Context, t Tables, l Limits) (*DB, error) {
	return open(ctx, l, func(db *DB) error { return db.Over(ctx, t) })
}

// open starts an engine and makes its views.
func open(ctx context.Context, l Limits, views func(*DB) error) (*DB, error) {
	pool, err := sql.Open("duckdb", "")
	if err != nil {
		return nil, fmt.Errorf("open query engine: %w", err)
	}
	conn, err := pool.Conn(ctx) // one connection a run: settings and views are its own
	if err != nil {
		return nil, errors.Join(fmt.Errorf("open query engine: %w", err), pool.Close())
	}
	db := &DB{pool: pool, conn: conn, shown: map[string]string{}}
	if err := db.prepare(ctx, l, views); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return db, nil
}

// Close ends the engine.
func (db *DB) Close() error { return errors.Join(db.conn.Close(), db.pool.Close()) }

func (db *DB) prepare(ctx context.Context, l Limits, views func(*DB) error) error {
	set := []string{
		"SET autoinstall_known_extensions = false",
		"SET autoload_known_extensions = false",
		"SET TimeZone = 'UTC'",
		"SET enable_progress_bar = false",
	}
	// without a folder of ours the engine would take one beside whatever the process stands in
	set = append(set, "SET temp_directory = '"+strings.ReplaceAll(l.Temp, "'", "''")+"'")
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
	if err := views(db); err != nil {
		return err
	}
	if _, err := db.conn.ExecContext(ctx, "SET lock_configuration = true"); err != nil { // from here on nothing can be set
		return fmt.Errorf("lock the query engine's settings: %w", err)
	}
	return nil
}
