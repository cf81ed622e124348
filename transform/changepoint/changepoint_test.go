package changepoint

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// history is a level over days: ageing, dirt with logged cleanings taken out, a
// slow shared wander, day noise, spikes and gaps; a relamp of the given size on
// the given day (0 = none).
func history(r *rand.Rand, n int, relampDay int, size float64) (days []int32, y []float64) {
	wander := 0.0
	slope := 0.02 + 0.03*r.Float64() // ln a year
	for d := range n {
		wander = 0.97*wander + 0.0012*r.NormFloat64()
		if r.Float64() < 0.03 || (d > 400 && d < 415) {
			continue
		}
		v := -slope*float64(d)/365 + wander + 0.004*r.NormFloat64()
		if relampDay > 0 && d >= relampDay {
			v += size
		}
		if r.Float64() < 0.01 {
			v -= 0.2 * r.Float64()
		}
		days, y = append(days, int32(d)), append(y, v)
	}
	return days, y
}

// Unlogged relamps are found in 95 % of cases within three days, with fewer
// than one false step in a fixture's five years.
func TestRelampsAreFoundAndLittleElse(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 1))
	const fleets = 200
	found, wrong := 0, 0
	for range fleets {
		at := 100 + r.IntN(1600)
		days, y := history(r, 1825, at, 0.05+0.1*r.Float64())
		hit := false
		for _, s := range Steps(days, y, Settings{}) {
			if s.Size > 0 && math.Abs(float64(s.After)-float64(at)) <= 3 {
				hit = true
			} else {
				wrong++
			}
		}
		if hit {
			found++
		}
	}
	t.Logf("found %d of %d, %.3f false steps a fixture and 5 years", found, fleets, float64(wrong)/fleets)
	if found < fleets*95/100 || wrong >= fleets {
		t.Errorf("found %d of %d, %d false", found, fleets, wrong)
	}
}

func TestSizeIsWithinItsUncertainty(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 1))
	within, n := 0, 0
	for range 100 {
		days, y := history(r, 700, 300, 0.08)
		for _, s := range Steps(days, y, Settings{}) {
			if s.After >= 297 && s.After <= 303 {
				n++
				if math.Abs(s.Size-0.08) < 2*s.SE {
					within++
				}
			}
		}
	}
	if n < 95 || within < n*80/100 {
		t.Errorf("%d of %d sizes within two standard errors", within, n)
	}
}

// PELT gives what the unpruned search over all cuts gives.
func TestPruningLosesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(6, 40).Draw(t, "n")
		x, y := make([]float64, n), make([]float64, n)
		for i := range x {
			x[i], y[i] = float64(i), rapid.Float64Range(-1, 1).Draw(t, "y")
		}
		s := newSums(x, y)
		penalty := rapid.Float64Range(0.01, 2).Draw(t, "penalty")
		cost := func(cuts []int) float64 {
			total, lo := 0.0, 0
			for _, c := range append(append([]int(nil), cuts...), n) {
				total += s.residual(lo, c) + penalty
				lo = c
			}
			return total
		}
		best := make([]float64, n+1)
		best[0] = 0
		for e := 1; e <= n; e++ {
			best[e] = math.Inf(1)
			for b := 0; b <= e-3; b++ {
				if b == 0 || b >= 3 {
					best[e] = math.Min(best[e], best[b]+s.residual(b, e)+penalty)
				}
			}
		}
		if got := cost(pelt(s, 3, penalty)); math.Abs(got-best[n]) > 1e-9 {
			t.Fatalf("cost %v, best %v", got, best[n])
		}
	})
}

func TestTooFewDaysHaveNoSteps(t *testing.T) {
	if got := Steps([]int32{1, 2, 3}, []float64{0, 1, 0}, Settings{}); got != nil {
		t.Fatalf("%v", got)
	}
}

func BenchmarkFiveYears(b *testing.B) {
	days, y := history(rand.New(rand.NewPCG(9, 1)), 1825, 900, 0.1)
	for b.Loop() {
		Steps(days, y, Settings{})
	}
}
