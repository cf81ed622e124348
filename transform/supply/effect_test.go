package supply

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"wane/transform/estimate"
)

func norm(v, sd float64) estimate.Estimate {
	return estimate.Estimate{Centre: v, Lo: v - 1.959963984540054*sd, Hi: v + 1.959963984540054*sd, Level: .95, N: 100,
		Method: "t"}
}

// A million draws with numpy, testdata/check.py. The interval is symmetric in the
// logarithm where the product of two normals is a little skewed: the ends may be
// off by a fifteenth of the half-width.
func TestEffectAgreesWithDraws(t *testing.T) {
	v := loadNumpy(t).Effect
	e := Effect(norm(1.5, .3), norm(240, 1), norm(228, 1))
	near(t, "centre", e.Centre, v.Centre, 1e-12)
	near(t, "lo", e.Lo, v.Lo, 2.3e-3)
	near(t, "hi", e.Hi, v.Hi, 2.3e-3)
}

func TestExplainCovers(t *testing.T) {
	const runs = 1000
	r := rand.New(rand.NewPCG(8, 9))
	hold := 0
	for i := 0; i < runs; i++ {
		coef, lamp := 1.5, .95
		seen := norm(lamp*math.Pow(228.0/240, coef)*math.Exp(.01*r.NormFloat64()), .01)
		e := Effect(norm(coef+.3*r.NormFloat64(), .3), norm(240+r.NormFloat64(), 1), norm(228+r.NormFloat64(), 1))
		s := Explain(seen, e)
		if s.Rest.Lo <= lamp && lamp <= s.Rest.Hi {
			hold++
		}
	}
	t.Logf("95 %% intervals of the rest hold %.3f", float64(hold)/runs)
	if p := float64(hold) / runs; p < .93 || p > .975 {
		t.Errorf("hold %.3f", p)
	}
}

func TestExplainSaysWhatIsMissing(t *testing.T) {
	none := Effect(estimate.None("c", "not declared"), norm(240, 1), norm(228, 1))
	if none.Known() || !strings.Contains(none.Warnings[0], "declare the coefficient") {
		t.Errorf("got %+v", none)
	}
	s := Explain(norm(.9, .01), none)
	if s.Rest.Known() || !strings.Contains(s.Words, "cannot be said") {
		t.Errorf("got %+v", s)
	}
	s = Explain(norm(.93, .01), Effect(norm(1.5, .1), norm(240, .1), norm(228, .1)))
	if !strings.Contains(s.Words, "the supply can explain all of it") {
		t.Errorf("got %s", s.Words)
	}
	if s := Explain(estimate.None("x", "y"), norm(.9, .1)); s.Rest.Known() {
		t.Error("a change that is not known was explained")
	}
	if e := Effect(norm(1.5, .1), norm(240, 1), norm(0, 1)); e.Known() {
		t.Error("a dead line has an effect")
	}
}

func TestRatings(t *testing.T) {
	low := flatDay(209)
	for rated, want := range map[float64]string{240: "not rated for its supply: 240 V gear", 208: "rated 208 V, gets",
		277: "not rated"} {
		v, err := CheckRating(rated, low, GearTolerancePct)
		if err != nil || v.OK != (rated == 208) || !strings.HasPrefix(v.Words, want) {
			t.Errorf("%g V: %+v, %v", rated, v, err)
		}
	}
	if _, err := CheckRating(240, Profile{}, 10); err == nil {
		t.Error("a rating was held against nothing")
	}
	if _, err := CheckRating(240, low, math.NaN()); err == nil {
		t.Error("a tolerance of NaN")
	}
}
