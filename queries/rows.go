package queries

import (
	"context"
	"time"
)

// DeclineRow is a row of decline.sql.
type DeclineRow struct {
	Fixture  string
	LampLife int64
	Day      time.Time
	RunHours float64 // h
	Level    float64
	LevelRaw Null
	Flags    string
}

// Decline gives level against run-hours up to and including last.
func Decline(ctx context.Context, db *DB, last time.Time, fixture string) ([]DeclineRow, error) {
	return collect[DeclineRow](ctx, db, "decline.sql", last, fixture)
}

// CurveRow is a row of decline_curve.sql.
type CurveRow struct {
	Fixture                 string
	LampLife                int64
	RunHours                float64 // h, middle of the step
	Level, LevelQ1, LevelQ3 float64
	Days                    int64
}

// DeclineCurve gives decline in steps of run-hours.
func DeclineCurve(ctx context.Context, db *DB, last time.Time, fixture string, step float64) ([]CurveRow, error) {
	return collect[CurveRow](ctx, db, "decline_curve.sql", last, fixture, step)
}

// LevelRow is a row of daily_levels.sql; see schema/levels.sql for units.
type LevelRow struct {
	Fixture                                                         string
	LampLife                                                        int64
	Day                                                             time.Time
	RunHours, RunHoursLo, RunHoursHi                                float64
	Witness                                                         string
	Output, OutputRaw, GainLn, SupplyLn, AmbientLn, Level, LevelRaw Null
	Usable                                                          int64
	SupplyV, AmbientC, DimPct                                       Null
	Chain, Flags                                                    string
}

// DailyLevels gives the levels of the days from first to last.
func DailyLevels(ctx context.Context, db *DB, first, last time.Time, fixture string) ([]LevelRow, error) {
	return collect[LevelRow](ctx, db, "daily_levels.sql", first, last, fixture)
}

// LeftOutRow is a row of left_out.sql: counts of readings.
type LeftOutRow struct {
	Fixture                                                                                        string
	Days, Readings, Usable                                                                         int64
	Unlit, Daylight, Implausible, RunningUp, Edge, Stuck, OddDim, OddSupply, Shadowed, Conflicting int64
}

// LeftOut counts what was left out of the levels, by reason.
func LeftOut(ctx context.Context, db *DB, first, last time.Time, fixture string) ([]LeftOutRow, error) {
	return collect[LeftOutRow](ctx, db, "left_out.sql", first, last, fixture)
}

// ReadingRow is a row of rows_of_day.sql.
type ReadingRow struct {
	Time     time.Time
	Value    float64
	Conflict bool
}

// RowsOfDay gives the readings of one series in [from, to).
func RowsOfDay(ctx context.Context, db *DB, sensor, channel string, from, to time.Time) ([]ReadingRow, error) {
	return collect[ReadingRow](ctx, db, "rows_of_day.sql", sensor, channel, from.UTC(), to.UTC())
}
