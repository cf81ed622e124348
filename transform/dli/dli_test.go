package dli

import (
	"math"
	"testing"

	"wane/transform/estimate"
)

// The definition of ANSI/ASABE S640, computed; 38.1 umol/m2/s over 12 h is
// printed as 1.6 in its source.
func TestPublishedValues(t *testing.T) {
	for _, c := range []struct{ ppfd, hours, want float64 }{
		{38.1, 12, 1.645920}, {600, 18, 38.88}, {1000, 12, 43.20},
	} {
		got := Of(estimate.Estimate{Centre: c.ppfd}, c.hours)
		if math.Abs(got.Centre-c.want) > 1e-9 {
			t.Errorf("%v over %v h: got %v; want %v", c.ppfd, c.hours, got.Centre, c.want)
		}
	}
}

func TestEstimateKeepsItsInterval(t *testing.T) {
	e := Of(estimate.Estimate{Centre: 600, Lo: 570, Hi: 630, Level: .95, N: 25, Method: "m"}, 18)
	if math.Abs(e.Centre-38.88) > 1e-9 || math.Abs(e.Lo-36.936) > 1e-9 || math.Abs(e.Hi-40.824) > 1e-9 || e.N != 25 ||
		e.Level != .95 {
		t.Fatalf("got %+v", e)
	}
	if e := Of(estimate.None("m", "no spots"), 18); e.Known() || e.Warnings[0] != "no spots" {
		t.Fatalf("got %+v", e)
	}
	for _, hours := range []float64{-1, 24.01, math.NaN()} {
		if e := Of(estimate.Estimate{Centre: 1}, hours); e.Known() {
			t.Errorf("%v h: got %+v", hours, e)
		}
	}
}
