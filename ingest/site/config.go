package site

import (
	"slices"
	"time"

	"wane/ingest/problem"
	"wane/transform/daily"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/lamp"
	"wane/transform/level"
	"wane/transform/plan"
	"wane/transform/supply"
)

// Config is site.yaml: what this site is and what it assumes. Every field has
// a default (see Defaults) except Name and Zone.
type Config struct {
	Name      string   `yaml:"name"`
	Invented  bool     `yaml:"invented"`  // the data are made up: every page and table for people says so
	Zone      string   `yaml:"zone"`      // IANA name, e.g. Europe/Amsterdam
	Latitude  *float64 `yaml:"latitude"`  // degrees north; with Longitude: where daylight reaches the sensors
	Longitude *float64 `yaml:"longitude"` // degrees east

	Interval    float64           `yaml:"interval"`   // probability content of intervals
	Thresholds  level.Thresholds  `yaml:"thresholds"` // when a lamp is to be replaced
	Rooms       map[string]Room   `yaml:"rooms"`
	Gate        daily.Gate        `yaml:"gate"`        // which moments count as steady
	Corrections level.Corrections `yaml:"corrections"` // what is taken out of a reading
	Baseline    level.Baseline    `yaml:"baseline"`    // what 100 % is
	Survey      Survey            `yaml:"survey"`      // the canopy-survey rig
	Supply      Supply            `yaml:"supply"`      // what is declared of the circuits
	Forecast    forecast.Defaults `yaml:"forecast"`    // what is assumed of lamps, dirt and sensors before the site's own record tells
	Schedules   Schedules         `yaml:"schedules"`
	Archive     *Archive          `yaml:"archive"`  // nil: in the folder archive
	Tell        Tell              `yaml:"tell"`     // who is told what, and how
	Warranty    Warranty          `yaml:"warranty"` // what was promised, for the yearly evidence
	Plan        plan.Settings     `yaml:"plan"`     // costs and constraints of the relamp plan

	Location   *time.Location `yaml:"-"` // of Zone
	PlanFaults problem.List   `yaml:"-"` // what is wrong with Plan; the plan is made for the rest
}

// Room is a room's lighting programme, the evidence of run-hours where nothing
// else is recorded, and the clock against which loggers are checked.
type Room struct {
	On       string  `yaml:"on"`       // local clock time at which lamps go on, "06:00"
	Hours    float64 `yaml:"hours"`    // photoperiod, h a day
	Daylight bool    `yaml:"daylight"` // sunlight reaches the sensors
	// StaysClean: nothing gathers on its lamps and optics, so that no dirt is taken
	// out of what the readings lost.
	StaysClean bool `yaml:"stays_clean"`
}

// Schedules holds the cron lines of the unattended runs, in the site's zone.
type Schedules struct {
	Nightly string `yaml:"nightly"`
	// Report is when plan and pages are made; "": each night. A great
	// fleet's take long, and its answers come without them.
	Report string `yaml:"report"`
	Yearly string `yaml:"yearly"`
}

// Warranty is what makers promised: a model's own terms before those of its
// lamp type. A lamp without terms has none.
type Warranty struct {
	Models    map[string]WarrantyTerms         `yaml:"models"`
	LampTypes map[fleet.LampType]WarrantyTerms `yaml:"lamp_types"`
}

// WarrantyTerms is one promise: at least Level of the lamp's own baseline until
// Hours have been burned.
type WarrantyTerms struct {
	Hours       float64 `yaml:"hours"`       // run-hours
	Level       float64 `yaml:"level"`       // share of the baseline
	Description string  `yaml:"description"` // the paper it stands on, in words
}

// Terms gives the terms that hold for a lamp of this type in a fixture of this
// model, and the path under which they stand.
func (w *Warranty) Terms(model string, t fleet.LampType) (terms WarrantyTerms, path string, ok bool) {
	if terms, ok = w.Models[model]; ok && model != "" {
		return terms, "warranty.models." + model, true
	}
	if terms, ok = w.LampTypes[t]; ok {
		return terms, "warranty.lamp_types." + string(t), true
	}
	return WarrantyTerms{}, "", false
}

// Defaults is the configuration of a site that says nothing.
func Defaults() Config {
	return Config{
		Interval: 0.8,
		// common practice, no source: growers relamp when about a tenth of the light is gone
		Thresholds:  level.Thresholds{Default: 0.90},
		Gate:        daily.DefaultGate(),
		Corrections: level.DefaultCorrections(),
		Baseline:    level.DefaultBaseline(),
		Survey:      defaultSurvey(),
		Supply:      Supply{GearTolerancePct: supply.GearTolerancePct},
		Forecast:    forecast.DefaultTable(),
		Schedules:   Schedules{Nightly: "15 2 * * *", Yearly: "0 6 2 1 *"},
		Tell:        Tell{Digest: Nightly, SoonDays: 30},
	}
}

// Rules gives what hours, levels and due dates go by.
func (c *Config) Rules() lamp.Rules {
	r := lamp.Rules{
		Location: c.Location, Interval: c.Interval, Photoperiod: map[string]float64{}, Daylight: map[string]bool{},
		Thresholds:  c.Thresholds,
		Corrections: c.Corrections, Baseline: c.Baseline, Forecast: c.Forecast,
		Reference: c.Survey.Reference, SurveysRefer: c.Survey.Forecast,
		Measure: c.Plan.Measure,
	}
	for name, room := range c.Rooms {
		if room.Hours > 0 {
			r.Photoperiod[name] = room.Hours
		}
		r.Daylight[name] = room.Daylight
		if room.StaysClean {
			r.StaysClean = append(r.StaysClean, name)
		}
	}
	slices.Sort(r.StaysClean)
	return r
}
