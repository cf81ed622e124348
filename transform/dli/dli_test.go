package dli

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
	"wane/transform/estimate"
)

// The definition of ANSI/ASABE S640, computed; 38.1 umol/m2/s over 12 h is
// printed as 1.6 in its source.
func TestPublishedValues(t *testing.T) {
	for _, c := range []struct{ ppfd, hours, want float64 }{
		{38.1, 12, 1.645920}, {600, 18, 38.88}, {1000, 12, 43.20},
	} {
		got, err := FromPPFD(c.ppfd, c.hours)
		if err != nil || math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%v over %v h: got %v, %v; want %v", c.ppfd, c.hours, got, err, c.want)
		}
	}
}

func TestThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, h := rapid.Float64Range(0, 4000).Draw(t, "ppfd"), rapid.Float64Range(.01, 24).Draw(t, "h")
		d, err := FromPPFD(p, h)
		if err != nil {
			t.Fatal(err)
		}
		back, err := PPFDFor(d, h)
		if err != nil || math.Abs(back-p) > 1e-9*(1+p) {
			t.Fatalf("%v came back as %v, %v", p, back, err)
		}
	})
}

func TestRefusals(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range [][2]float64{{-1, 12}, {nan, 12}, {inf, 12}, {100, -1}, {100, 24.01}, {100, nan}} {
		if v, err := FromPPFD(c[0], c[1]); err == nil {
			t.Errorf("%v gave %v", c, v)
		}
	}
	if _, err := PPFDFor(20, 0); err == nil || !strings.Contains(err.Error(), "lit hours") {
		t.Errorf("no lit hours: %v", err)
	}
	if _, err := PPFDFor(-20, 10); err == nil {
		t.Error("a negative integral was taken")
	}
	if _, err := PPFDFor(20, 30); err == nil {
		t.Error("a day of 30 h was taken")
	}
}

func TestEstimateKeepsItsInterval(t *testing.T) {
	e := Of(estimate.Estimate{Centre: 600, Lo: 570, Hi: 630, Level: .95, N: 25, Method: "m"}, 18)
	if math.Abs(e.Centre-38.88) > 1e-9 || math.Abs(e.Lo-36.936) > 1e-9 || math.Abs(e.Hi-40.824) > 1e-9 || e.N != 25 || e.Level != .95 {
		t.Fatalf("got %+v", e)
	}
	if e := Of(estimate.None("m", "no spots"), 18); e.Known() || e.Warnings[0] != "no spots" {
		t.Fatalf("got %+v", e)
	}
	if e := Of(estimate.Estimate{Centre: 1}, 25); e.Known() {
		t.Fatalf("got %+v", e)
	}
}

func TestEveryQuantityHasUnitAndMeaning(t *testing.T) {
	for _, q := range Quantities() {
		if q.Symbol == "" || q.Name == "" || q.Unit == "" || q.Meaning == "" {
			t.Errorf("incomplete: %+v", q)
		}
	}
}
