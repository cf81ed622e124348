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
	return db.making(ctx, "baselines.sql", copyTo("%s", to))
}

// MakeLevels writes the levels of the days from first to last to a file. It is for
// many: see HoldLevels.
func MakeLevels(ctx context.Context, db *DB, to string, first, last time.Time) error {
	return db.making(ctx, "levels.sql", copyTo("SELECT * EXCLUDE (life) FROM (%s) ORDER BY life, day", to), first, last)
}

// What a statement gives for some parts at once is held in the engine until it is
// asked again, and each part written out of it.

// HoldLevels computes the levels of the days from first to last, for
// MakeHeldLevels.
func HoldLevels(ctx context.Context, db *DB, first, last time.Time) error {
	return db.making(ctx, "levels.sql", "CREATE OR REPLACE TEMP TABLE held_levels AS %s", first, last)
}

// MakeHeldLevels writes those of the levels held that are of the days from first
// to last to a file.
func MakeHeldLevels(ctx context.Context, db *DB, to string, first, last time.Time) error {
	return db.run(ctx, "write levels", fmt.Sprintf(copyTo(held, to), "held_levels"), first, last)
}

// HoldWeeks computes the weekly bins of the days from first to last, which begin
// and end a week of the grid, for MakeWeeks. Days before the lamp has burned
// seasoning hours are left out.
func HoldWeeks(ctx context.Context, db *DB, first, last time.Time, seasoning float64) error {
	return db.making(ctx, "weeks.sql", "CREATE OR REPLACE TEMP TABLE held_weeks AS %s", first, last, seasoning)
}

// MakeWeeks writes those of the bins held that have their middle in the days from
// first to last to a file.
func MakeWeeks(ctx context.Context, db *DB, to string, first, last time.Time) error {
	return db.run(ctx, "write weeks", fmt.Sprintf(copyTo(held, to), "held_weeks"), first, last)
}

// held is the rows of some days out of a table that is held. They are numbered,
// which the engine does with one thread: where several hand rows to the sorting,
// its runs, and with them the row groups written, can end elsewhere.
const held = "SELECT * EXCLUDE (life, place) FROM (SELECT *, row_number() OVER () AS place FROM %s)" +
	" WHERE place > 0 AND day BETWEEN $1 AND $2 ORDER BY life, day"

// made is how a table is written: in row groups small enough for a few fixtures
// to be read alone.
const made = "(FORMAT parquet, COMPRESSION snappy, ROW_GROUP_SIZE 10240)"

// copyTo has the rows of a statement written to a file.
func copyTo(statement, file string) string {
	return "COPY (" + statement + ") TO '" + strings.NewReplacer("'", "''", "%", "%%").Replace(file) + "' " + made
}

// making runs the statement in file over views lit and outputs, as a part of another.
func (db *DB) making(ctx context.Context, file, of string, params ...any) error {
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
	if _, err := db.conn.ExecContext(ctx, fmt.Sprintf(of, text), params...); err != nil {
		return fmt.Errorf("query %s: %w", file, err)
	}
	return nil
}
