package demo

import (
	"time"

	"wane/transform/fleet"
)

// Truth is what the invented site truly did, for tests to hold answers against.
type Truth struct {
	Seed  uint64
	First time.Time // local midnight of the first day
	Days  int       // the record ends at local midnight of day Days
	Lives []Life    // by fixture in register order, then by number
	Gains []Gain    // by sensor in register order
}

// Life is one lamp in one fixture as it truly was.
type Life struct {
	Fixture, Room, Make, Cohort string
	LampType                    fleet.LampType
	N                           int  // 1, 2, 3 … per fixture; counts lamps that nobody logged too
	Logged                      bool // false: the logbook does not know of this lamp
	Law                         Law
	From                        time.Time
	To                          time.Time // zero: still in place
	Failed                      time.Time // zero: did not fail
	StartHours                  float64
	Records                     []Day // one a local day on which the lamp was in place
}

// Day is a lamp life at the end of one local day.
type Day struct {
	Day     int     // 0 = the record's first
	Hours   float64 // run-hours
	Level   float64 // true relative output of the lamp, 1 at 100 run-hours
	Dirt    float64 // share of light that the dirt lets through
	Gear    float64 // factor of a ballast that was replaced
	Gain    float64 // reading / light at the sensor
	Supply  float64 // mean voltage while lit, V; 0 on a dark day
	Ambient float64 // mean temperature while lit, degC; 0 on a dark day
	Dim     float64 // set point, share of full power
	Lit     float64 // hours lit on this day
}

// Gain is a sensor's true gain at the end of each day.
type Gain struct {
	Sensor string
	Daily  []float64
}
