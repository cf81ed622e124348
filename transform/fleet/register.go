package fleet

import (
	"sync/atomic"
	"time"
)

// LampType is the kind of light source, by the trade's abbreviations.
type LampType string

// The lamp types that a register may name.
const (
	HPSDE       LampType = "hps-de" // high-pressure sodium, double-ended
	HPSSE       LampType = "hps-se" // high-pressure sodium, single-ended
	CMH         LampType = "cmh"    // ceramic metal halide
	MH          LampType = "mh"     // quartz metal halide
	Fluorescent LampType = "fluorescent"
	LED         LampType = "led"
)

// LampTypes lists them in the order in which tables show them.
var LampTypes = []LampType{HPSDE, HPSSE, CMH, MH, Fluorescent, LED}

// Discharge says whether the lamp has a discharge: such a lamp needs seasoning,
// a run-up after each start, and holds mercury.
func (t LampType) Discharge() bool { return t != LED }

// Gear is what drives the lamp.
type Gear string

// The kinds of gear; the empty Gear is "not known".
const (
	Magnetic   Gear = "magnetic"
	Electronic Gear = "electronic"
	Driver     Gear = "driver"
)

// Gears lists them.
var Gears = []Gear{Magnetic, Electronic, Driver}

// Quantity is what a series measures.
type Quantity string

// The quantities that wane knows, each in its unit.
const (
	PPFD     Quantity = "ppfd"       // umol/m2/s
	RunHours Quantity = "run_hours"  // h, a counter
	SupplyV  Quantity = "supply_v"   // V
	CurrentA Quantity = "current_a"  // A
	PowerW   Quantity = "power_w"    // W
	Energy   Quantity = "energy_kwh" // kWh, a counter
	AmbientC Quantity = "ambient_c"  // degrees Celsius
	RH       Quantity = "rh_pct"     // per cent
	DimPct   Quantity = "dim_pct"    // per cent of full power
)

// Quantities lists them with the unit into which a factor must turn a reading.
var Quantities = []struct {
	Name Quantity
	Unit string
}{
	{PPFD, "umol/m2/s"}, {RunHours, "h"}, {SupplyV, "V"}, {CurrentA, "A"}, {PowerW, "W"},
	{Energy, "kWh"}, {AmbientC, "degC"}, {RH, "%"}, {DimPct, "%"},
}

// Fixture is a row of register/fixtures.csv: the luminaire that hangs at a
// position, as installed.
type Fixture struct {
	ID, Room, Bay, Circuit string
	LampType               LampType
	Cohort, Model          string
	RatedW, RatedV         float64 // 0 = not known
	Gear                   Gear
	Installed              time.Time // zero = before the record began
	HoursAtInstall         float64   // run-hours of the first lamp when it was installed
	Spot                   Spot
	Line                   int // in the file, for messages
}

// Spot is where in its room a fixture hangs: metres from a corner.
type Spot struct {
	X, Y  float64
	Known bool
}

// SensorPeriod is a row of register/sensors.csv: one series and how it reads
// over one period.
type SensorPeriod struct {
	Sensor, Channel string
	Quantity        Quantity
	Unit            string
	Watches         string  // a fixture, bay, circuit or room
	Factor          float64 // reading x Factor = value in the quantity's unit
	From, To        time.Time
	Line            int
}

// What is a kind of logbook entry.
type What string

// The kinds of entry; see design of the site folder for what each value means.
const (
	Install     What = "install"
	Retire      What = "retire"
	Move        What = "move"
	Relamp      What = "relamp"
	Fail        What = "fail"
	Clean       What = "clean"
	Recalibrate What = "recalibrate"
	ReferenceIs What = "reference"
	Dim         What = "dim"
	Regear      What = "regear"
	Outage      What = "outage"
	HoursRead   What = "run_hours" // the face of an hour meter, or of a diary, read by hand
	Note        What = "note"
)

// Whats lists them.
var Whats = []What{Install, Retire, Move, Relamp, Fail, Clean, Recalibrate, ReferenceIs, Dim, Regear, Outage, HoursRead,
	Note}

// Scope is what an entry speaks of.
type Scope string

// The scopes.
const (
	OfSite    Scope = "site"
	OfRoom    Scope = "room"
	OfBay     Scope = "bay"
	OfCircuit Scope = "circuit"
	OfFixture Scope = "fixture"
	OfSensor  Scope = "sensor"
)

// Scopes lists them.
var Scopes = []Scope{OfSite, OfRoom, OfBay, OfCircuit, OfFixture, OfSensor}

// Entry is a line of register/logbook.csv. Number holds the value where it is
// one (gain of a recalibration, level or PPFD of a reference, per cent of a dim
// set point), Until the end of an outage.
type Entry struct {
	At     time.Time // a date stands for the start of that day at the site
	What   What
	Scope  Scope
	ID     string
	Value  string
	Number float64
	Until  time.Time
	Note   string
	Line   int
}

// Register is the three tables, and what was decided about readings that
// contradict each other. Logbook is sorted by At, ties in file order.
//
// Any number of goroutines may ask it at once while nobody changes it. Whoever
// changes rows in place after a question was asked calls Sort; rows added and
// tables replaced are noticed.
type Register struct {
	Fixtures  []Fixture
	Sensors   []SensorPeriod
	Logbook   []Entry
	Decisions []Decision

	made atomic.Pointer[index] // nil until something is asked
}
