package queries

import (
	"context"
	"time"
)

// BurningRow is a row of burning_days.sql: h, per cent, W and A.
type BurningRow struct {
	Fixture                  string
	Day                      time.Time
	Starts                   int64
	BurnedH, GapH            float64
	DimPct, PowerW, CurrentA Null
}

// BurningDays gives how each fixture burned on the days from first to last.
func BurningDays(ctx context.Context, db *DB, first, last time.Time) ([]BurningRow, error) {
	return collect[BurningRow](ctx, db, "burning_days.sql", first, last)
}

// EdgeRow is a row of on_edges.sql: the first reading after the series came on
// (Lit) or went out.
type EdgeRow struct {
	Time    time.Time
	Lit     bool
	Seconds float64 // since the reading before
}

// OnEdges gives when a series of current or power came on and went out within
// [from, to): it is on above share of its usual value while burning.
func OnEdges(ctx context.Context, db *DB, sensor, channel string, share float64,
	from, to time.Time) ([]EdgeRow, error) {
	return collect[EdgeRow](ctx, db, "on_edges.sql", sensor, channel, share, from.UTC(), to.UTC())
}
