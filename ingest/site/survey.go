package site

import (
	"fmt"
	"math"
	"time"

	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/survey"
	"wane/transform/survey/surveys"
)

// Survey is the canopy-survey rig as the site declares it. A zero value asks
// nothing and declares nothing.
type Survey struct {
	Reference string  `yaml:"reference"`  // the fixture that is kept apart and surveyed on each visit
	VisitH    float64 `yaml:"visit_h"`    // surveys within so many hours of each other are one visit to the rig
	Rows      int     `yaml:"rows"`       // of the grid on a printed sheet
	Columns   int     `yaml:"columns"`    //
	HeightM   float64 `yaml:"height_m"`   // from the light's lower edge to the sensor plane
	HeightTol float64 `yaml:"height_tol"` // m

	SpacingM    float64   `yaml:"spacing_m"` // between neighbouring spots of an even grid
	RowsAtM     []float64 `yaml:"rows_at_m"` // positions of an uneven grid, m
	ColumnsAtM  []float64 `yaml:"columns_at_m"`
	DepthM      float64   `yaml:"depth_m"` // floor, across the rows
	WidthM      float64   `yaml:"width_m"` // floor, across the columns
	FootprintM2 float64   `yaml:"footprint_m2"`

	PhotoperiodH float64  `yaml:"photoperiod_h"` // for the DLI; 0: that of the fixture's room
	SupplyV      float64  `yaml:"supply_v"`
	SupplyTolPct float64  `yaml:"supply_tol_pct"`
	AmbientC     *float64 `yaml:"ambient_c"`
	AmbientTolC  float64  `yaml:"ambient_tol_c"`
	WarmUpMin    float64  `yaml:"warm_up_min"`

	SourceM           float64      `yaml:"source_m"`       // largest dimension of the light-giving surface
	InverseSquare     bool         `yaml:"inverse_square"` // the far-field rule may be used where it holds
	SupplyCoefficient *Coefficient `yaml:"supply_coefficient"`

	Uncertainty Uncertainty `yaml:"uncertainty"`
	StepHours   float64     `yaml:"step_hours"` // of age in the side-by-side comparison
	Forecast    bool        `yaml:"forecast"`   // surveys count as reference readings of their fixtures
}

// Coefficient is a declared number with its interval of 95 %.
type Coefficient struct {
	Value  float64 `yaml:"value"`
	Lo     float64 `yaml:"lo"`
	Hi     float64 `yaml:"hi"`
	Origin string  `yaml:"origin"` // where it comes from, printed with what rests on it
}

// Estimate gives the coefficient as a statistic.
func (c Coefficient) Estimate() estimate.Estimate {
	return estimate.Estimate{Centre: c.Value, Lo: c.Lo, Hi: c.Hi, Level: .95, Method: "declared"}
}

// Uncertainty is how far a survey's readings can be trusted: standard
// deviations in per cent, each by what it is common to (survey.Uncertainty says
// what each means).
type Uncertainty struct {
	RepeatPct    float64 `yaml:"repeat_pct"`
	HangPct      float64 `yaml:"hang_pct"`
	OccasionPct  float64 `yaml:"occasion_pct"`
	SensorPct    float64 `yaml:"sensor_pct"`
	ReferencePct float64 `yaml:"reference_pct"`
	PowerPct     float64 `yaml:"power_pct"`
	RepeatDF     int     `yaml:"repeat_df"`
	Level        float64 `yaml:"level"`
}

// defaultSurvey is the rig of a site that declares none: the usual 5 x 5 grid.
func defaultSurvey() Survey {
	return Survey{VisitH: 48, Rows: 5, Columns: 5, StepHours: 1000, Forecast: true,
		Uncertainty: Uncertainty(survey.Assumed())}
}

// Rig gives the survey rig as package surveys takes it.
func (c *Config) Rig() surveys.Rig {
	s := &c.Survey
	r := surveys.Rig{
		Reference: s.Reference, Visit: time.Duration(s.VisitH * float64(time.Hour)), Rows: s.Rows, Columns: s.Columns,
		Geometry: survey.Geometry{SpacingM: s.SpacingM, RowAtM: s.RowsAtM, ColAtM: s.ColumnsAtM,
			DepthM: s.DepthM, WidthM: s.WidthM, FootprintM2: s.FootprintM2},
		Declared: survey.Declared{
			HeightM: s.HeightM, HeightTolM: s.HeightTol, SupplyV: s.SupplyV, SupplyTolPct: s.SupplyTolPct,
			AmbientC: s.AmbientC, AmbientTolC: s.AmbientTolC, WarmUpMin: s.WarmUpMin,
			SourceM: s.SourceM, AllowInverseSquareFactor: s.InverseSquare,
		},
		Uncertainty: survey.Uncertainty(s.Uncertainty), PhotoperiodH: s.PhotoperiodH, RoomHours: map[string]float64{},
	}
	if k := s.SupplyCoefficient; k != nil {
		e := k.Estimate()
		r.SupplyCoefficient, r.SupplyCoefficientOrigin = &e, k.Origin
	}
	for name, room := range c.Rooms {
		r.RoomHours[name] = room.Hours
	}
	return r
}

// Supply is what the site declares of its circuits.
type Supply struct {
	GearTolerancePct float64 `yaml:"gear_tolerance_pct"` // what gear takes beyond its rated voltage
	// Coefficients are per cent of light for each per cent of voltage, by gear,
	// with an interval, for parting an output's change. Gear that is not named
	// takes corrections.supply with the spread that the forecast assumes.
	Coefficients map[fleet.Gear]Coefficient `yaml:"coefficients"`
	// Phases names the three circuits that read the line-to-line voltages of one
	// service, by the service's name; only then can unbalance be told.
	Phases map[string][]string `yaml:"phases"`
}

func (c *Config) checkSurvey(bad report) {
	s := &c.Survey
	for _, v := range []struct {
		path   string
		v, max float64
		unit   string
	}{
		{"visit_h", s.VisitH, 24 * 60, "hours"}, {"height_m", s.HeightM, 100, "metres"},
		{"height_tol", s.HeightTol, 1, "metres"},
		{"spacing_m", s.SpacingM, 100, "metres"}, {"depth_m", s.DepthM, 1000, "metres"},
		{"width_m", s.WidthM, 1000, "metres"},
		{"footprint_m2", s.FootprintM2, 1e6, "square metres"}, {"photoperiod_h", s.PhotoperiodH, 24, "hours"},
		{"supply_v", s.SupplyV, 1000, "volts"}, {"supply_tol_pct", s.SupplyTolPct, 50, "per cent"},
		{"ambient_tol_c", s.AmbientTolC, 50, "degrees"},
		{"warm_up_min", s.WarmUpMin, 600, "minutes"}, {"source_m", s.SourceM, 20, "metres"},
		{"step_hours", s.StepHours, 100000, "run-hours"},
	} {
		if v.v < 0 || v.v > v.max {
			bad("survey."+v.path, fmt.Sprintf("%g is not within 0 to %g", v.v, v.max), "write "+v.unit)
		}
	}
	if s.StepHours == 0 {
		bad("survey.step_hours", "a step of 0 h gives no ages", "write run-hours such as 1000")
	}
	if s.Rows < 1 || s.Rows > survey.MaxSide || s.Columns < 1 || s.Columns > survey.MaxSide {
		bad("survey.rows", fmt.Sprintf("a grid of %d x %d spots is not possible", s.Rows, s.Columns),
			fmt.Sprintf("write 1 to %d rows and columns", survey.MaxSide))
	}
	if (len(s.RowsAtM) == 0) != (len(s.ColumnsAtM) == 0) {
		bad("survey.rows_at_m", "positions are given for rows or for columns only", "write both or neither")
	}
	for path, at := range map[string][]float64{"survey.rows_at_m": s.RowsAtM, "survey.columns_at_m": s.ColumnsAtM} {
		for i := 1; i < len(at); i++ {
			if at[i] <= at[i-1] {
				bad(path, fmt.Sprintf("position %d, %g m, is not beyond the one before", i+1, at[i]), "write them rising")
				break
			}
		}
	}
	if s.InverseSquare && s.SourceM == 0 {
		bad("survey.inverse_square", "the rule needs the size of the light-giving surface",
			"write `source_m`; near an extended source the rule does not hold")
	}
	if k := s.SupplyCoefficient; k != nil {
		k.check("survey.supply_coefficient", bad)
	}
	if err := survey.Uncertainty(s.Uncertainty).Check(); err != nil {
		bad("survey.uncertainty", err.Error(), "see the values in comments of a new site.yaml")
	}
}

func (k *Coefficient) check(path string, bad report) {
	if !(k.Lo <= k.Value && k.Value <= k.Hi) || math.Abs(k.Value) > 20 {
		bad(path, fmt.Sprintf("%g with the interval %g to %g cannot be", k.Value, k.Lo, k.Hi),
			"write `value`, and `lo` and `hi` around it: per cent of light for each per cent of voltage")
	}
}

func (c *Config) checkSupply(bad report) {
	s := &c.Supply
	if s.GearTolerancePct < 0 || s.GearTolerancePct >= 100 {
		bad("supply.gear_tolerance_pct", fmt.Sprintf("%g is not within 0 to 100", s.GearTolerancePct),
			"write per cent of the rated voltage")
	}
	for g, k := range s.Coefficients {
		path := "supply.coefficients." + string(g)
		if !known(g) {
			bad(path, fmt.Sprintf("%q is not a kind of gear", g), "known: "+join(fleet.Gears))
		}
		k.check(path, bad)
	}
	for name, circuits := range s.Phases {
		seen := map[string]bool{}
		for _, k := range circuits {
			seen[k] = true
		}
		if len(circuits) != 3 || len(seen) != 3 {
			bad("supply.phases."+name, fmt.Sprintf("%d circuits are named", len(seen)),
				"name the three circuits whose meters read line to line")
		}
	}
}

func known(g fleet.Gear) bool {
	for _, k := range fleet.Gears {
		if g == k {
			return true
		}
	}
	return false
}
