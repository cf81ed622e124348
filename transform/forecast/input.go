package forecast

import (
	"fmt"
	"math"
)

// Lamp types that the declared defaults know. A site may declare others in
// its Defaults.
const (
	HPSDE       = "hps-de"
	HPSSE       = "hps-se"
	CMH         = "cmh"
	MH          = "mh"
	Fluorescent = "fluorescent"
	LED         = "led"
)

// Gear of a fixture. An empty or other value is taken as unknown.
const (
	Magnetic    = "magnetic"
	Electronic  = "electronic"
	Driver      = "driver"
	UnknownGear = "unknown"
)

// Input is all a fit needs. Days are counted from 1970-01-01 UTC.
type Input struct {
	AsOf     int // last day that may be used
	Lamps    []Lamp
	Groups   []Group
	Clean    []string // rooms declared to stay clean
	Defaults Defaults // zero value: DefaultTable()
	Interval float64  // probability content of every interval; 0 means 0.8
	Found    *Found   // what nothing logged explains, as CensusOf gave it; nil: the fit seeks it
}

// Lamp is one lamp life: in service, or ended. Ended lives get no answer but
// teach the fleet what their lot and type do later in life.
type Lamp struct {
	Fixture string
	Life    int
	Class   string // lamp type
	Gear    string
	Lot     string // cohort; empty: a cohort of one
	Make    string // model of the fixture; empty: not known. A site alone does not ask for it, see Pool
	Room    string
	// Group is what watches it last, an index into Input.Groups; Watched says what did
	// when, where there was more than one.
	Group   int
	Watched []Watch
	// Offsets are the days from which its light stood otherwise to what is read of it.
	Offsets []Offset

	Hung       int     // day the fixture was hung clean; its dirt starts here
	StartDay   int     // day this lamp life began
	StartHours float64 // run-hours the lamp had on StartDay
	HoursNow   float64 // run-hours at AsOf, or at the end of an ended life
	Threshold  float64 // level, 0 < Threshold < 1
	Burn       Burn

	// Cleanings of the fixture since Hung, relamps of it included (Part
	// CleanRelamp, also the one that began this life), in order of day.
	Cleanings []Clean
	Bins      []Bin // in order of day
	// Corrected is by what its bins were corrected day by day.
	Corrected Corrected

	// Sunlit: daylight that nobody declared is in its readings. It comes without blocks.
	Sunlit bool
	Dark   bool // failed, still hanging
	Ended  bool // removed; HoursNow and EndDay are those of the end
	EndDay int
}

// Watch says from which day on a group watched a lamp. Weeks in which that
// changed are not fitted.
type Watch struct {
	From  int
	Group int // index into Input.Groups
}

// Why a lamp's light stands otherwise to what is read of it.
const (
	OffsetPlace = "moved"          // the fixture hangs elsewhere, or its sensor does
	OffsetGear  = "gear replaced"  // another ballast or driver
	OffsetStep  = "step not known" // the readings stepped and nothing logged says why
)

// Offset is a day from which a fixture's light stands otherwise to what is read
// of it, by an unknown amount. The day's week is not fitted.
type Offset struct {
	Day int
	Why string
}

// Corrected is the coefficients by which days were brought to the reference
// supply and temperature before a week's median was taken: % of output per % of
// voltage, ln of output per kelvin above 25 C; 0 where they were not.
type Corrected struct{ Supply, Ambient float64 }

// Burn is the burning habit of the lamp's room.
type Burn struct {
	PerDay float64     // h/day, mean of the last 365 days (or of Days, if fewer)
	Days   int         // days PerDay rests on
	RelSD  float64     // relative spread of yearly means; 0: the default of Defaults.Burn
	Month  [12]float64 // h/day by calendar month, January first; all zero: PerDay all year
}

// What a cleaning touched.
const (
	CleanAll       = "all"
	CleanReflector = "reflector"
	CleanLamp      = "lamp"
	CleanRelamp    = "relamp" // the cleaning that comes with a new lamp
)

// Clean is one logged cleaning of a fixture. Cleaning of a sensor belongs in
// Group.Recals with SensorClean set.
type Clean struct {
	Day  int
	Part string // CleanAll when empty
}

// Bin stands for the daily values of seven days: a row of table weeks, which
// queries/weeks.sql makes.
type Bin struct {
	Day        int     // centre of the week
	N          int     // daily values in it
	Hours      float64 // run-hours of this lamp life, mean
	LnOut      float64 // median of ln(output); the registered factor applied, corrected as Lamp.Corrected says and else not; any unit, the same all through the life
	Supply     float64 // ln(supply voltage / reference), mean; 0 where HasSupply is false
	Ambient    float64 // degrees Celsius, mean
	Dim        float64 // set point, 0 < Dim <= 1, mean; output is expected to have been divided by it already
	HasSupply  bool
	HasAmbient bool
}

// Group is the fixtures under one sensor in one bay. They share its gain,
// a slow wander and the dirt of the bay.
type Group struct {
	ID         string
	Start      int // day the sensor was last known true (installed or calibrated) before its first reading
	Recals     []Recal
	References []Reference
}

// Recal is a logged recalibration: readings are true again from Day.
type Recal struct {
	Day     int
	AsFound float64 // gain found (true = reading / AsFound); 0: not noted
	// SensorClean marks a sensor that was wiped, not recalibrated: its gain
	// steps by an unknown amount and its drift goes on.
	SensorClean bool
	shaken      bool // a step that the lamps under it share, not logged
}

// Reference is an independent check against a reference meter.
type Reference struct {
	Day  int
	Lamp int     // index into Input.Lamps whose true level was read; -1: the sensor's gain was read
	Ln   float64 // ln of the true level (lamp), or ln of the sensor's gain, reading/true (sensor)
	SD   float64 // of Ln; 0 means 0.01
}

// defaults are the declared ones, or the built-in table where there are none.
func (in *Input) defaults() Defaults {
	if in.Defaults.Classes == nil {
		return DefaultTable()
	}
	return in.Defaults
}

// Validate reports the first thing in the input that no fit can use.
func (in *Input) Validate() error {
	if p := in.Interval; p != 0 && !(p > 0 && p < 1) {
		return fmt.Errorf("interval %v: must lie between 0 and 1", p)
	}
	d := in.defaults()
	if err := d.Validate(); err != nil {
		return err
	}
	for g := range in.Groups {
		for _, r := range in.Groups[g].Recals {
			if !(r.AsFound >= 0 && r.AsFound < 10) {
				return fmt.Errorf("group %s: as-found gain %v on day %d: must be near 1, or 0 where none was noted",
					in.Groups[g].ID, r.AsFound, r.Day)
			}
		}
		for _, r := range in.Groups[g].References {
			if r.Lamp < -1 || r.Lamp >= len(in.Lamps) || !finite(r.Ln) || !(r.SD >= 0) {
				return fmt.Errorf("group %s: reference reading on day %d: lamp %d, ln %v, sd %v cannot be used", in.Groups[g].ID,
					r.Day, r.Lamp, r.Ln, r.SD)
			}
		}
	}
	for i := range in.Lamps {
		if err := in.Lamps[i].validate(len(in.Groups), d); err != nil {
			return fmt.Errorf("fixture %s, lamp life %d: %w", in.Lamps[i].Fixture, in.Lamps[i].Life, err)
		}
	}
	return nil
}

func (l *Lamp) validate(groups int, d Defaults) error {
	if _, ok := d.Classes[l.Class]; !ok {
		return fmt.Errorf("lamp type %q has no defaults: declare them in site.yaml", l.Class)
	}
	if l.Group < 0 || l.Group >= groups {
		return fmt.Errorf("group %d does not exist (%d groups)", l.Group, groups)
	}
	if !(l.Threshold > 0 && l.Threshold < 1) {
		return fmt.Errorf("threshold %v: must lie between 0 and 1", l.Threshold)
	}
	if !finite(l.HoursNow) || l.HoursNow < 0 {
		return fmt.Errorf("run-hours %v: must be 0 or more", l.HoursNow)
	}
	for _, w := range l.Watched {
		if w.Group < 0 || w.Group >= groups {
			return fmt.Errorf("watched by group %d from day %d: does not exist (%d groups)", w.Group, w.From, groups)
		}
	}
	for k := range l.Bins {
		b := &l.Bins[k]
		if !finite(b.LnOut) || !finite(b.Hours) || !finite(b.Supply) || !finite(b.Ambient) || !(b.Dim > 0) {
			return fmt.Errorf("bin of day %d holds a number that is not finite, or no set point", b.Day)
		}
		if k > 0 && b.Day < l.Bins[k-1].Day {
			return fmt.Errorf("bins out of order at day %d", b.Day)
		}
	}
	return nil
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
