package queries

import (
	"context"
	"time"
)

// RecordSpanRow is the row of record_span.sql.
type RecordSpanRow struct {
	First time.Time `sql:"first_day"`
	Last  time.Time `sql:"last_day"`
}

// RecordSpan gives the first and last day with a reading of light; no row where
// there is none.
func RecordSpan(ctx context.Context, db *DB, last time.Time) ([]RecordSpanRow, error) {
	return collect[RecordSpanRow](ctx, db, "record_span.sql", last)
}

// LifeYearRow is a row of life_years.sql: h and days.
type LifeYearRow struct {
	Fixture                             string
	LampLife, Year                      int64
	FirstDay, LastDay                   time.Time
	HoursUnseen, HoursFirst, Baseline   Null // Baseline: umol/m2/s that is level 1
	HoursLit                            Null // at the end of the last day with a reading of its light
	HoursLast, HoursLastLo, HoursLastHi float64
	Days, LevelDays                     int64
	ByMeter, ByLit, Unseen              int64
}

// LifeYears gives each lamp life's run-hours by calendar year.
func LifeYears(ctx context.Context, db *DB, last, record time.Time) ([]LifeYearRow, error) {
	return collect[LifeYearRow](ctx, db, "life_years.sql", last, record)
}

// LifeWeekRow is a row of life_weeks.sql.
type LifeWeekRow struct {
	Fixture  string
	LampLife int64
	Week     int64   // weeks since 1970-01-01
	RunHours float64 // h
	Level    float64
	Days     int64
}

// LifeWeeks hands each week of each lamp life to fn, in order of fixture, life
// and week. There may be millions: they are not kept here, and fn's row is
// used again.
func LifeWeeks(ctx context.Context, db *DB, last time.Time, fn func(*LifeWeekRow)) error {
	var fixture string
	return each(ctx, db, "life_weeks.sql", func(row *LifeWeekRow) {
		if row.Fixture != fixture {
			fixture = row.Fixture
		}
		row.Fixture = fixture // one string a fixture is kept, not one a row
		fn(row)
	}, last)
}

// YearUseRow is a row of year_use.sql.
type YearUseRow struct {
	Fixture      string
	Days, Starts int64
	EnergyDays   int64
	EnergyKWh    Null // kWh, by the counter
	PowerDays    int64
	PowerKWh     Null // kWh
	PPFD         Null // umol/m2/s
}

// YearUse gives what each fixture did from first to last.
func YearUse(ctx context.Context, db *DB, first, last time.Time) ([]YearUseRow, error) {
	return collect[YearUseRow](ctx, db, "year_use.sql", first, last)
}

// MonthRow is a row of coverage_by_month.sql.
type MonthRow struct {
	Month                                      time.Time // its first day
	Fixtures, FixtureDays, ReadDays, LevelDays int64
	Readings, Usable                           int64
	GapShare                                   float64
}

// CoverageByMonth gives how much was seen from first to last.
func CoverageByMonth(ctx context.Context, db *DB, first, last time.Time) ([]MonthRow, error) {
	return collect[MonthRow](ctx, db, "coverage_by_month.sql", first, last)
}

// LightPerPowerRow is a row of light_per_power.sql.
type LightPerPowerRow struct {
	Fixture           string
	PowerW            float64 // W
	PPFD, PPFDPerWatt float64 // umol/m2/s, and that a watt
	Days              int64
}

// LightPerPower gives light per power from first to last.
func LightPerPower(ctx context.Context, db *DB, first, last time.Time) ([]LightPerPowerRow, error) {
	return collect[LightPerPowerRow](ctx, db, "light_per_power.sql", first, last)
}
