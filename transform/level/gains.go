package level

import (
	"maps"
	"slices"
	"time"
	"wane/transform/calendar"
	"wane/transform/fleet"
)

// Gain is a row of table gains.
type Gain struct {
	Sensor string
	Span
}

// Gains gives how each sensor's gain drifts between its recalibrations; begun is
// the first day of each sensor.
func Gains(reg *fleet.Register, begun map[string]int32, loc *time.Location) []Gain {
	var out []Gain
	for _, sensor := range slices.Sorted(maps.Keys(begun)) {
		var cals []Calibration
		for _, c := range reg.Calibrations(sensor) {
			cals = append(cals, Calibration{Day: calendar.DayOf(c.At, loc), AsFound: c.AsFound})
		}
		for _, x := range Drift(begun[sensor], cals) {
			x.Last = min(x.Last, calendar.Forever)
			out = append(out, Gain{sensor, x})
		}
	}
	return out
}
