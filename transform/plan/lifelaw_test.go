package plan

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"wane/transform/survival"
)

// weibullLives draws lives under watch from entry to a common age, or failure.
func weibullLives(rng *rand.Rand, n int, eta, beta, until float64) []survival.Unit {
	var out []survival.Unit
	for len(out) < n {
		life := eta * math.Pow(rng.ExpFloat64(), 1/beta)
		entry := rng.Float64() * until / 2
		if life <= entry {
			continue // it died before the watch began, so nobody saw it
		}
		out = append(out, survival.Unit{Entry: entry, Exit: math.Min(life, until), Failed: life <= until})
	}
	return out
}

// Where the truth is as assumed, the interval of the weighed scale holds it at
// least as often as it says, with no failure, few, and enough for a fit.
func TestLifeLawHolds(t *testing.T) {
	for _, c := range []struct {
		name  string
		n     int
		until float64
	}{{"few lamps, young", 12, 6000}, {"few failures", 40, 9000}, {"enough for a fit", 120, 20000}} {
		rng := rand.New(rand.NewPCG(6, 1))
		const runs, level = 400, 0.8
		held := 0
		for range runs {
			// The truth is drawn from what the typical life says of a type.
			eta := typicalLives["hps-de"] / math.Pow(math.Ln2, 1/TypicalShape) * math.Pow(rng.ExpFloat64(), -1/TypicalShape)
			w, _, err := LifeLaw("hps-de", weibullLives(rng, c.n, eta, TypicalShape, c.until), level)
			if err != nil {
				t.Fatal(err)
			}
			if w.Eta.Lo <= eta && eta <= w.Eta.Hi {
				held++
			}
		}
		if share := float64(held) / runs; share < level-0.06 || share > level+0.09 {
			t.Errorf("%s: the %g interval held in %.3f", c.name, level, share)
		}
	}
}

func TestLifeLawSaysWhatItRestsOn(t *testing.T) {
	w, words, err := LifeLaw("cmh", nil, 0.8)
	// With nothing seen the median of the scale is that of one exponential: eta0 ln2^(-1/3), by hand.
	want := 16000 / math.Pow(math.Ln2, 1/3.0) * math.Pow(math.Ln2, -1/3.0)
	if err != nil || math.Abs(w.Eta.Centre-want) > 1e-6*want || !strings.Contains(words, "0 failures") ||
		!strings.Contains(words, "no source") {
		t.Errorf("%+v %q %v, want %g", w, words, err, want)
	}
	rng := rand.New(rand.NewPCG(6, 2))
	w, words, err = LifeLaw("cmh", weibullLives(rng, 200, 9000, 3, 15000), 0.8)
	if err != nil || !strings.Contains(words, "fitted") || w.Eta.Centre < 8000 || w.Eta.Centre > 10000 {
		t.Errorf("%+v %q %v", w, words, err)
	}
	if _, _, err = LifeLaw("cmh", []survival.Unit{{Entry: 5, Exit: 3}}, 0.8); err == nil {
		t.Error("a life that ends before it begins was taken")
	}
}
