package plan

import (
	"time"

	"wane/transform/estimate"
)

// Input is all that a plan rests on. Lamps come from the due table and the
// register, Settings from site.yaml.
type Input struct {
	AsOf     time.Time // the day the plan is made for; the time of day is ignored, UTC is used
	Seed     uint64    // of the simulations in WhatIf; the same seed gives the same table
	Lamps    []Lamp    // lamps now in service
	Rooms    []Room    // facts of rooms; a room named by a lamp but not here has none
	Settings Settings  // costs and constraints
}

// Lamp is one lamp life now in service. Hours are run-hours of that lamp life.
// Fields left at their zero value are unknown unless stated otherwise.
type Lamp struct {
	Fixture  string
	Life     int
	Room     string
	Bay      string
	LampType string // hps-de, hps-se, cmh, mh, fluorescent, led
	Gear     string // magnetic, electronic, driver; empty = unknown
	Cohort   string

	HoursNow   float64           // run-hours on AsOf
	BurnPerDay float64           // mean burning hours a day to come, 0 < x <= 24
	Threshold  float64           // level under which the lamp is to be replaced, 0 < x < 1
	Level      estimate.Estimate // level on AsOf, 1.00 = 100 %, dirt included; unknown: estimate.None
	Status     string            // of the due table: forecast, under, beyond, too-early, inseparable, dark, no-data
	Reason     string            // of the due table, repeated in the plan where there is no forecast

	Due        Due               // crossing hour of Threshold
	DeclineKh  estimate.Estimate // ageing, level lost per 1,000 h, dirt not counted; used where Due is empty; unknown: estimate.None
	DirtShare  estimate.Estimate // share of the present loss 1-Level that is dirt, 0..1; unknown: estimate.None
	Hazard     Weibull           // time to failure of lamps like this one
	PPFD       float64           // umol/m2/s at the canopy under this fixture at 100 %
	Area       float64           // m2 of canopy this fixture serves; 0 = as Terms.AreaM2 says
	PowerW     float64           // measured at full set point, gear included
	RatedW     float64           // of the register
	GearFault  string            // what points to the ballast or driver, in words; empty = nothing seen
	Cycling    bool              // the lamp goes out and comes back by itself, see Cycling()
	RecentFail int               // lamp failures logged in this fixture in the last 1,000 run-hours
}

// Due is what is known of the hour at which the lamp's own output, dirt apart, crosses the threshold.
// Either Quantiles are given (two or more, rising in both P and Hours) or the
// median with its interval. A HiHours of 0 or +Inf is an open upper end.
// A lamp of status beyond has LoHours only: the claim "not before".
type Due struct {
	Hours     float64 // median; 0 = unknown
	LoHours   float64 // lower end of the interval; 0 = unknown
	HiHours   float64 // upper end; 0 or +Inf = open
	Interval  float64 // probability content of the interval; 0 = 0.8
	Quantiles []Quantile
}

// Quantile says that the crossing happens by Hours with probability P.
type Quantile struct{ P, Hours float64 }

// Weibull is a law of time to failure in run-hours. Eta unknown: no failures
// are counted, and the plan says so. Beta 0 or unknown means 1 (failures that
// do not depend on age).
type Weibull struct {
	Eta  estimate.Estimate // scale, h; its interval widens the spares' prediction
	Beta float64           // shape
}

// Room is what is known of a room beyond its lamps.
type Room struct {
	Name        string
	LastCleaned time.Time // zero = unknown
	FreeWords   string    // repeated in the room's plan, e.g. a note of the grower
}
