package daily

import (
	"testing"

	"wane/transform/fleet"
)

// Published run-up times, minutes, to be over before a reading counts: van
// Bommel 2015, section 10.2: metal halide 2-3, high-pressure sodium 3-5; LM-79
// asks at least 30 min of an LED product before it is measured (from memory).
func TestRunUpIsOverBeforeAReadingCounts(t *testing.T) {
	g := DefaultGate()
	for lamp, published := range map[fleet.LampType]float64{
		fleet.HPSDE: 5, fleet.HPSSE: 5, fleet.CMH: 3, fleet.MH: 3, fleet.LED: 30,
	} {
		if g.RunUp[lamp] < published {
			t.Errorf("%s counts after %v min, it runs up for %v", lamp, g.RunUp[lamp], published)
		}
	}
	for _, lamp := range fleet.LampTypes {
		if _, ok := g.RunUp[lamp]; !ok {
			t.Errorf("%s has no run-up time", lamp)
		}
	}
	if f := g.Validate(); len(f) != 0 {
		t.Errorf("the default gate is faulty: %v", f)
	}
}

func TestAGateThatCannotBeIsNamed(t *testing.T) {
	g := DefaultGate()
	g.RunUp = map[fleet.LampType]float64{"neon": 5, fleet.LED: -1}
	g.DipShare, g.OnFloor, g.SunBelow, g.LeastMoments = 1.5, 0, 40, 0
	found := map[string]bool{}
	for _, f := range g.Validate() {
		found[f.Path] = true
		if f.What == "" || f.Do == "" {
			t.Errorf("%+v", f)
		}
	}
	for _, path := range []string{"run_up_min.neon", "run_up_min.led", "dip_share", "on_floor", "sun_below_deg",
		"least_moments"} {
		if !found[path] {
			t.Errorf("%s was not named: %v", path, found)
		}
	}
}
