package supply

import (
	"fmt"
	"math"

	"wane/transform/estimate"

	"gonum.org/v1/gonum/stat/distuv"
)

// Effect gives the ratio of light output, later over first, that a change of
// voltage makes by itself: (later V / first V)^coefficient, where the
// coefficient is per cent of light for each per cent of voltage, declared by the
// site for its gear with an interval (published sources give none for HPS gear,
// so there is no default). Intervals are taken as normal and independent.
func Effect(coefficient, firstV, laterV estimate.Estimate) estimate.Estimate {
	const method = "(V later / V first)^coefficient, declared coefficient"
	for _, e := range []estimate.Estimate{coefficient, firstV, laterV} {
		if !e.Known() || !e.Bounded() || !(e.Level > 0 && e.Level < 1) {
			return estimate.None(method, "coefficient and both voltages are needed, each with an interval; declare the coefficient of this gear in per cent of light for each per cent of voltage")
		}
	}
	if firstV.Centre <= 0 || laterV.Centre <= 0 {
		return estimate.None(method, "a voltage is 0: the lamp was not lit by it")
	}
	c, sc := coefficient.Centre, sd(coefficient)
	l := math.Log(laterV.Centre / firstV.Centre)
	sl := math.Hypot(sd(firstV)/firstV.Centre, sd(laterV)/laterV.Centre)
	// exact variance of a product of independents
	s := math.Sqrt(l*l*sc*sc + c*c*sl*sl + sc*sc*sl*sl)
	z := distuv.UnitNormal.Quantile(.5 + coefficient.Level/2)
	r := math.Exp(c * l)
	return estimate.Estimate{Centre: r, Lo: r * math.Exp(-z*s), Hi: r * math.Exp(z*s), Level: coefficient.Level,
		N: min(firstV.N, laterV.N), Method: method}
}

// Share is how much of a change the supply accounts for.
type Share struct {
	Supply estimate.Estimate // ratio the voltage makes by itself
	Rest   estimate.Estimate // ratio left for lamp, dirt and the rest
	Words  string
}

// Explain parts an apparent change of output (ratio, later over first) into
// what the supply makes and the rest.
func Explain(change, effect estimate.Estimate) Share {
	const method = "change / effect of the supply"
	if !change.Known() || !change.Bounded() || change.Lo <= 0 || !(change.Level > 0 && change.Level < 1) {
		return Share{Supply: effect, Rest: estimate.None(method,
			"the change of output is not known with an interval above 0"),
			Words: "the change of output is not known well enough to part it"}
	}
	if !effect.Known() || !effect.Bounded() || effect.Lo <= 0 {
		why := "the effect of the supply is not known"
		if len(effect.Warnings) > 0 {
			why = effect.Warnings[0]
		}
		return Share{Supply: effect, Rest: estimate.None(method, why),
			Words: "how much the supply explains cannot be said: " + why}
	}
	s := math.Hypot(sdLog(change), sdLog(effect))
	z := distuv.UnitNormal.Quantile(.5 + change.Level/2)
	r := change.Centre / effect.Centre
	rest := estimate.Estimate{Centre: r, Lo: r * math.Exp(-z*s), Hi: r * math.Exp(z*s), Level: change.Level, N: change.N,
		Method: method}
	pct := func(e estimate.Estimate) string {
		return fmt.Sprintf("%+.1f %% (%+.1f to %+.1f)", 100*(e.Centre-1), 100*(e.Lo-1), 100*(e.Hi-1))
	}
	w := fmt.Sprintf("output changed by %s; the supply makes %s of it, the rest is %s", pct(change), pct(effect),
		pct(rest))
	if rest.Lo <= 1 && rest.Hi >= 1 {
		w += ": the supply can explain all of it"
	}
	return Share{effect, rest, w}
}

func sd(e estimate.Estimate) float64 {
	return (e.Hi - e.Lo) / (2 * distuv.UnitNormal.Quantile(.5+e.Level/2))
}

func sdLog(e estimate.Estimate) float64 {
	return math.Log(e.Hi/e.Lo) / (2 * distuv.UnitNormal.Quantile(.5+e.Level/2))
}
