package derive

import (
	"time"

	"wane/ingest/site"
	"wane/transform/calendar"
	"wane/transform/daily"
	"wane/transform/fleet"
	"wane/transform/survey"
)

// Version stands in every key of a derived part: raise it when a change of the
// code changes what the tables hold.
const Version = "10"

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

// Site is what the derivation needs to know besides the archive.
type Site struct {
	Config   site.Config
	Register *fleet.Register
	Hash     string                  // of site.yaml and the register as written; "" = not known
	Beside   map[string]*survey.Note // what stood beside each canopy survey
	HoldDays int64                   // up to how many days of levels are held at once; 0: holdDays
}

// bounds gives the days at loc, each with its run-in.
func bounds(days []int32, loc *time.Location) []daily.Bound {
	out := make([]daily.Bound, len(days))
	for i, d := range days {
		out[i] = daily.Bound{Day: d, From: calendar.Start(d, loc).UnixMicro(), To: calendar.Start(d+1, loc).UnixMicro(),
			Since: calendar.Start(d-runIn, loc).UnixMicro()}
	}
	return out
}
