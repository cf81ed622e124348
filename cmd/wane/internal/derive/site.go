package derive

import (
	"time"

	"wane/transform/calendar"
	"wane/transform/daily"
)

// Version stands in every key of a derived part: raise it when a change of the
// code changes what the tables hold.
const Version = "20"

// The derived tables, in the order in which they are made.
const (
	TableDaily        = "daily"
	TableHours        = "hours"
	TableLives        = "lives"
	TableGains        = "gains"
	TablePeriods      = "sensor_periods"
	TablePlacements   = "placements"
	TableChains       = "chains"
	TableCoefficients = "coefficients"
	TableBurning      = "burning"
	TableBaselines    = "baselines"
	TableLevels       = "levels"
	TableWeeks        = "weeks"
	TableDue          = "due"
)

// bounds gives the days at loc, each with its run-in.
func bounds(days []int32, loc *time.Location) []daily.Bound {
	out := make([]daily.Bound, len(days))
	for i, d := range days {
		out[i] = daily.Bound{Day: d, From: calendar.Start(d, loc).UnixMicro(), To: calendar.Start(d+1, loc).UnixMicro(),
			Since: calendar.Start(d-runIn, loc).UnixMicro()}
	}
	return out
}
