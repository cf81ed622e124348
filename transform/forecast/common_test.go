package forecast

import (
	"math/rand/v2"
	"testing"
)

// Residuals that eight lamps share count as one; those of each by itself count as they are.
func TestSharedBy(t *testing.T) {
	for _, c := range []struct {
		name   string
		all    float64 // share of the variance that they share
		lo, hi float64
	}{{"none", 0, 1, 1.25}, {"half", .5, 3.2, 5}, {"all", 1, 6.5, 8}} {
		rng := rand.New(rand.NewPCG(3, 3))
		weeks := map[int]*common{}
		for day := 0; day < 7*120; day += 7 {
			both := rng.NormFloat64()
			weeks[day] = new(common)
			for range 8 {
				if x := rng.NormFloat64(); c.all < 1 {
					weeks[day].add(c.all*both + (1-c.all)*x)
				} else {
					weeks[day].add(both)
				}
			}
		}
		if got := sharedBy(weeks); got < c.lo || got > c.hi {
			t.Errorf("%s shared: %.2f, want %v to %v", c.name, got, c.lo, c.hi)
		}
	}
}
