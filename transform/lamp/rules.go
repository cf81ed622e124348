package lamp

import (
	"time"

	"wane/transform/forecast"
	"wane/transform/level"
	"wane/transform/plan"
)

// Rules is what the site declares that hours, levels and due dates go by.
type Rules struct {
	Location    *time.Location
	Interval    float64            // probability content of intervals
	Photoperiod map[string]float64 // h a day, of rooms that declare one
	Daylight    map[string]bool    // rooms whose sensors the sun reaches
	StaysClean  []string           // rooms on whose lamps and optics nothing gathers
	Thresholds  level.Thresholds
	Corrections level.Corrections
	Baseline    level.Baseline
	Forecast    forecast.Defaults
	Reference   string // the survey rig's own fixture, which burns for surveys only; "" = none
	// SurveysRefer lets canopy surveys be reference readings of lamps that
	// loggers read too.
	SurveysRefer bool
	Measure      map[string]plan.MeasureTerms // what measurements cost: the best step of a lamp
}
