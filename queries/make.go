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
	return db.making(ctx, "baselines.sql", "", copyTo(to))
}

// MakeLevels writes the levels of the days from first to last to a file.
func MakeLevels(ctx context.Context, db *DB, to string, first, last time.Time) error {
	return db.making(ctx, "held_levels.sql", "levels.sql", copyTo(to), first, last)
}

// What a statement gives for some parts at once is held in the engine until it is
// asked again.

// HoldLevels computes the levels of the days from first to last, for
// MakeHeldLevels. Of many days, to make each part by itself costs less.
func HoldLevels(ctx context.Context, db *DB, first, last time.Time) error {
	return db.making(ctx, "levels.sql", "", "CREATE OR REPLACE TEMP TABLE held_levels AS %s", first, last)
}

// MakeHeldLevels writes those of the levels held that are of the days from first
// to last to a file, to the bytes that MakeLevels gives it.
func MakeHeldLevels(ctx context.Context, db *DB, to string, first, last time.Time) error {
	return db.making(ctx, "held_levels.sql", "", copyTo(to), first, last)
}

// HoldWeeks computes the weekly bins of the days from first to last, which begin
// and end a week of the grid, for MakeWeeks. Days before the lamp has burned
// seasoning hours are left out.
func HoldWeeks(ctx context.Context, db *DB, first, last time.Time, seasoning float64) error {
	return db.making(ctx, "weeks.sql", "", "CREATE OR REPLACE TEMP TABLE held_weeks AS %s", first, last, seasoning)
}

// MakeWeeks writes those of the bins held that have their middle in the days from
// first to last to a file.
func MakeWeeks(ctx context.Context, db *DB, to string, first, last time.Time) error {
	return db.making(ctx, "held_weeks.sql", "", copyTo(to), first, last)
}

// made is how a table is written: in row groups small enough for a few fixtures
// to be read alone.
const made = "(FORMAT parquet, COMPRESSION snappy, ROW_GROUP_SIZE 10240)"

// copyTo has the rows of a statement, %s, written to a file.
func copyTo(file string) string {
	return "COPY (%s) TO '" + strings.NewReplacer("'", "''", "%", "%%").Replace(file) + "' " + made
}

// making runs the statement in file over views lit and outputs, as a part of
// another. It reads what another file says where that is named, else what is held.
func (db *DB) making(ctx context.Context, file, from, of string, params ...any) error {
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
	statement := string(text)
	if from != "" {
		if text, err = statements.ReadFile(from); err != nil {
			return err
		}
		statement = "WITH " + strings.TrimSuffix(file, ".sql") + " AS (" + string(text) + ")\n" + statement
	}
	if _, err := db.conn.ExecContext(ctx, fmt.Sprintf(of, statement), params...); err != nil {
		return fmt.Errorf("query %s: %w", file, err)
	}
	return nil
}
