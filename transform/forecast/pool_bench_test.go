package forecast_test

import (
	"testing"

	"wane/transform/forecast"
	"wane/transform/simfleet"
)

// The fit of three sites as one, each read again for each step, beside each site alone.
func BenchmarkPoolBesideOneFit(b *testing.B) {
	var ins []*forecast.Input
	for seed := range uint64(3) {
		in := simfleet.New(simfleet.Options{Seed: 100 + seed, Fixtures: 300, Days: 3 * 365}).Input
		ins = append(ins, &in)
	}
	b.Run("alone", func(b *testing.B) {
		for b.Loop() {
			for _, in := range ins {
				run(b, in)
			}
		}
	})
	b.Run("pooled", func(b *testing.B) {
		for b.Loop() {
			pooled(b, ins...)
		}
	})
}
