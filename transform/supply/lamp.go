package supply

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"wane/transform/estimate"
)

// usualLevel is the probability content of the intervals made here.
const usualLevel = .95

// span is how many days with a level stand for a lamp's first and last.
const span = 14

// LampDay is a day on which a lamp's output and voltage were both read.
type LampDay struct {
	Output float64 // as read, supply and temperature not taken out; any unit
	V      float64
}

// LampEffect is what the supply does to one lamp's output.
type LampEffect struct {
	Coefficient estimate.Estimate // per cent of light for each per cent of voltage
	FirstV      estimate.Estimate // at the lamp's first days with a level
	LaterV      estimate.Estimate // at its last
	Change      estimate.Estimate // of output as read, later over first
	Share
	// AtRated is the output at the voltage of the last days over that at the
	// rated voltage, by the same coefficient.
	AtRated estimate.Estimate
}

// OnLamp says what the supply did to a lamp between its first and last days,
// which come in order. ratedV is 0 where the register gives none.
func OnLamp(days []LampDay, coefficient estimate.Estimate, ratedV float64) LampEffect {
	e := LampEffect{Coefficient: coefficient}
	n := len(days)
	if n < 2*span {
		why := fmt.Sprintf("%d days with both a level and a voltage; %d are needed", n, 2*span)
		none := estimate.None("median of days", why)
		e.FirstV, e.LaterV, e.Change, e.AtRated = none, none, none, none
		e.Share = Share{Supply: none, Rest: none, Words: why}
		return e
	}
	var output, volts []float64
	for _, d := range days {
		output, volts = append(output, d.Output), append(volts, d.V)
	}
	e.FirstV, e.LaterV = medianOfDays(volts[:span]), medianOfDays(volts[n-span:])
	e.Change = ratio(medianOfDays(output[n-span:]), medianOfDays(output[:span]))
	e.Share = Explain(e.Change, Effect(coefficient, e.FirstV, e.LaterV))
	e.AtRated = estimate.None("", "the register gives no rated voltage")
	if ratedV > 0 {
		rated := estimate.Estimate{Centre: ratedV, Lo: ratedV, Hi: ratedV, Level: usualLevel, N: 1, Method: "register"}
		e.AtRated = Effect(coefficient, rated, e.LaterV)
		if math.Abs(e.LaterV.Centre/ratedV-1) > .05 {
			e.AtRated = e.AtRated.Warn("more than 5 % from the rated voltage: a coefficient that holds near it is stretched here")
		}
	}
	return e
}

// Declared is a coefficient with the spread that is assumed for it, one sigma.
func Declared(coefficient, sd float64) estimate.Estimate {
	h := sd * distuv.UnitNormal.Quantile(.5+usualLevel/2)
	return estimate.Estimate{Centre: coefficient, Lo: coefficient - h, Hi: coefficient + h, Level: usualLevel,
		Method: "declared"}
}

// medianOfDays gives the median of days with the interval that their scatter
// allows: 1.2533 standard errors of a mean for normal scatter.
func medianOfDays(v []float64) estimate.Estimate {
	s := slices.Clone(v)
	slices.Sort(s)
	m := stat.Quantile(.5, stat.LinInterp, s, nil)
	h := distuv.UnitNormal.Quantile(.5+usualLevel/2) * 1.2533 * stat.StdDev(s, nil) / math.Sqrt(float64(len(s)))
	return estimate.Estimate{Centre: m, Lo: m - h, Hi: m + h, Level: usualLevel, N: len(s),
		Method: fmt.Sprintf("median of %d days, interval from their scatter", len(s))}
}

func ratio(a, b estimate.Estimate) estimate.Estimate {
	r := a.Centre / b.Centre
	h := math.Hypot((a.Hi-a.Centre)/a.Centre, (b.Hi-b.Centre)/b.Centre)
	return estimate.Estimate{Centre: r, Lo: r * math.Exp(-h), Hi: r * math.Exp(h), Level: usualLevel, N: a.N + b.N,
		Method: fmt.Sprintf("output as read, median of the last %d days over that of the first %d", span, span)}
}
