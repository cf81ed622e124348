package report

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"wane/transform/lamp"
	"wane/transform/level"
)

// steps invents a lamp's days around day 100, with a step of so much there.
func steps(rng *rand.Rand, step, noise float64, days int) *lamp.Life {
	l := &lamp.Life{}
	for d := 100 - days; d <= 100+days; d++ {
		ln := noise * rng.NormFloat64()
		if d > 100 {
			ln += step
		}
		l.Levels = append(l.Levels, level.Level{Day: int32(d), Level: 0.9 * math.Exp(ln)})
	}
	return l
}

// The interval of what a cleaning brought holds the truth about as often as it says.
func TestCleanedHoldsTheTruth(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 2))
	held, n := 0, 2000
	for range n {
		step := 0.03 * rng.Float64()
		if e := cleaned(steps(rng, step, 0.006, 14), 100); e.Lo <= math.Expm1(step) && math.Expm1(step) <= e.Hi {
			held++
		}
	}
	if share := float64(held) / float64(n); share < 0.88 || share > 0.99 {
		t.Errorf("95 %% intervals held %.2f", share)
	}
}

func TestCleanedSaysWhatItCanTell(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for _, c := range []struct {
		step float64
		days int
		want string
	}{{0.02, 14, "it helped"}, {0, 14, "no change"}, {-0.03, 14, "fell"}, {0.02, 4, ""}} {
		got := cleanedWords(steps(rng, c.step, 0.003, c.days), 100)
		if !strings.Contains(got, c.want) || c.want == "" && got != "" {
			t.Errorf("a step of %v over %d days: %q", c.step, c.days, got)
		}
	}
}
