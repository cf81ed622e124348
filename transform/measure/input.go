package measure

import (
	"time"

	"wane/transform/forecast"
	"wane/transform/plan"
)

// Input is all that is weighed.
type Input struct {
	AsOf       time.Time // the last day of the record
	Fit        *forecast.Fit
	Posteriors []forecast.Posterior // of the fit's lamps in service
	Answers    []forecast.Answer    // as due gives them, one for each of Posteriors
	Asking     forecast.Asking      // as due asked
	Lamps      []Lamp               // one for each of Posteriors
	Surveyed   int                  // lamps known by canopy surveys alone, which are not weighed
	Sensors    []Sensor
	Settings   plan.Settings
	Visits     []Visit // that are planned already

	opened *forecast.Joint
}

// joint opens the fit, once.
func (in *Input) joint() *forecast.Joint {
	if in.opened == nil {
		in.opened = in.Fit.Joint()
	}
	return in.opened
}

// Lamp is where the lamp of a posterior hangs and what hangs on its date.
type Lamp struct {
	Fixture, Room, Bay, Circuit string
	LampType                    string
	Sensor                      int // index into Input.Sensors, -1: none
	Group                       int // index into the fit's groups: what watches it last
	BurnPerDay                  float64
	Worth                       plan.Worth
	Down                        time.Time // day on which it is planned to come down; zero: none
	// Survey is the noise of a canopy survey of it, ln; 0: none tells its level, since the
	// first under this lamp is wanting or was not near its baseline.
	Survey float64
}

// Sensor is one instrument. What it watches in each bay is a group of the fit.
type Sensor struct {
	Name    string
	Groups  []int
	Rooms   []string // sorted
	Fixture string   // one that stands under it, to hold a reference meter at
}

// Visit is a day on which somebody is in a room anyway.
type Visit struct {
	Room string
	Day  time.Time
}

// joinDays is how far ahead a planned visit may lie for a measurement to wait for it.
const joinDays = 60

// joined gives the first planned visit to a room that a measurement can go with.
func (in *Input) joined(room string) (time.Time, bool) {
	var first time.Time
	for _, v := range in.Visits {
		if v.Room == room && !v.Day.Before(in.AsOf) && v.Day.Before(in.AsOf.AddDate(0, 0, joinDays)) && (first.IsZero() ||
			v.Day.Before(first)) {
			first = v.Day
		}
	}
	return first, !first.IsZero()
}
