package forecast_test

import (
	"math/rand/v2"
	"testing"

	"wane/transform/forecast"
)

// misted is steady with mist on the heads: so much of ln light, the same for all lamps
// under a sensor, another each week, going over into the next.
func misted(sd float64) *forecast.Input {
	in := steady()
	rng := rand.New(rand.NewPCG(7, 7))
	mist := map[[2]int]float64{}
	for g := range in.Groups {
		now := 0.0
		for day := 0; day <= in.AsOf; day++ {
			now = .93*now + .37*sd*rng.NormFloat64()
			mist[[2]int{g, day}] = now
		}
	}
	for i := range in.Lamps {
		for k := range in.Lamps[i].Bins {
			b := &in.Lamps[i].Bins[k]
			b.LnOut += mist[[2]int{in.Lamps[i].Group, b.Day}]
		}
	}
	return in
}

// Mist on the heads of a sensor is seen by every lamp under it: it is no evidence of each
// of them, and where lamps stood without it lies within what is said with it.
func TestWhatLampsShareIsNoEvidenceOfEach(t *testing.T) {
	clear, _ := dues(t, steady())
	const z = 1.2816
	n, held := 0, 0
	for _, p := range run(t, misted(.008)).Posteriors() {
		due := clear[p.Lamp]
		if due > 25000 {
			continue
		}
		n++
		if c := p.Cross(p.Threshold, z); c.Lo <= due && due <= c.Hi {
			held++
		}
	}
	t.Logf("%d of %d hold", held, n)
	if n < 20 || 10*held < 9*n {
		t.Errorf("with mist the 80 %% intervals of %d of %d lamps hold what is said without", held, n)
	}
}
