package queries

import (
	"context"
	"fmt"
	"strings"
	"time"
)

// What makes a table is a statement like the others: its rows go into a Parquet
// file instead of to the caller, in the order that it says.

// MakeBaselines writes the baselines of all lives to a file.
func MakeBaselines(ctx context.Context, db *DB, to string) error {
	return db.make(ctx, "baselines.sql", to)
}

// MakeLevels writes the levels of the days from first to last to a file.
func MakeLevels(ctx context.Context, db *DB, to string, first, last time.Time) error {
	return db.make(ctx, "levels.sql", to, first, last)
}

// MakeWeeks writes the weekly bins of the days from first to last, which begin
// and end a week of the grid, to a file. Days before the lamp has burned
// seasoning hours are left out.
func MakeWeeks(ctx context.Context, db *DB, to string, first, last time.Time, seasoning float64) error {
	return db.make(ctx, "weeks.sql", to, first, last, seasoning)
}

// made is how a table is written: in row groups small enough for a few fixtures
// to be read alone.
const made = "(FORMAT parquet, COMPRESSION snappy, ROW_GROUP_SIZE 10240)"

// make runs the statement in file over views lit and outputs and writes its rows.
func (db *DB) make(ctx context.Context, file, to string, params ...any) error {
	for _, name := range []string{"view/lit.sql", "view/outputs.sql"} {
		view, err := statements.ReadFile(name)
		if err != nil {
			return err
		}
		if _, err := db.conn.ExecContext(ctx, string(view)); err != nil {
			return fmt.Errorf("query %s: %w", name, err)
		}
	}
	text, err := statements.ReadFile(file)
	if err != nil {
		return err
	}
	copyTo := "COPY (" + string(text) + ") TO '" + strings.ReplaceAll(to, "'", "''") + "' " + made
	if _, err := db.conn.ExecContext(ctx, copyTo, params...); err != nil {
		return fmt.Errorf("query %s: %w", file, err)
	}
	return nil
}
