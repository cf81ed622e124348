package daily

import (
	"math/rand/v2"
	"testing"

	"wane/transform/fleet"
)

// A fixture's night: a day at five minutes, with what it takes over.
func BenchmarkNight(b *testing.B) {
	days := bounds(3)
	for i := range days {
		days[i].Since = days[0].From
	}
	rng := rand.New(rand.NewPCG(1, 2))
	series := func(from int64, on, off, unrest float64) Track {
		t := cut(burning(3, 5, 0, 16, on), from, days[2].To)
		for i := range t.Value {
			if t.Value[i] < on {
				t.Value[i] = off
			} else {
				t.Value[i] = float64(int(10*(on+unrest*rng.NormFloat64()))) / 10
			}
		}
		return t
	}
	near, hour := days[2].From-Near, days[2].From-Nearby
	var fixtures []Input // many, as a processor soon knows one by heart
	for range 200 {
		fixtures = append(fixtures, Input{
			LampType: fleet.HPSDE, Light: series(near, 800, 0, 2), Power: series(near, 1010, 0, 3),
			Current: series(near, 4.5, 0, 0.2),
			Supply:  series(hour, 231, 231, 1), Ambient: series(hour, 24, 24, 1), Dim: series(near, 100, 0, 0),
			Counter: series(days[2].From, 1000, 1000, 1),
		})
	}
	g := DefaultGate()
	var r Roller
	for i := 0; b.Loop(); i++ {
		if rows, lacks := r.RollNear(fixtures[i%len(fixtures)], days[2:], near, g); len(rows) != 1 || rows[0].Usable < 150 ||
			lacks != (Lacks{}) {
			b.Fatal(rows, lacks)
		}
	}
}
