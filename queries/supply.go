package queries

import (
	"context"
	"database/sql"
	"time"
)

// HistogramRow is a row of supply_histogram.sql: readings of one UTC hour in
// one bin of 0.5 V.
type HistogramRow struct {
	Hour     int64 // since 1970-01-01, UTC
	Bin      int64 // the bin reaches from Bin x 0.5 V to (Bin + 1) x 0.5 V
	Readings int64
	Volts    float64 // V, sum
}

// SupplyHistogram counts a series' voltages up to a moment. Values that are no
// supply voltage, and those in conflict, are left out.
func SupplyHistogram(ctx context.Context, db *DB, sensor, channel string, factor float64,
	to time.Time) ([]HistogramRow, error) {
	return collect[HistogramRow](ctx, db, "supply_histogram.sql", sensor, channel, factor, to)
}

// OutsideRow is a row of supply_outside.sql: a sample outside the band with its
// neighbours, V.
type OutsideRow struct {
	Time        time.Time
	Volts       float64
	TimeBefore  sql.Null[time.Time]
	VoltsBefore Null
	TimeAfter   sql.Null[time.Time]
	VoltsAfter  Null
}

// SupplyOutside gives a series' samples outside [lo, hi] V up to a moment.
func SupplyOutside(ctx context.Context, db *DB, sensor, channel string, factor, lo, hi float64,
	to time.Time) ([]OutsideRow, error) {
	return collect[OutsideRow](ctx, db, "supply_outside.sql", sensor, channel, factor, lo, hi, to)
}

// CadenceRow is a row of supply_cadence.sql.
type CadenceRow struct {
	Readings    int64
	First, Last time.Time
	Seconds     Null // between two readings, usually
}

// SupplyCadence gives how often a series was read up to a moment; no row where
// it never was.
func SupplyCadence(ctx context.Context, db *DB, sensor, channel string, to time.Time) ([]CadenceRow, error) {
	return collect[CadenceRow](ctx, db, "supply_cadence.sql", sensor, channel, to)
}

// PhaseRow is a row of supply_phases.sql: hourly means, as read.
type PhaseRow struct {
	Hour   int64   // since 1970-01-01, UTC
	First  float64 `sql:"phase_1"`
	Second float64 `sql:"phase_2"`
	Third  float64 `sql:"phase_3"`
}

// SupplyPhases gives the hours in which three series were all read; a series is
// its sensor and channel.
func SupplyPhases(ctx context.Context, db *DB, series [3][2]string, to time.Time) ([]PhaseRow, error) {
	a, b, c := series[0], series[1], series[2]
	return collect[PhaseRow](ctx, db, "supply_phases.sql", a[0], a[1], b[0], b[1], c[0], c[1], to)
}
