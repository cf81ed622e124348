package demo

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
)

// chance is a source of random numbers that depends on the seed and a name
// only, so that what one room draws never moves what another draws.
func chance(seed uint64, name string) *rand.Rand {
	h := fnv.New64a()
	h.Write([]byte(name))
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}

// seasonedAt is the run-hours at which a level is 1: the end of seasoning.
const seasonedAt = 100

// Law is how one lamp ages. Its output relative to that at 100 run-hours is
//
//	exp(-S g1(h) - Q g2(h) + E g3(h)),  x = h/10^4, x0 = 0.01
//	g1 = x - x0,  g2 = x ln x - x0 ln x0,  g3 = exp(-100/tau) - exp(-h/tau)
//
// an invention with the shape that the published decline models share: a
// steady loss (S), some curvature (Q), an early rise or drop (E).
type Law struct{ S, Q, E, Tau float64 }

// Level is the true relative output after h run-hours.
func (l Law) Level(h float64) float64 {
	const x0 = seasonedAt / 1e4
	x := max(h, 0) / 1e4
	curved := -x0 * math.Log(x0)
	if x > 0 {
		curved += x * math.Log(x)
	}
	early := math.Exp(-seasonedAt/l.Tau) - math.Exp(-max(h, 0)/l.Tau)
	return math.Exp(-l.S*(x-x0) - l.Q*curved + l.E*early)
}

// Crossing is the first run-hour, to a hundredth, from the end of seasoning on
// at which the level is at or under the threshold; false when that does not
// happen before 200,000 h.
func (l Law) Crossing(threshold float64) (float64, bool) {
	const step, last = 50.0, 200_000.0
	for h := float64(seasonedAt); h < last; h += step {
		if l.Level(h+step) > threshold {
			continue
		}
		lo, hi := h, h+step
		for hi-lo > 0.01 {
			if mid := (lo + hi) / 2; l.Level(mid) > threshold {
				lo = mid
			} else {
				hi = mid
			}
		}
		return hi, true
	}
	return 0, false
}

// The nature of dirt: a coat that nears its full depth over 220 days, is wiped
// to 18 % by a cleaning of the room and to 30 % where a lamp was changed.
const (
	dirtDays  = 220
	wipeClean = 0.18
	wipeLamp  = 0.30
)

// dustDown lets one day's dirt fall on a coat between 0 and 1.
func dustDown(coat float64) float64 { return 1 + (coat-1)*math.Exp(-1.0/dirtDays) }

// gainPath is the natural logarithm of a sensor's gain on each day: a drift
// within each interval between recalibrations, and a slow wander that stands
// for what else the sensor's place does to it.
func gainPath(r *rand.Rand, days int, recalibrations []int) []float64 {
	rate := -0.0115 + 0.003*r.NormFloat64() // per year
	path := make([]float64, days)
	wander := make([]float64, days/91+2)
	for i := 1; i < len(wander); i++ {
		wander[i] = 0.002 * r.NormFloat64()
	}
	from, off, next := 0, 0.0, 0
	slope := rate + 0.002*r.NormFloat64()
	for d := range path {
		if next < len(recalibrations) && d >= recalibrations[next] {
			from, off = d, 0.002*r.NormFloat64()
			slope = rate + 0.002*r.NormFloat64()
			next++
		}
		k, f := d/91, float64(d%91)/91
		path[d] = off + slope*float64(d-from)/365.25 + wander[k]*(1-f) + wander[k+1]*f
	}
	return path
}

// Of a lit lamp's output, how much the discharge has reached m minutes after
// the start; an LED is there at once.
func runUp(discharge bool, m float64) float64 {
	if !discharge {
		return 1
	}
	return 1 - math.Exp(-m/5)
}
