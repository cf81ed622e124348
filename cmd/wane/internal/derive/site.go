package derive

import (
	"time"

	"wane/ingest/site"
	"wane/transform/daily"
	"wane/transform/fleet"
	"wane/transform/survey"
)

// Version stands in every key of a derived part: raise it when a change of the
// code changes what the tables hold.
const Version = "9"

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

// DayOf is the number of t's calendar day at loc: days since 1970-01-01.
func DayOf(t time.Time, loc *time.Location) int32 {
	y, m, d := t.In(loc).Date()
	return int32(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// Date is the calendar date of a day number, as midnight UTC.
func Date(day int32) time.Time { return time.Unix(int64(day)*86400, 0).UTC() }

// Start is the instant at which a day begins at loc.
func Start(day int32, loc *time.Location) time.Time {
	y, m, d := Date(day).Date()
	return time.Date(y, m, d, 0, 0, 0, 0, loc)
}

// bounds gives the days at loc, each with its run-in.
func bounds(days []int32, loc *time.Location) []daily.Bound {
	out := make([]daily.Bound, len(days))
	for i, d := range days {
		out[i] = daily.Bound{Day: d, From: Start(d, loc).UnixMicro(), To: Start(d+1, loc).UnixMicro(),
			Since: Start(d-runIn, loc).UnixMicro()}
	}
	return out
}

// month is a calendar month, counted from year 0.
type month int32

func monthOf(t time.Time) month { return month(int32(t.Year())*12 + int32(t.Month()) - 1) }

func (m month) first(loc *time.Location) time.Time {
	return time.Date(int(m)/12, time.Month(int(m)%12+1), 1, 0, 0, 0, 0, loc)
}

// days gives the days of the month.
func (m month) days() []int32 {
	var out []int32
	for d, end := DayOf(m.first(time.UTC), time.UTC), DayOf((m+1).first(time.UTC), time.UTC); d < end; d++ {
		out = append(out, d)
	}
	return out
}

func (m month) String() string { return m.first(time.UTC).Format("2006-01") }
