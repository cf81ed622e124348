package spares

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

// Lamps of one age over a span too short for repeats: the binomial law (gonum).
func TestEqualLampsAreBinomial(t *testing.T) {
	law := Law{Eta: 30000, Beta: 2}
	f, err := New([]Exposure{{Age: 9000, Hours: 50, Count: 40}}, law)
	if err != nil {
		t.Fatal(err)
	}
	p := 1 - math.Exp(math.Pow(0.3, 2)-math.Pow(9050.0/30000, 2))
	b := distuv.Binomial{N: 40, P: p}
	for i := 0; i < 4; i++ {
		if got, want := f.PMF[i], b.Prob(float64(i)); math.Abs(got-want) > 1e-6 {
			t.Errorf("P(%d) = %g, binomial %g", i, got, want)
		}
	}
}

// With beta = 1 lamps replaced on failure make a Poisson process.
func TestRandomFailuresArePoisson(t *testing.T) {
	f, err := New([]Exposure{{Age: 100, Hours: 4000, Count: 120}}, Law{Eta: 40000, Beta: 1})
	if err != nil {
		t.Fatal(err)
	}
	p := distuv.Poisson{Lambda: 12}
	for i := 0; i < 30; i++ {
		if got, want := f.PMF[i], p.Prob(float64(i)); math.Abs(got-want) > 5e-4 {
			t.Errorf("P(%d) = %g, Poisson %g", i, got, want)
		}
	}
	if math.Abs(f.Mean()-12) > 0.02 {
		t.Errorf("mean %g, want 12", f.Mean())
	}
}

func TestLawSumsToOneAndSparesAreFewest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lamps := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Exposure {
			return Exposure{rapid.Float64Range(0, 40000).Draw(t, "age"), rapid.Float64Range(0, 9000).Draw(t, "hours"),
				rapid.IntRange(0, 5).Draw(t, "n")}
		}), 0, 30).Draw(t, "lamps")
		law := Law{rapid.Float64Range(2000, 90000).Draw(t, "eta"), rapid.Float64Range(0.7, 5).Draw(t, "beta"),
			rapid.SampledFrom([]float64{0, 0.1, 0.4}).Draw(t, "sd")}
		f, err := New(lamps, law)
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for _, p := range f.PMF {
			if p < -1e-12 || math.IsNaN(p) {
				t.Fatalf("probability %g", p)
			}
			sum += p
		}
		if math.Abs(sum-1) > 1e-9 {
			t.Fatalf("sum %g", sum)
		}
		level := rapid.Float64Range(0.5, 0.999).Draw(t, "level")
		n, got := f.Spares(level)
		if got < level-1e-9 || (n > 0 && f.AtMost(n-1) >= level) {
			t.Fatalf("%d spares give %g (one fewer %g), asked %g", n, got, f.AtMost(n-1), level)
		}
		if e := f.Estimate(0.8, len(lamps)); e.Lo > e.Hi {
			t.Fatalf("interval %g..%g", e.Lo, e.Hi)
		}
	})
}

// The stated service level holds over 2,000 simulated years within 3 points,
// for an exactly known law and for one known to 20 %.
func TestServiceLevelHolds(t *testing.T) {
	rng := rand.New(rand.NewPCG(2000, 6))
	for _, law := range []Law{{24000, 3, 0}, {24000, 3, 0.2}, {60000, 1, 0}, {50000, 0.8, 0.1}} {
		var lamps []Exposure
		for i := 0; i < 300; i++ {
			lamps = append(lamps, Exposure{Age: 100 + 15000*rng.Float64(), Hours: 3500})
		}
		f, err := New(lamps, law)
		if err != nil {
			t.Fatal(err)
		}
		const years = 2000
		var failed [years]int
		for y := range failed {
			failed[y] = simulate(rng, lamps, law)
		}
		for _, asked := range []float64{0.8, 0.9, 0.95} {
			stock, achieved := f.Spares(asked)
			held := 0
			for _, n := range failed {
				if n <= stock {
					held++
				}
			}
			share := float64(held) / years
			t.Logf("law %+v asked %.2f: %d spares, computed %.3f, held %.3f", law, asked, stock, achieved, share)
			if math.Abs(share-achieved) > 0.03 || math.Abs(share-asked) > 0.03+achieved-asked || share < asked-0.03 {
				t.Errorf("law %+v: asked %.2f, computed %.3f, held in %.3f of the years", law, asked, achieved, share)
			}
		}
	}
}

func simulate(rng *rand.Rand, lamps []Exposure, law Law) int {
	eta := law.Eta * math.Exp(law.LnSd*rng.NormFloat64())
	n := 0
	for _, e := range lamps {
		start := math.Pow(e.Age/eta, law.Beta)
		left := e.Hours
		for {
			life := eta*math.Pow(start+rng.ExpFloat64(), 1/law.Beta) - eta*math.Pow(start, 1/law.Beta)
			if life > left {
				break
			}
			left -= life
			start = 0
			n++
		}
	}
	return n
}

func TestBadExposureIsNamed(t *testing.T) {
	if _, err := New([]Exposure{{1, 1, 1}, {-1, 1, 1}}, Law{1, 1, 0}); err == nil ||
		!strings.Contains(err.Error(), "exposure 1") {
		t.Errorf("got %v", err)
	}
	if _, err := New(nil, Law{}); err == nil || !strings.Contains(err.Error(), "life law") {
		t.Errorf("got %v", err)
	}
	if f, err := New(nil, Law{1, 1, 0}); err != nil || f.Quantile(0.99) != 0 {
		t.Errorf("no lamps: %+v %v", f, err)
	}
}
