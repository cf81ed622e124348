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
	return db.making(ctx, "baselines.sql", inOrder("%s", "place", "place", to))
}

// MakeLevels writes the levels of the days from first to last to a file. It is for
// many: see HoldLevels.
func MakeLevels(ctx context.Context, db *DB, to string, first, last time.Time) error {
	return db.making(ctx, "levels.sql", byLife("%s", to), first, last)
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
	return db.run(ctx, "write levels", byLife("FROM held_levels WHERE day BETWEEN $1 AND $2", to), first, last)
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
	return db.run(ctx, "write weeks", byLife("FROM held_weeks WHERE day BETWEEN $1 AND $2", to), first, last)
}

// made is how a table is written: in row groups small enough for a few fixtures
// to be read alone.
const made = "(FORMAT parquet, COMPRESSION snappy, ROW_GROUP_SIZE 10240)"

// inOrder has the rows of a statement written to a file in order, without what only
// orders them. They are numbered as they come (place), which the engine does with one
// thread: where several hand rows to the sorting, its runs, and with them the row
// groups that are written, end elsewhere each time.
func inOrder(statement, order, without, file string) string {
	return "COPY (SELECT * EXCLUDE (" + without + ") FROM (SELECT *, row_number() OVER () AS place FROM (" + statement +
		")) WHERE place > 0 ORDER BY " + order + ") TO '" +
		strings.NewReplacer("'", "''", "%", "%%").Replace(file) + "' " + made
}

// byLife is inOrder for rows of lives and days.
func byLife(statement, file string) string {
	return inOrder(statement, "life, day", "life, place", file)
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
