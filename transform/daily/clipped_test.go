package daily

import (
	"math"
	"math/rand/v2"
	"testing"

	"wane/transform/fleet"
)

// unsteady gives readings of a lamp whose light scatters, printed to a step, by a head
// that reads no more than its limit.
func unsteady(level, noise, step, limit float64) Track {
	t := burning(3, 30, 6, 14, level)
	rng := rand.New(rand.NewPCG(5, 5))
	for i, v := range t.Value {
		if v > 1 {
			t.Value[i] = math.Min(math.Round(v*math.Exp(noise*rng.NormFloat64())/step)*step, limit)
		}
	}
	return t
}

// A day on which the head stood at its limit tells no level. One on which it reached it now
// and then does, and so does a day of a coarse sensor that prints few values.
func TestDaysAtTheHeadsLimitTellNoLevel(t *testing.T) {
	for name, c := range map[string]struct {
		level, noise, step, limit float64
		tells                     bool
	}{
		"well under the limit":      {500, .008, .1, 560, true},
		"now and then at it":        {552, .008, .1, 560, true},
		"mostly at it":              {563, .008, .1, 560, false},
		"a coarse sensor":           {500, .002, 1, 9999, true},
		"a very coarse one":         {503, .008, 10, 9999, true},
		"coarse, hardly a scatter":  {500, .0005, 1, 9999, true},
		"coarse, just at its limit": {552, .008, 5, 560, true},
	} {
		days := Roll(Input{LampType: fleet.HPSDE, Light: unsteady(c.level, c.noise, c.step, c.limit)}, bounds(3), DefaultGate())
		for _, d := range days[1:] {
			if tells := !math.IsNaN(d.PPFD); tells != c.tells {
				t.Errorf("%s, day %d: tells %v of %d readings, level %v", name, d.Day, tells, d.Readings, d.PPFD)
			}
		}
	}
}
