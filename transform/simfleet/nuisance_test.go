package simfleet_test

import (
	"math"
	"testing"

	"wane/transform/forecast"
	"wane/transform/simfleet"
)

// The nuisance terms are held against the truth, not only the answer: a
// widening factor can hide a biased drift.
func TestNuisanceTermsAgainstTruth(t *testing.T) {
	var zDirt, zDrift []float64
	for seed := uint64(501); seed <= 504; seed++ {
		f := simfleet.New(simfleet.Options{Seed: seed, Fixtures: 120})
		fit, err := forecast.Run(&f.Input, forecast.Options{})
		if err != nil {
			t.Fatal(err)
		}
		seen := map[string]bool{}
		for _, p := range fit.Posteriors() {
			zDirt = append(zDirt, (p.DirtAmplitude-f.Truth[p.Lamp].DirtAmplitude)/p.DirtSD)
			if !seen[p.Group] {
				seen[p.Group] = true
				zDrift = append(zDrift, (p.SensorDrift[0]-f.Truth[p.Lamp].Drift)/p.SensorDrift[1])
			}
		}
	}
	mean := func(x []float64) (m, sd float64) {
		for _, v := range x {
			m += v
		}
		m /= float64(len(x))
		for _, v := range x {
			sd += (v - m) * (v - m)
		}
		return m, math.Sqrt(sd / float64(len(x)))
	}
	dm, ds := mean(zDirt)
	rm, rs := mean(zDrift)
	t.Logf("dirt z: mean %.2f, spread %.2f over %d lamps; drift z: mean %.2f, spread %.2f over %d sensors", dm, ds,
		len(zDirt), rm, rs, len(zDrift))
	if math.Abs(rm) > .8 || rs > 1.8 {
		t.Errorf("drift is off: z mean %.2f, spread %.2f", rm, rs)
	}
	if math.Abs(dm) > 1.2 || ds > 2.2 {
		t.Errorf("dirt is off: z mean %.2f, spread %.2f", dm, ds)
	}
}
