package forecast

import (
	"fmt"
	"math"
	"sort"
)

// Basis strings of the default table.
const (
	basisPractice  = "assumption, common practice, no source"
	basisReasoned  = "assumption reasoned from like lamp types, no source"
	basisSimulated = "chosen on simulated fleets"
)

// Defaults is the declared table of what is assumed until a site's own lamps
// say otherwise. Means and spreads are of Gaussian priors. A site overrides it
// field by field: take DefaultTable, decode the site's values over it, and
// Validate.
type Defaults struct {
	Classes map[string]ClassDefaults `yaml:"lamp_types"`
	Supply  map[string]Prior         `yaml:"supply"` // by gear: % output per % voltage
	Dirt    DirtDefaults             `yaml:"dirt"`
	Sensor  SensorDefaults           `yaml:"sensor"`
	Dim     Prior                    `yaml:"dim"` // ln output per unit of (1 - set point), after division by the set point
	Burn    BurnDefaults             `yaml:"burning"`
	Limits  Limits                   `yaml:"limits"`
}

// Prior is one assumed mean with its spread and where they come from.
type Prior struct {
	Mean  float64 `yaml:"mean"`
	SD    float64 `yaml:"sd"`
	Basis string  `yaml:"basis"`
}

// ClassDefaults is what is assumed of one lamp type. With x = hours/10^4 a
// lamp's ln output relative to 100 h is
//
//	-S (x - x0) - Q (x ln x - x0 ln x0) + E (exp(-100/Tau) - exp(-hours/Tau)),  x0 = 0.01
//
// S is the loss in ln output per 10^4 h, Q bends it (S times the power of
// hours above 1), E is the early rise (positive) or drop.
type ClassDefaults struct {
	Slope     Prior   `yaml:"slope"`        // S of the lamp type, ln per 10^4 h
	SlopeLot  float64 `yaml:"slope_lot"`    // spread of lots, as a fraction of Slope.Mean
	SlopeLamp float64 `yaml:"slope_lamp"`   // spread of lamps in a lot, same
	Shape     Prior   `yaml:"shape"`        // Q of the lamp type, as a fraction of Slope.Mean
	ShapeLot  float64 `yaml:"shape_lot"`    // fraction of Slope.Mean
	ShapeLamp float64 `yaml:"shape_lamp"`   // fraction of Slope.Mean
	Early     Prior   `yaml:"early"`        // E of the lamp type, ln
	EarlyLot  float64 `yaml:"early_lot"`    // ln
	EarlyLamp float64 `yaml:"early_lamp"`   // ln
	Tau       float64 `yaml:"early_hours"`  // h
	Wander    float64 `yaml:"rate_wander"`  // spread of a lamp's ageing rate about its mean, as a fraction of its slope
	WanderMem float64 `yaml:"wander_hours"` // memory of that spread, h
	Ambient   Prior   `yaml:"ambient"`      // ln output per kelvin above 25 C
	Basis     string  `yaml:"basis"`
}

// DirtDefaults: dirt takes A (1 - exp(-days/Days)) of ln output after a
// complete cleaning.
type DirtDefaults struct {
	Amplitude Prior   `yaml:"amplitude"` // A of a room, ln
	Bay       float64 `yaml:"bay"`       // spread of bays in a room, as a fraction of A
	Fixture   float64 `yaml:"fixture"`   // spread of fixtures in a bay, as a fraction of A
	Days      float64 `yaml:"days"`      // time constant of soiling
	LeftAll   float64 `yaml:"left_all"`  // share left after cleaning all
	LeftPart  float64 `yaml:"left_part"` // share left after cleaning lamp or reflector only
	LeftNew   float64 `yaml:"left_relamp"`
	DaysSD    float64 `yaml:"days_sd"` // spread of bays' time constants, in ln
	LeftSD    float64 `yaml:"left_sd"` // spread of the share left by cleaning all
	Basis     string  `yaml:"basis"`
}

// SensorDefaults: ln of a sensor's gain between recalibrations is an offset
// plus a rate times years, about which a slow wander goes.
type SensorDefaults struct {
	Drift        Prior   `yaml:"drift"`          // mean rate of the site's sensors, ln per year
	Sensor       float64 `yaml:"sensor"`         // spread of sensors about it, per year
	Interval     float64 `yaml:"interval"`       // spread of one sensor's rate from recalibration to recalibration, per year
	Offset       float64 `yaml:"offset"`         // what a recalibration leaves, ln
	Another      float64 `yaml:"another"`        // spread of like sensors about each other, ln: what a new one may read beside the old
	Place        float64 `yaml:"place"`          // spread of what a sensor sees of a fixture hung elsewhere, ln
	Gear         float64 `yaml:"gear"`           // of its light with another ballast or driver, ln
	AsFound      float64 `yaml:"as_found"`       // error of a noted as-found gain, ln
	Wiped        float64 `yaml:"wiped"`          // size of the step when a sensor is wiped, ln
	Noise        float64 `yaml:"noise"`          // of one lamp's weekly bin of five days, ln, before its own is known
	Wander       float64 `yaml:"wander"`         // spread of the wander, ln
	WanderMem    float64 `yaml:"wander_days"`    // memory of the wander, days
	Season       float64 `yaml:"season"`         // yearly swing left where supply and ambient are logged, ln
	SeasonNoVolt float64 `yaml:"season_no_volt"` // the same for magnetic gear with no voltage series, ln
	// TrendNoVolt and TrendAmbient are what a year may change where nobody reads it: the
	// light of magnetic gear, ln, by its supply, and the air about lamps, K.
	TrendNoVolt  float64 `yaml:"trend_no_volt"`
	TrendAmbient float64 `yaml:"trend_ambient"`
	// SeasonAmbient is the yearly swing of the air about lamps where none is
	// logged, K: with the lamp type's coefficient it adds to the other two.
	SeasonAmbient float64 `yaml:"season_ambient"`
	Basis         string  `yaml:"basis"`
}

// BurnDefaults: how far a room's burning habit goes on as it was.
type BurnDefaults struct {
	RelSD float64 `yaml:"year_to_year"` // relative spread of yearly hours
	Basis string  `yaml:"basis"`
}

// Limits is where a forecast stops. They are choices, declared as such.
type Limits struct {
	Ratio      float64 `yaml:"ratio"`       // widest upper/lower of an interval at 80 % that is still a forecast
	MinHours   float64 `yaml:"min_hours"`   // no answer before these run-hours
	SlopeShare float64 `yaml:"slope_share"` // posterior over prior spread of the slope above which a wide interval is "too early", not "beyond"
	MaxReach   float64 `yaml:"max_reach"`   // due hours are claimed up to this multiple of the most hours seen of the lamp type
	Drift      float64 `yaml:"drift"`       // change of due hours per 1 %/year of unseen drift above which ageing and drift are inseparable
	DriftOwn   float64 `yaml:"drift_own"`   // the same where no as-found gain and no reference reading ties this sensor's drift down
	DriftFree  float64 `yaml:"drift_free"`  // the same where none ties any drift of the site down
	DriftSay   float64 `yaml:"drift_say"`   // the same, above which it is said beside the answer
	Dirt       float64 `yaml:"dirt"`        // half the log ratio of the due hours with twice the usual dirt and with none, above which dirt decides
	DirtOdd    float64 `yaml:"dirt_odd"`    // the same where the readings contradict what is assumed of the lamp type
	BoundScale float64 `yaml:"bound_scale"` // widening of a lower bound that stands alone
	Basis      string  `yaml:"basis"`
}

// DefaultTable gives the built-in table.
func DefaultTable() Defaults {
	p := func(m, sd float64) Prior { return Prior{Mean: m, SD: sd, Basis: basisPractice} }
	class := func(slope, slopeSD, lot, shape, shapeSD, shapeLot, early, earlySD, earlyLot, earlyLamp, tau float64,
		amb Prior, basis string) ClassDefaults {
		return ClassDefaults{
			Slope: Prior{slope, slopeSD, basis}, SlopeLot: lot, SlopeLamp: .17,
			Shape: Prior{shape, shapeSD, basis}, ShapeLot: shapeLot, ShapeLamp: .05,
			Early: Prior{early, earlySD, basis}, EarlyLot: earlyLot, EarlyLamp: earlyLamp, Tau: tau,
			Wander: .20, WanderMem: 1500, Ambient: amb, Basis: basis,
		}
	}
	hid, led := p(0, .0003), p(-.003, .0007)
	return Defaults{
		Classes: map[string]ClassDefaults{
			HPSDE: class(.085, .035, .20, .10, .20, .15, -.006, .006, .005, .002, 2000, hid, basisPractice),
			HPSSE: class(.125, .050, .20, .10, .20, .15, -.010, .008, .006, .003, 1500, hid, basisPractice),
			CMH:   class(.120, .050, .20, -.05, .20, .12, -.030, .012, .010, .008, 700, hid, basisPractice),
			// Quartz metal halide loses faster than ceramic, most of it early.
			MH: class(.220, .080, .20, -.08, .20, .12, -.050, .020, .012, .010, 700, hid, basisReasoned),
			// Fluorescent tubes lose some per cent in their first thousand
			// hours, little afterwards; their output follows the air about them.
			Fluorescent: class(.060, .030, .25, -.10, .25, .15, -.030, .012, .008, .005, 800, p(0, .002), basisReasoned),
			LED:         class(.028, .012, .35, .02, .12, .07, .006, .008, .010, .003, 400, led, basisPractice),
		},
		Supply: map[string]Prior{
			Magnetic:    p(1.5, .35),
			Electronic:  p(.05, .04),
			Driver:      p(0, .03),
			UnknownGear: p(.5, .7),
		},
		Dirt: DirtDefaults{Amplitude: p(.04, .03), Bay: .25, Fixture: .25, Days: 220,
			LeftAll: .18, LeftPart: .5, LeftNew: .3, DaysSD: .35, LeftSD: .1, Basis: basisPractice},
		Sensor: SensorDefaults{Drift: p(-.0125, .006), Sensor: .005, Interval: .003, Offset: .004, Another: .04, Place: .15,
			Gear:    .05,
			AsFound: .006, Wiped: .02, Noise: .0065, Wander: .004, WanderMem: 90, Season: .003, SeasonNoVolt: .012, TrendNoVolt: .004, TrendAmbient: .4,
			SeasonAmbient: 4, Basis: basisPractice},
		Dim:  p(0, .06),
		Burn: BurnDefaults{RelSD: .10, Basis: basisPractice},
		Limits: Limits{Ratio: 3.5, MinHours: 1000, SlopeShare: .7, MaxReach: 8, Drift: .20, DriftOwn: .10, DriftFree: .01,
			DriftSay: .02, Dirt: .18, DirtOdd: .12,
			BoundScale: 1.6, Basis: basisSimulated},
	}
}

// Validate says which value of the table cannot be used, and why.
func (d Defaults) Validate() error {
	if len(d.Classes) == 0 {
		return fmt.Errorf("lamp_types: none declared")
	}
	names := make([]string, 0, len(d.Classes))
	for n := range d.Classes {
		names = append(names, n)
	}
	sort.Strings(names)
	for _, n := range names {
		if err := d.Classes[n].validate("lamp_types." + n); err != nil {
			return err
		}
	}
	for _, g := range []string{Magnetic, Electronic, Driver, UnknownGear} {
		p, ok := d.Supply[g]
		if !ok {
			return fmt.Errorf("supply.%s: missing: every gear needs a coefficient", g)
		}
		if err := p.validate("supply."+g, -5, 10); err != nil {
			return err
		}
	}
	s := d.Sensor
	return firstError(
		d.Dirt.Amplitude.validate("dirt.amplitude", 0, 1),
		d.Dim.validate("dim", -1, 1),
		s.Drift.validate("sensor.drift", -.2, .2),
		positive("dirt.bay", d.Dirt.Bay), positive("dirt.fixture", d.Dirt.Fixture), positive("dirt.days", d.Dirt.Days),
		positive("dirt.days_sd", d.Dirt.DaysSD), positive("dirt.left_sd", d.Dirt.LeftSD),
		above("dirt.left_all", d.Dirt.LeftAll, 0), share("dirt.left_all", d.Dirt.LeftAll),
		share("dirt.left_part", d.Dirt.LeftPart), share("dirt.left_relamp", d.Dirt.LeftNew),
		positive("sensor.sensor", s.Sensor), positive("sensor.interval", s.Interval), positive("sensor.offset", s.Offset),
		positive("sensor.another", s.Another), positive("sensor.place", s.Place), positive("sensor.gear", s.Gear),
		positive("sensor.as_found", s.AsFound), positive("sensor.wiped", s.Wiped), positive("sensor.wander", s.Wander),
		positive("sensor.noise", s.Noise), positive("sensor.wander_days", s.WanderMem), positive("sensor.season", s.Season),
		positive("sensor.season_no_volt", s.SeasonNoVolt), positive("sensor.trend_no_volt", s.TrendNoVolt),
		positive("sensor.trend_ambient", s.TrendAmbient), positive("sensor.season_ambient", s.SeasonAmbient),
		positive("burning.year_to_year", d.Burn.RelSD),
		above("limits.ratio", d.Limits.Ratio, 1), above("limits.min_hours", d.Limits.MinHours, 0),
		above("limits.slope_share", d.Limits.SlopeShare, 0), above("limits.max_reach", d.Limits.MaxReach, 1),
		above("limits.drift", d.Limits.Drift, 0), above("limits.drift_own", d.Limits.DriftOwn, 0),
		above("limits.drift_free", d.Limits.DriftFree, 0), above("limits.drift_say", d.Limits.DriftSay, 0),
		above("limits.dirt", d.Limits.Dirt, 0), above("limits.dirt_odd", d.Limits.DirtOdd, 0),
		above("limits.bound_scale", d.Limits.BoundScale, 0),
	)
}

func (c ClassDefaults) validate(path string) error {
	return firstError(
		c.Slope.validate(path+".slope", 1e-4, 5),
		c.Shape.validate(path+".shape", -3, 3),
		c.Early.validate(path+".early", -1, 1),
		c.Ambient.validate(path+".ambient", -.1, .1),
		positive(path+".slope_lot", c.SlopeLot), positive(path+".slope_lamp", c.SlopeLamp),
		positive(path+".shape_lot", c.ShapeLot), positive(path+".shape_lamp", c.ShapeLamp),
		positive(path+".early_lot", c.EarlyLot), positive(path+".early_lamp", c.EarlyLamp),
		above(path+".early_hours", c.Tau, 0), positive(path+".rate_wander", c.Wander),
		above(path+".wander_hours", c.WanderMem, 0),
	)
}

func (p Prior) validate(path string, lo, hi float64) error {
	if !(p.Mean >= lo && p.Mean <= hi) {
		return fmt.Errorf("%s.mean: %v lies outside %v to %v", path, p.Mean, lo, hi)
	}
	return positive(path+".sd", p.SD)
}

func positive(path string, x float64) error { return above(path, x, 0) }

func above(path string, x, lo float64) error {
	if !(x > lo) || math.IsInf(x, 0) {
		return fmt.Errorf("%s: %v must be greater than %v", path, x, lo)
	}
	return nil
}

func share(path string, x float64) error {
	if !(x >= 0 && x <= 1) {
		return fmt.Errorf("%s: %v must lie between 0 and 1", path, x)
	}
	return nil
}

func firstError(errs ...error) error {
	for _, e := range errs {
		if e != nil {
			return e
		}
	}
	return nil
}

// QuietDefaults is DefaultTable with dirt, drift, wander, voltage,
// temperature and set point held at nil: for readings of a laboratory, or
// readings from which all that has been taken out.
func QuietDefaults() Defaults {
	d := DefaultTable()
	nil0 := Prior{Mean: 0, SD: 1e-6, Basis: "laboratory readings"}
	for n, c := range d.Classes {
		c.Ambient = nil0
		d.Classes[n] = c
	}
	for g := range d.Supply {
		d.Supply[g] = nil0
	}
	d.Dirt.Amplitude, d.Dim, d.Sensor.Drift = nil0, nil0, nil0
	s := &d.Sensor
	s.Sensor, s.Interval, s.Offset, s.Wander, s.Season, s.SeasonNoVolt = 1e-6, 1e-6, 1e-6, 1e-6, 1e-6, 1e-6
	s.TrendNoVolt, s.TrendAmbient = 1e-6, 1e-6
	return d
}
