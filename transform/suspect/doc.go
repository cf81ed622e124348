// Package suspect looks for series that say something their own past, their
// neighbours or the room's programme speak against: what a logger, its clock or
// its setting got wrong without any single reading being impossible.
//
//  1. Range: readings outside what the quantity can be (ranges.go).
//  2. Stuck: one printed value for hours in which the series never stood still
//     before (stuck.go).
//  3. Clock: the lamp's switching, seen by its light, against the room's
//     programme: a jump, an export shifted by one hour, a clock that is off or
//     drifts (edges.go, clock.go). Where all loggers of a room agree against the
//     programme, the programme is asked about.
//  4. Unit: the level against the series' own past: a ratio near that of lux or
//     foot-candles, or a decimal that slipped (unit.go).
//  5. Swap: two channels of one sensor that exchanged their levels (swap.go).
//  6. Clipped: light that piles up at the highest value a head prints (clipped.go).
//
// Every finding says which series, from when to when, what, how sure, and what
// to do. Nothing is converted or left out because of one: a person decides.
//
// Everything is a function of the arguments. The findings are in order of
// sensor, channel and time.
package suspect

import (
	"cmp"
	"fmt"
	"slices"
	"sync"
	"time"

	"wane/transform/daily"
	"wane/transform/fleet"
)

// Kind is what a finding is about.
type Kind string

// The kinds.
const (
	OutOfRange Kind = "out of range"
	Stuck      Kind = "stuck"
	ClockJump  Kind = "clock jump"
	OneHour    Kind = "shifted by one hour"
	ClockOff   Kind = "clock off"
	ClockDrift Kind = "clock drift"
	Programme  Kind = "programme"
	OtherUnit  Kind = "other unit"
	Decimal    Kind = "slipped decimal"
	Swapped    Kind = "channels swapped"
	Clipped    Kind = "at its upper limit"
)

// Sure is how sure a finding is.
type Sure string

// The degrees.
const (
	Certain  Sure = "certain"  // nothing else can be
	Likely   Sure = "likely"   // look at it first
	Possible Sure = "possible" // something harmless explains it as well
)

// Finding is one thing to look at.
type Finding struct {
	Sensor  string
	Channel string // "" where the whole sensor is meant
	Kind    Kind
	From    time.Time
	To      time.Time
	What    string
	Sure    Sure
	Do      string
}

// Channel is one series: a stretch of readings in the quantity's unit, and the
// medians of the days before it.
type Channel struct {
	Name     string
	Quantity fleet.Quantity
	Room     string // "" where it watches none
	Daylight bool   // the sun reaches it: its edges are not the lamp's
	Track    daily.Track
	Past     []Level // in day order, of days before the first of Track
	// Touched are the days on which the logbook says that something was done to
	// what the series watches, so that a step needs no other reason.
	Touched []int32
}

// Level is the usual burning value of one day (of all the day for what does not
// burn).
type Level struct {
	Day   int32
	Value float64
}

// Sensor is one instrument: one clock, and any number of channels.
type Sensor struct {
	Name     string
	Channels []Channel
}

// Room is a room's lighting programme by the clock on its wall; OnMinute is
// negative where none is declared.
type Room struct {
	OnMinute float64 // minutes after midnight
	Hours    float64 // photoperiod, h
}

// Input is what is looked at: all sensors over the same days.
type Input struct {
	Days    []daily.Bound // in order
	Sensors []Sensor
	Rooms   map[string]Room
}

// Settings are the limits; all are common practice, no source, except as said.
type Settings struct {
	// StuckHours is how long a series may print one value.
	StuckHours float64
	// ClockMinutes is how far a clock may be from the programme; a cadence where
	// that is more.
	ClockMinutes float64
	// LampFloor is the light, umol/m2/s, under which no lamp burns.
	LampFloor float64
	// SwapApart is how far apart, as a share, two channels must be for their
	// exchange to show.
	SwapApart float64
}

// Defaults are the settings of a site that declares none.
func Defaults() Settings {
	return Settings{StuckHours: 12, ClockMinutes: 10, LampFloor: 5, SwapApart: 0.06}
}

// Find looks at everything at once.
func Find(in Input, set Settings) []Finding {
	s := NewScan(in.Days, in.Rooms, set)
	for i := range in.Sensors {
		s.Add(&in.Sensors[i])
	}
	return s.Findings()
}

// Scan looks at one sensor at a time, so that the readings of few only need be
// in memory.
type Scan struct {
	in  Input
	set Settings

	mu     sync.Mutex
	found  []Finding
	clocks []clock
}

// NewScan begins a scan over the days, which are in order.
func NewScan(days []daily.Bound, rooms map[string]Room, set Settings) *Scan {
	return &Scan{in: Input{Days: days, Rooms: rooms}, set: set}
}

// Add looks at a sensor, of which nothing is kept but what its clock says. It may
// be called from many goroutines, once a sensor; their order does not matter.
func (s *Scan) Add(sensor *Sensor) {
	var found []Finding
	series := make([]series, len(sensor.Channels))
	for k := range sensor.Channels {
		c := &series[k]
		c.prepare(sensor, &sensor.Channels[k], s.in.Days, s.set)
		found = append(found, outOfRange(c)...)
		found = append(found, stuck(c, s.set)...)
		found = append(found, otherUnit(c, s.in.Days)...)
		found = append(found, clipped(c)...)
	}
	found = append(found, swapped(series, s.in.Days, s.set)...)
	k, tells := clockOf(series, s.in, s.set)
	s.mu.Lock()
	defer s.mu.Unlock()
	s.found = append(s.found, found...)
	if tells {
		s.clocks = append(s.clocks, k)
	}
}

// Findings compares the clocks of each room and gives all that was found.
func (s *Scan) Findings() []Finding {
	s.mu.Lock()
	defer s.mu.Unlock()
	slices.SortFunc(s.clocks, func(a, b clock) int { return cmp.Compare(a.sensor, b.sensor) })
	out := append(slices.Clone(s.found), judge(s.clocks, s.in)...)
	slices.SortStableFunc(out, func(a, b Finding) int {
		return cmp.Or(cmp.Compare(a.Sensor, b.Sensor), cmp.Compare(a.Channel, b.Channel), a.From.Compare(b.From),
			cmp.Compare(a.Kind, b.Kind))
	})
	return out
}

// Name is the series, or the sensor as a whole.
func (f *Finding) Name() string {
	if f.Channel == "" {
		return f.Sensor
	}
	return f.Sensor + "/" + f.Channel
}

// Line says the finding in one line, with its days by the calendar of loc.
func (f *Finding) Line(loc *time.Location) string {
	from, to := f.Dates(loc)
	return fmt.Sprintf("%s, %s, %s to %s (%s): %s; %s", f.Name(), f.Kind, from, to, f.Sure, f.What, f.Do)
}

// Dates gives the first and last day by the calendar of loc.
func (f *Finding) Dates(loc *time.Location) (from, to string) {
	return f.From.In(loc).Format(time.DateOnly), f.To.In(loc).Add(-time.Microsecond).Format(time.DateOnly)
}

func moment(micros int64) time.Time { return time.UnixMicro(micros).UTC() }
