package queries

import (
	"context"
	"database/sql"
	"strings"
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
func SupplyHistogram(ctx context.Context, db *DB, sensor, channel string, factor float64, to time.Time) ([]HistogramRow, error) {
	return collect(ctx, db, "supply_histogram.sql", func(r *HistogramRow) []any {
		return []any{&r.Hour, &r.Bin, &r.Readings, &r.Volts}
	}, sensor, channel, factor, to)
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
func SupplyOutside(ctx context.Context, db *DB, sensor, channel string, factor, lo, hi float64, to time.Time) ([]OutsideRow, error) {
	return collect(ctx, db, "supply_outside.sql", func(r *OutsideRow) []any {
		return []any{&r.Time, &r.Volts, &r.TimeBefore, &r.VoltsBefore, &r.TimeAfter, &r.VoltsAfter}
	}, sensor, channel, factor, lo, hi, to)
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
	return collect(ctx, db, "supply_cadence.sql", func(r *CadenceRow) []any {
		return []any{&r.Readings, &r.First, &r.Last, &r.Seconds}
	}, sensor, channel, to)
}

// PhaseRow is a row of supply_phases.sql: hourly means, as read.
type PhaseRow struct {
	Hour                 int64 // since 1970-01-01, UTC
	First, Second, Third float64
}

// SupplyPhases gives the hours in which three series were all read; a series is
// its sensor and channel.
func SupplyPhases(ctx context.Context, db *DB, series [3][2]string, to time.Time) ([]PhaseRow, error) {
	lines := make([]string, 3)
	for i, s := range series {
		lines[i] = s[0] + "\t" + s[1]
	}
	return collect(ctx, db, "supply_phases.sql", func(r *PhaseRow) []any {
		return []any{&r.Hour, &r.First, &r.Second, &r.Third}
	}, strings.Join(lines, "\n"), to)
}
