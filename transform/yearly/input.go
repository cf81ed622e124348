package yearly

import "wane/transform/fleet"

// Input is a year as plain facts. Days count from 1970-01-01; hours are
// run-hours of a lamp unless said otherwise.
type Input struct {
	Year        int
	First, Last int32 // the calendar year
	AsOf        int32 // the day of the report: nothing dated later is in the input; see Known for what hours and levels rest on
	Known       int32 // the last day whose readings and recalibrations the hours and levels rest on; AsOf or later
	Record      Span  // first and last day with a reading up to AsOf; empty where there is none

	Level    float64 // of confidence limits, such as 0.95
	Interval float64 // of prediction intervals and forecasts, such as 0.8

	Fixtures []Fixture // in order of name
	Lives    []Life    // in order of fixture and life
	Gear     []GearChange
	Sensors  []Sensor
	Prices   map[fleet.LampType]Prices // where the site states them
	Was      []Forecast                // made at the start of the year
	Now      []Forecast                // made on AsOf
	Gone     []Forecast                // what is known on AsOf of lamps taken out or failed within the year
}

// Span is days, both ends included; empty where Last < First.
type Span struct {
	First int32 `json:"first"`
	Last  int32 `json:"last"`
}

// Days is how many days it holds.
func (s Span) Days() int { return max(0, int(s.Last-s.First)+1) }

// Empty says whether it holds none.
func (s Span) Empty() bool { return s.Last < s.First }

func (s Span) holds(d int32) bool { return d >= s.First && d <= s.Last }

// Fixture is one luminaire over the year.
type Fixture struct {
	ID, Model           string
	LampType            fleet.LampType
	Gear                fleet.Gear
	RoomFirst, RoomLast string  // where it hung at both ends of the year
	HungFirst, HungLast bool    // whether it hung then
	Added, Removed      bool    // within the year
	Moves               int     // within the year
	Starts              int64   // times that the lamp came on within the year
	Output              float64 // umol/m2/s, the year's median at full power; NaN
	Energy              Energy
	LightPerWatt        [2]float64 // umol/m2/s a watt in the year's first and last 28 days; NaN
	RatedW              float64    // 0 = not known
}

// Energy is what one fixture, or the fixtures that share its meter, took.
type Energy struct {
	KWh   float64 // NaN where nothing tells
	Meter string  // the series that tells; fixtures with the same one share it. "" = reckoned from rated watts
	Basis string  // "counter" or "power times lamp-on time"
}

// Life is one lamp.
type Life struct {
	Fixture  string
	N        int
	LampType fleet.LampType
	Model    string // of the fixture
	Cohort   string // "" = not known
	Gear     fleet.Gear
	Room     string // at its end or on AsOf

	Start, End  int32      // first and last day up to AsOf
	Left        int32      // day on which it failed, was relamped or retired; 0 while it works
	Watched     bool       // some of it lies in the record
	Entry, Exit float64    // h: age at which the watch began and ended
	Unlit       float64    // h before Exit that it is reckoned to have burned, and nobody read its light
	Unsure      float64    // h: half of what the evidence of the hours leaves open at Exit
	Years       []LifeYear // hours burned under watch, by calendar year
	Ended       fleet.What // fail, relamp or retire; "" while it works
	Mode        string     // of a failure, in words
	Dark        int32      // days from the failure until a new lamp, retirement or AsOf
	DarkInYear  int32      // of them in the year
	Baseline    float64    // umol/m2/s that is level 1; NaN
	Threshold   float64    // level
	Weeks       []Week     // in order
	Warranty    *Terms     // nil: nothing was promised
	HoursPerDay float64    // over its last watched year
}

// LifeYear is a calendar year of a life.
type LifeYear struct {
	Year  int
	Hours float64
	Days  int // with known hours
	Seen  int // of them with a meter or lamp-on time
}

// Week is the median level of a week at its mean run-hours.
type Week struct {
	Week         int32 // weeks since 1970-01-01
	Hours, Level float64
}

// Day is the week's middle.
func (w Week) Day() int32 { return 7*w.Week + 3 }

// Terms is what a maker promised.
type Terms struct {
	Hours, Level float64
	Description  string
	Path         string // where in site.yaml
}

// GearChange is a ballast or driver that was replaced.
type GearChange struct {
	Fixture string
	Day     int32
}

// Sensor is one instrument.
type Sensor struct {
	ID         string
	Watches    int // fixtures whose light it reads on AsOf
	Since      int32
	Recals     []Recal // in order, up to AsOf
	Factors    int     // changes of its factor or channel table within the year
	References int     // readings by a reference meter within the year
}

// Recal is one recalibration; AsFound is the gain to which the sensor had
// drifted, 0 where it was not recorded.
type Recal struct {
	Day     int32
	AsFound float64
}

// Prices is what a replacement costs; NaN where the site does not say.
type Prices struct {
	Currency                      string
	Lamp, Minutes, Wage, Disposal float64 // per lamp, min per lamp, per hour, per lamp
}

// Forecast is what was said of one lamp.
type Forecast struct {
	Fixture    string
	Life       int
	Status     string
	Threshold  float64
	Hours      float64 // run-hours on that day
	Level      Value
	DueDay     Value
	Lamp       Value // loss to ageing since its first week, a share of the output
	Dirt       Value
	Sensor     Value
	Crossed    Value   // day on which its own level fell under the threshold; no centre where it did not
	YearChance float64 // that its level falls under the threshold within the year ahead, or the rest of it; NaN
	Warranted  Value   // level at the warranted hours, or now if they are not reached; no centre where nothing was promised
}
