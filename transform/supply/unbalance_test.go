package supply

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Worked examples of the NEMA MG 1 definition, seen quoted, the standard itself
// not seen: 462, 463 and 455 V have a mean of 460 V and 1.1 %; 460, 467 and
// 450 V a mean of 459 V and 1.96 %.
func TestMaxDeviationExamples(t *testing.T) {
	for _, c := range []struct{ a, b, c, want, tol float64 }{
		{462, 463, 455, 1.1, .05}, {460, 467, 450, 1.96, .005}, {462, 463, 455, 100 * 5.0 / 460, 1e-12},
		{230, 230, 230, 0, 0},
	} {
		got, err := MaxDeviation(c.a, c.b, c.c)
		if err != nil || math.Abs(got-c.want) > c.tol {
			t.Errorf("%v: got %v, %v", c, got, err)
		}
	}
}

func TestUnbalanceAgreesWithSymmetricalComponents(t *testing.T) {
	for _, c := range loadNumpy(t).Unbalance {
		got, err := NegativeSequence(c.LL[0], c.LL[1], c.LL[2])
		if err != nil {
			t.Fatal(err)
		}
		near(t, "negative sequence", got, c.Negative, 1e-9)
		got, err = MaxDeviation(c.LL[0], c.LL[1], c.LL[2])
		if err != nil {
			t.Fatal(err)
		}
		near(t, "NEMA", got, c.Nema, 1e-9)
	}
}

func TestUnbalanceProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := rapid.Float64Range(300, 500)
		a, b, c := g.Draw(t, "ab"), g.Draw(t, "bc"), g.Draw(t, "ca")
		n1, err := NegativeSequence(a, b, c)
		if err != nil {
			t.Fatal(err)
		}
		n2, _ := NegativeSequence(c*1e-9, a*1e-9, b*1e-9)
		if math.IsNaN(n1) || n1 < 0 || n1 > 100 || math.Abs(n1-n2) > 1e-5*(1+n1) {
			t.Fatalf("order and unit must not matter: %v and %v", n1, n2)
		}
	})
	for _, v := range [][3]float64{{0, 1, 1}, {1, math.NaN(), 1}, {1, 1, math.Inf(1)}, {100, 100, 201}} {
		if _, err := NegativeSequence(v[0], v[1], v[2]); err == nil {
			t.Errorf("%v was taken", v)
		}
	}
	if _, err := MaxDeviation(-1, 1, 1); err == nil {
		t.Error("a negative voltage was taken")
	}
}
