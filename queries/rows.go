package queries

import (
	"context"
	"database/sql"
	"time"
)

// DailyRow is a row of daily.sql; see schema/daily.sql for units.
type DailyRow struct {
	Fixture                                                   string
	Day                                                       time.Time
	Hours                                                     float64
	Sensor, Channel                                           string
	Readings, Usable                                          int64
	PPFD, Spread, DimPct, SupplyV, AmbientC, PowerW, CurrentA Null
	LitH, EdgeH, GapH                                         float64
	Starts                                                    int64
	MeterFirst                                                Null
	MeterFirstAt                                              sql.Null[time.Time]
	MeterLast                                                 Null
	MeterLastAt                                               sql.Null[time.Time]
}

// Daily gives the roll-up up to and including last; fixture "" means all.
func Daily(ctx context.Context, db *DB, last time.Time, fixture string) ([]DailyRow, error) {
	return collect(ctx, db, "daily.sql", func(r *DailyRow) []any {
		return []any{
			&r.Fixture, &r.Day, &r.Hours, &r.Sensor, &r.Channel, &r.Readings, &r.Usable, &r.PPFD, &r.Spread, &r.DimPct, &r.SupplyV,
			&r.AmbientC, &r.PowerW, &r.CurrentA, &r.LitH, &r.EdgeH, &r.GapH, &r.Starts, &r.MeterFirst, &r.MeterFirstAt, &r.MeterLast, &r.MeterLastAt,
		}
	}, last, fixture)
}

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
	return collect(ctx, db, "decline.sql", func(r *DeclineRow) []any {
		return []any{&r.Fixture, &r.LampLife, &r.Day, &r.RunHours, &r.Level, &r.LevelRaw, &r.Flags}
	}, last, fixture)
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
	return collect(ctx, db, "decline_curve.sql", func(r *CurveRow) []any {
		return []any{&r.Fixture, &r.LampLife, &r.RunHours, &r.Level, &r.LevelQ1, &r.LevelQ3, &r.Days}
	}, last, fixture, step)
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
	return collect(ctx, db, "daily_levels.sql", func(r *LevelRow) []any {
		return []any{
			&r.Fixture, &r.LampLife, &r.Day, &r.RunHours, &r.RunHoursLo, &r.RunHoursHi, &r.Witness, &r.Output, &r.OutputRaw,
			&r.GainLn, &r.SupplyLn, &r.AmbientLn, &r.Level, &r.LevelRaw, &r.Usable, &r.SupplyV, &r.AmbientC, &r.DimPct, &r.Chain, &r.Flags,
		}
	}, first, last, fixture)
}

// RunHoursRow is a row of run_hours.sql: h, and days by witness.
type RunHoursRow struct {
	Fixture                           string
	LampLife                          int64
	Day                               time.Time
	RunHours, RunHoursLo, RunHoursHi  float64
	ByMeter, ByLit, ByHabit, ByOutage int64
}

// RunHours gives each lamp life's run-hours at its last day up to last.
func RunHours(ctx context.Context, db *DB, last time.Time, fixture string) ([]RunHoursRow, error) {
	return collect(ctx, db, "run_hours.sql", func(r *RunHoursRow) []any {
		return []any{&r.Fixture, &r.LampLife, &r.Day, &r.RunHours, &r.RunHoursLo, &r.RunHoursHi, &r.ByMeter, &r.ByLit, &r.ByHabit, &r.ByOutage}
	}, last, fixture)
}

// LeftOutRow is a row of left_out.sql: counts of readings.
type LeftOutRow struct {
	Fixture                                                                                        string
	Days, Readings, Usable                                                                         int64
	Unlit, Daylight, Implausible, RunningUp, Edge, Stuck, OddDim, OddSupply, Shadowed, Conflicting int64
}

// LeftOut counts what was left out of the levels, by reason.
func LeftOut(ctx context.Context, db *DB, first, last time.Time, fixture string) ([]LeftOutRow, error) {
	return collect(ctx, db, "left_out.sql", func(r *LeftOutRow) []any {
		return []any{
			&r.Fixture, &r.Days, &r.Readings, &r.Usable, &r.Unlit, &r.Daylight, &r.Implausible, &r.RunningUp, &r.Edge, &r.Stuck,
			&r.OddDim, &r.OddSupply, &r.Shadowed, &r.Conflicting,
		}
	}, first, last, fixture)
}

// SpanRow is a row of series_span.sql.
type SpanRow struct {
	Sensor, Channel     string
	Readings, Conflicts int64
	First, Last         time.Time
}

// SeriesSpan lists every series of the archive.
func SeriesSpan(ctx context.Context, db *DB) ([]SpanRow, error) {
	return collect(ctx, db, "series_span.sql", func(r *SpanRow) []any {
		return []any{&r.Sensor, &r.Channel, &r.Readings, &r.Conflicts, &r.First, &r.Last}
	})
}

// ConflictRow is a row of conflicts.sql.
type ConflictRow struct {
	Sensor, Channel string
	Time            time.Time
	Value           float64
}

// Conflicts lists at most most readings that have a rival.
func Conflicts(ctx context.Context, db *DB, most int64) ([]ConflictRow, error) {
	return collect(ctx, db, "conflicts.sql", func(r *ConflictRow) []any {
		return []any{&r.Sensor, &r.Channel, &r.Time, &r.Value}
	}, most)
}

// ReadingRow is a row of rows_of_day.sql.
type ReadingRow struct {
	Time     time.Time
	Value    float64
	Conflict bool
}

// RowsOfDay gives the readings of one series in [from, to).
func RowsOfDay(ctx context.Context, db *DB, sensor, channel string, from, to time.Time) ([]ReadingRow, error) {
	return collect(ctx, db, "rows_of_day.sql", func(r *ReadingRow) []any {
		return []any{&r.Time, &r.Value, &r.Conflict}
	}, sensor, channel, from.UTC(), to.UTC())
}

// HabitRow is a row of burn_habit.sql.
type HabitRow struct {
	Fixture     string
	Month       int64 // 1 to 12
	Days        int64
	HoursPerDay float64
}

// BurnHabit gives burning hours a day by calendar month.
func BurnHabit(ctx context.Context, db *DB, first, last time.Time) ([]HabitRow, error) {
	return collect(ctx, db, "burn_habit.sql", func(r *HabitRow) []any {
		return []any{&r.Fixture, &r.Month, &r.Days, &r.HoursPerDay}
	}, first, last)
}

// SilentRow is a row of silent.sql.
type SilentRow struct {
	Fixture      string
	LastDay      time.Time
	LastLevelDay sql.Null[time.Time]
}

// Silent gives the last day on which each fixture's light was read.
func Silent(ctx context.Context, db *DB, last time.Time) ([]SilentRow, error) {
	return collect(ctx, db, "silent.sql", func(r *SilentRow) []any {
		return []any{&r.Fixture, &r.LastDay, &r.LastLevelDay}
	}, last)
}
