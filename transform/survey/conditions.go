package survey

import (
	"fmt"
	"math"

	"wane/transform/estimate"
)

// Declared are the conditions a rig is to be run under, and the rules by which
// a departure may be corrected. A zero value or nil asks nothing.
type Declared struct {
	HeightM, HeightTolM      float64 // HeightTolM 0 = 0.005 m
	SupplyV, SupplyTolPct    float64 // SupplyTolPct 0 = 1 %
	AmbientC                 *float64
	AmbientTolC              float64 // 0 = 3 degrees
	WarmUpMin                float64 // least
	SourceM                  float64 // largest dimension of the light-giving surface, m
	SupplyCoefficient        *estimate.Estimate
	SupplyCoefficientOrigin  string // where the coefficient comes from, printed with the correction
	AllowInverseSquareFactor bool   // whether the far-field rule may be used at all
}

// Flag is one departure from the declared conditions, in words.
type Flag struct {
	What  string // "height", "supply", "ambient", "warm-up"
	Words string
}

// Flags lists where a survey departs from the declared conditions, and what was
// not written down although it was asked for.
func Flags(s Survey, d Declared) []Flag {
	var out []Flag
	add := func(what, format string, a ...any) { out = append(out, Flag{what, fmt.Sprintf(format, a...)}) }
	or := func(v, def float64) float64 {
		if v == 0 {
			return def
		}
		return v
	}
	c := s.Conditions
	if d.HeightM > 0 {
		switch {
		case s.HeightM == 0:
			add("height", "height was not written down; declared %.3g m", d.HeightM)
		case math.Abs(s.HeightM-d.HeightM) > or(d.HeightTolM, .005):
			add("height", "height %.3g m, declared %.3g m", s.HeightM, d.HeightM)
		}
	}
	if d.SupplyV > 0 {
		switch {
		case c.SupplyV == nil:
			add("supply", "supply was not written down; declared %.4g V", d.SupplyV)
		case math.Abs(*c.SupplyV/d.SupplyV-1)*100 > or(d.SupplyTolPct, 1):
			add("supply", "supply %.4g V, declared %.4g V (%+.1f %%)", *c.SupplyV, d.SupplyV, 100*(*c.SupplyV/d.SupplyV-1))
		}
	}
	if d.AmbientC != nil {
		switch {
		case c.AmbientC == nil:
			add("ambient", "ambient was not written down; declared %.3g degrees Celsius", *d.AmbientC)
		case math.Abs(*c.AmbientC-*d.AmbientC) > or(d.AmbientTolC, 3):
			add("ambient", "ambient %.3g degrees Celsius, declared %.3g; no correction is known to this program", *c.AmbientC,
				*d.AmbientC)
		}
	}
	if d.WarmUpMin > 0 {
		switch {
		case c.WarmUpMin == nil:
			add("warm-up", "warm-up was not written down; at least %.3g minutes are declared", d.WarmUpMin)
		case *c.WarmUpMin < d.WarmUpMin:
			add("warm-up", "warm-up %.3g minutes, at least %.3g declared; an unsettled lamp cannot be corrected: survey again",
				*c.WarmUpMin, d.WarmUpMin)
		}
	}
	return out
}

// Correction is one declared rule applied to, or refused for, a survey.
type Correction struct {
	Rule    string
	Applied bool
	Factor  estimate.Estimate // readings are multiplied by it
	Words   string
}

// Correct brings a survey to the declared supply and height, by declared rules
// only. A rule that is not declared or does not hold is refused in words and the
// readings stay. The survey given is left alone.
func Correct(s Survey, d Declared) (Survey, []Correction) {
	var cs []Correction
	f := 1.0
	if c, ok := correctSupply(s, d); ok {
		cs = append(cs, c)
		if c.Applied {
			f *= c.Factor.Centre
			v := d.SupplyV
			s.Conditions.SupplyV = &v
		}
	}
	if d.HeightM > 0 && s.HeightM > 0 && math.Abs(s.HeightM-d.HeightM) > 1e-9 {
		c := correctHeight(s, d)
		cs = append(cs, c)
		if c.Applied {
			f *= c.Factor.Centre
			s.HeightM = d.HeightM
		}
	}
	if f != 1 {
		spots := append([]Spot(nil), s.Spots...)
		for i := range spots {
			spots[i].PPFD *= f
		}
		s.Spots = spots
	}
	return s, cs
}

func correctSupply(s Survey, d Declared) (Correction, bool) {
	v := s.Conditions.SupplyV
	if d.SupplyV == 0 || v == nil || *v == 0 || *v == d.SupplyV {
		return Correction{}, false
	}
	const method = "(declared V / V)^coefficient"
	c := Correction{Rule: "supply coefficient"}
	if d.SupplyCoefficient == nil || !d.SupplyCoefficient.Known() {
		tol := d.SupplyTolPct
		if tol == 0 {
			tol = 1
		}
		if math.Abs(*v/d.SupplyV-1)*100 <= tol {
			return Correction{}, false // as declared: nothing to refuse
		}
		c.Factor = estimate.None(method, "no supply coefficient is declared")
		c.Words = fmt.Sprintf("supply was %.4g V, declared %.4g V; not corrected: no coefficient (per cent light for each per cent of voltage) is declared for this gear, and none is built in", *v, d.SupplyV)
		return c, true
	}
	k := *d.SupplyCoefficient
	l := math.Log(d.SupplyV / *v)
	e := estimate.Estimate{Centre: math.Exp(k.Centre * l), Lo: math.Exp(k.Lo * l), Hi: math.Exp(k.Hi * l), Level: k.Level,
		N: k.N, Method: method}
	if e.Lo > e.Hi {
		e.Lo, e.Hi = e.Hi, e.Lo
	}
	c.Factor, c.Applied = e, true
	c.Words = fmt.Sprintf("supply was %.4g V, declared %.4g V: readings times %.4f (%.4f to %.4f), coefficient %.3g from %s", *v, d.SupplyV, e.Centre, e.Lo, e.Hi, k.Centre, originOr(d.SupplyCoefficientOrigin))
	return c, true
}

func originOr(s string) string {
	if s == "" {
		return "the site, origin not said"
	}
	return s
}

func correctHeight(s Survey, d Declared) Correction {
	const rule = "inverse square"
	c := Correction{Rule: rule, Factor: estimate.None(rule, "not applied")}
	if !d.AllowInverseSquareFactor {
		c.Words = fmt.Sprintf("height was %.3g m, declared %.3g m; not corrected: the inverse-square rule is not declared for this rig", s.HeightM, d.HeightM)
		return c
	}
	f, err := InverseSquare(s.HeightM, d.HeightM, d.SourceM)
	if err != nil {
		c.Words = "not corrected: " + err.Error()
		return c
	}
	p := s.plan()
	span := 0.0
	if p.metric {
		span = math.Hypot(p.x[len(p.x)-1]-p.x[0], p.y[len(p.y)-1]-p.y[0])
	}
	if !p.metric || math.Min(s.HeightM, d.HeightM) < 5*span {
		c.Words = "not corrected: the grid is wide for this height, so another height changes the angle under which the outer spots see the fixture, and with it the pattern; survey again at the declared height"
		return c
	}
	c.Applied = true
	c.Factor = estimate.Estimate{Centre: f, Lo: f * .98, Hi: f * 1.02, Level: .95,
		Method: rule + ", within 1 % each way at five times the source (IES definition 9.1.1)"}
	c.Words = fmt.Sprintf("height was %.3g m, declared %.3g m: readings times %.4f by the inverse-square law", s.HeightM,
		d.HeightM, f)
	return c
}

// InverseSquare gives the factor that carries a reading straight below a source
// from one distance to another, all in metres. It is refused where either
// distance is under five times the source's largest dimension: only from there
// on is a source of finite size within 1 % of the law (five-times rule, Note to
// IES definition 9.1.1, for a source of even luminance).
func InverseSquare(from, to, source float64) (float64, error) {
	for _, v := range []float64{from, to, source} {
		if !estimate.Finite(v) || v <= 0 {
			return 0, fmt.Errorf("the inverse-square law needs both distances and the source's largest dimension in metres, above 0; got %v, %v and %v", from, to, source)
		}
	}
	if near := math.Min(from, to); near < 5*source {
		return 0, fmt.Errorf("the inverse-square law does not hold at %.3g m from a source %.3g m long: it needs at least five times that, %.3g m; near an extended source the light falls off more slowly, and by how much depends on the fixture", near, source, 5*source)
	}
	return (from / to) * (from / to), nil
}
