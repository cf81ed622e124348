package measure_test

import (
	"strings"
	"testing"

	"wane/transform/forecast"
	"wane/transform/measure"
	"wane/transform/plan"
	"wane/transform/simfleet"
)

// TestStepIsOfItsOwnSensor gives lamps that have no date for want of knowing the drift
// a step at their own sensor; what nobody here can do is not asked for.
func TestStepIsOfItsOwnSensor(t *testing.T) {
	f := simfleet.New(simfleet.Options{Seed: 7, Fixtures: 60, Days: 4 * 365, NeverRecalibrated: true})
	known := f.Input.Truncate(f.Input.AsOf - 30)
	in := site(t, &known)
	steps := measure.Steps(in)
	with, without := 0, 0
	for i, step := range steps {
		if in.Answers[i].Status != forecast.StatusInseparable {
			continue
		}
		if step == "" {
			without++
			continue
		}
		with++
		if sensor := in.Sensors[in.Lamps[i].Sensor].Name; !strings.Contains(step, "sensor "+sensor) {
			t.Errorf("%s stands under %s and is told to %s", in.Lamps[i].Fixture, sensor, step)
		}
		a := in.Answers[i]
		a.SettleBy(step)
		if !strings.Contains(a.Reason, step) || a.Identity.Settle != step || strings.Count(a.Reason, "to settle it") != 1 {
			t.Errorf("%s: reason %q does not end with the step %q", in.Lamps[i].Fixture, a.Reason, step)
		}
	}
	if with == 0 || without > with/4 {
		t.Errorf("%d inseparable lamps have a step, %d have none", with, without)
	}
	in.Settings.Measure[plan.Reference] = plan.MeasureTerms{Off: true}
	for i, step := range measure.Steps(in) {
		if strings.Contains(step, "reference meter") {
			t.Errorf("%s is told to %s where nobody has a meter", in.Lamps[i].Fixture, step)
		}
	}
}
