package forecast

import (
	"math"
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

// Twice the assumed slope is as far off as half of it, and draws as its logarithm does.
func TestPaceIsCountedByRatio(t *testing.T) {
	of := Prior{Mean: .028, SD: .012}
	if mean, sd := pacePrior(of, .02); mean != of.Mean || sd != of.SD {
		t.Errorf("under the assumed slope: %v ± %v", mean, sd)
	}
	const slope = .056
	mean, sd := pacePrior(of, slope)
	pull := (slope - mean) / (sd * sd)
	spread := of.SD / of.Mean
	if want := math.Log(2) / (spread * spread * slope); math.Abs(pull/want-1) > 1e-12 {
		t.Errorf("pull at twice the assumed slope %v, that of its logarithm %v", pull, want)
	}
	if plain := (slope - of.Mean) / (of.SD * of.SD); pull > plain/2 {
		t.Errorf("pull %v, of a spread by difference %v", pull, plain)
	}
	if fast, slow := offPace(2*of.Mean, 0, of.Mean), offPace(of.Mean/2, 0, of.Mean); fast > slow {
		t.Errorf("twice as fast is off by %v, half as fast by %v", fast, slow)
	}
}
