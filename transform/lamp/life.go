package lamp

import (
	"sort"

	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/hours"
	"wane/transform/level"
	"wane/transform/suspect"
)

// Life is one lamp life as it is known at the end of a day: a row of table lives.
// Its hours and levels day by day come from WithSeries.
type Life struct {
	fleet.Life
	Key     int64 // of table lives
	Fixture *fleet.Fixture
	Place   fleet.Place // on the day asked for
	Series
	Base       level.Result // baseline and reference voltage; its Levels are not set
	Warnings   []string     // about the hours
	HungDay    int32        // when the fixture was hung, for its dirt
	FirstDay   int32        // of the life in the record
	LastDay    int32
	LastRead   int32 // last day with any reading of light; 0 = none
	Light      []string
	Repeats    []int32 // days whose light is to the last digit that of the day before: a stuck logger's
	SensorLast string  // sensor that read the light last
	RecordFrom int32   // first day of the record in this life; 0 = none
	Latest     bool    // no later lamp has been put into the fixture
	Sunlit     bool    // its light follows the sun, and the site does not say so

	Chain     []fleet.Epoch     // the fixture's optical chain
	Supply    estimate.Estimate // % of light per % of voltage, from the site's own swings
	Ambient   estimate.Estimate // relative light per degree, the same
	Corrected level.Corrections // the coefficients that the levels were made with
	EnergyH   estimate.Estimate // run-hours a day by energy over rated power, a third evidence

	Weeks  []forecast.Bin // of table weeks
	Burned []MonthBurn    // of table burning

	Now      hours.Total // at the last day; see Total
	BaseDays BaseDays
	sun      suspect.Sunlight
	Source   Source // where the series are; nil: they are at hand
}

// BaseDays is the days that a life's baseline rests on.
type BaseDays struct {
	From, To int32
	N        int
	Hours    float64 // run-hours on the first; NaN: none
}

// HoursNow is the life's run-hours at its last day.
func (l *Life) HoursNow() float64 {
	if t, ok := l.Total(); ok {
		return t.Hours
	}
	return l.StartHours
}

// Total is the run-hours at the life's last day, with what the evidence allows;
// ok is false where it has no day.
func (l *Life) Total() (t hours.Total, ok bool) {
	if n := len(l.Totals); n > 0 {
		return l.Totals[n-1], true
	}
	return l.Now, l.Now.Day != 0
}

// InService says whether the lamp hangs and has not failed.
func (l *Life) InService() bool { return l.End == "" }

// Dark says whether the lamp failed and nothing has replaced it.
func (l *Life) Dark() bool { return l.End == fleet.Fail && l.Latest }

// ReadFrom is the first day whose light is this lamp's alone: on the day of a
// relamp the old one burned too.
func (l *Life) ReadFrom() int32 {
	if l.N > 1 {
		return l.FirstDay + 1
	}
	return l.FirstDay
}

// SeasonHours is how long the lamp burns before there is a level.
func (l *Life) SeasonHours(rules Rules) float64 {
	if l.LampType.Discharge() {
		return rules.Baseline.SeasoningHours
	}
	return 0
}

// DayAt gives the roll-up of a day, nil where nothing spoke.
func (l *Life) DayAt(day int32) *level.Day {
	i := sort.Search(len(l.Days), func(i int) bool { return l.Days[i].Day >= day })
	if i == len(l.Days) || l.Days[i].Day != day {
		return nil
	}
	return &l.Days[i]
}

// Touches says whether the life has a day from first to last.
func (l *Life) Touches(first, last int32) bool { return l.FirstDay <= last && l.LastDay >= first }

// RecordBegins gives the first day of the life in the record.
func (l *Life) RecordBegins() (day int32, ok bool) { return l.RecordFrom, l.RecordFrom != 0 }

// silentDays is after how many days without a reading a lamp's logger counts
// as silent.
const silentDays = 3

// Silent says for how many days nothing has read the lamp's light; 0 while it
// is read.
func (l *Life) Silent(asOf int32) int {
	if l.LastRead == 0 || l.Dark() {
		return 0
	}
	if n := int(asOf - l.LastRead); n >= silentDays {
		return n
	}
	return 0
}
