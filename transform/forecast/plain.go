package forecast

import (
	"math"
	"sort"
)

// The plain methods stand beside the pooled model in every backtest, on the
// same rows: today's habits, and the photovoltaic field's robust one.

// Names of the plain methods.
const (
	PlainLinear      = "straight line, raw readings"
	PlainExponential = "exponential, readings corrected"
	PlainTypical     = "typical value of the lamp type"
	PlainYears       = "multi-annual year-on-year slope"
)

// PlainMethods in the order they are printed.
var PlainMethods = []string{PlainLinear, PlainExponential, PlainTypical, PlainYears}

// Plain asks one plain method for one lamp as of in.AsOf. It reports false
// where the method gives no answer: too few readings, or no decline.
func Plain(method string, in *Input, lamp int, interval float64) (Crossing, bool) {
	l := &in.Lamps[lamp]
	d := in.Defaults
	if d.Classes == nil {
		d = DefaultTable()
	}
	b := usableBins(l.Bins, in.AsOf)
	z := normalQuantile(interval)
	switch method {
	case PlainLinear:
		return plainLinear(b, l.Threshold, z)
	case PlainExponential:
		return plainExponential(b, corrections(in, l, d, b), l.Threshold, z)
	case PlainTypical:
		return plainTypical(d.Classes[l.Class], l.Threshold, z)
	default:
		return plainYears(b, l.Threshold, z)
	}
}

// invert finds where the value mean(h) with spread sd(h) falls under nil.
func invertBand(mean, sd func(h float64) float64, z float64) Crossing {
	find := func(f func(float64) float64) float64 {
		step := 250.0
		for h := Seasoning + step; h <= horizon; h += step {
			if f(h) <= 0 {
				a, b := f(h-step), f(h)
				if a <= b {
					return h
				}
				return h - step + step*a/(a-b)
			}
		}
		return math.Inf(1)
	}
	return Crossing{find(mean), find(func(h float64) float64 { return mean(h) - z*sd(h) }),
		find(func(h float64) float64 { return mean(h) + z*sd(h) })}
}

// plainLinear: output = A + B h; due where it falls under threshold times the
// line's value at 100 h.
func plainLinear(b []Bin, threshold, z float64) (Crossing, bool) {
	x, y := make([]float64, len(b)), make([]float64, len(b))
	for k := range b {
		x[k], y[k] = b[k].Hours, math.Exp(b[k].LnOut)
	}
	l, err := FitLine(x, y)
	if err != nil || l.B >= 0 {
		return Crossing{}, false
	}
	ca := 1 - threshold
	return invertBand(
		func(h float64) float64 { return ca*l.A + (h-threshold*Seasoning)*l.B },
		func(h float64) float64 {
			cb := h - threshold*Seasoning
			return math.Sqrt(ca*ca*l.AA + 2*ca*cb*l.AB + cb*cb*l.BB)
		}, z), true
}

// plainExponential: output = B exp(-alpha h) on corrected readings.
func plainExponential(b []Bin, corr []float64, threshold, z float64) (Crossing, bool) {
	x, y, ln := make([]float64, len(b)), make([]float64, len(b)), make([]float64, len(b))
	scale := 0.0
	for k := range b {
		x[k], ln[k] = b[k].Hours/1e4, b[k].LnOut-corr[k]
		scale += ln[k] / float64(len(b))
	}
	for k := range b {
		ln[k] -= scale
		y[k] = math.Exp(ln[k])
	}
	l, err := FitLine(x, ln)
	if err != nil {
		return Crossing{}, false
	}
	p, cov, _, err := FitCurve(Exponential, x, y, []float64{math.Exp(l.A), -l.B})
	if err != nil || p[1] <= 0 {
		return Crossing{}, false
	}
	s := math.Sqrt(cov.At(1, 1))
	at := func(a float64) float64 {
		if a <= 0 {
			return math.Inf(1)
		}
		return Seasoning + 1e4*(-math.Log(threshold))/a
	}
	return Crossing{at(p[1]), at(p[1] + z*s), at(p[1] - z*s)}, at(p[1]) < horizon
}

// corrections gives what is taken off ln readings: gain along a straight line
// between recalibrations with a noted factor, and at the mean of those rates
// elsewhere; voltage and temperature by the declared coefficients.
func corrections(in *Input, l *Lamp, d Defaults, b []Bin) []float64 {
	g := &in.Groups[l.Group]
	type leg struct {
		from, to int
		rate     float64
		known    bool
	}
	legs := []leg{{from: g.Start}}
	sum, years := 0.0, 0.0
	for _, r := range g.Recals {
		if r.Day > in.AsOf || r.Day <= g.Start || r.SensorClean {
			continue
		}
		k := len(legs) - 1
		legs[k].to = r.Day
		if t := float64(r.Day-legs[k].from) / 365.25; r.AsFound > 0 && t > 0 {
			legs[k].rate, legs[k].known = math.Log(r.AsFound)/t, true
			sum += math.Log(r.AsFound)
			years += t
		}
		legs = append(legs, leg{from: r.Day})
	}
	mean := 0.0
	if years > 0 {
		mean = sum / years
	}
	sup, ok := d.Supply[l.Gear]
	if !ok {
		sup = d.Supply[UnknownGear]
	}
	out := make([]float64, len(b))
	k := 0
	for i := range b {
		for k+1 < len(legs) && legs[k+1].from <= b[i].Day {
			k++
		}
		rate := mean
		if legs[k].known {
			rate = legs[k].rate
		}
		out[i] = rate * float64(b[i].Day-legs[k].from) / 365.25
		if b[i].HasSupply {
			out[i] += sup.Mean * b[i].Supply
		}
		if b[i].HasAmbient {
			out[i] += d.Classes[l.Class].Ambient.Mean * (b[i].Ambient - 25)
		}
	}
	return out
}

// plainTypical reads no data: the lamp type's assumed mean and spread.
func plainTypical(c ClassDefaults, threshold, z float64) (Crossing, bool) {
	s := c.Slope.Mean
	sds := [3]float64{math.Hypot(c.Slope.SD, s*math.Hypot(c.SlopeLot, c.SlopeLamp)),
		s * math.Hypot(c.Shape.SD, math.Hypot(c.ShapeLot, c.ShapeLamp)),
		math.Hypot(c.Early.SD, math.Hypot(c.EarlyLot, c.EarlyLamp))}
	target := -math.Log(threshold)
	return invertBand(
		func(h float64) float64 {
			g1, _, g3 := basis(h, c.Tau, c.Shape.Mean)
			return target - s*g1 + c.Early.Mean*g3
		},
		func(h float64) float64 {
			g1, g2, g3 := basis(h, c.Tau, c.Shape.Mean)
			return math.Sqrt(g1*g1*sds[0]*sds[0] + g2*g2*sds[1]*sds[1] + g3*g3*sds[2]*sds[2])
		}, z), true
}

// plainYears: the median over all pairs of bins a year apart of the change
// in ln output per hour burnt between them; its interval from order statistics
// as if the pairs were independent, as that method is used.
func plainYears(b []Bin, threshold, z float64) (Crossing, bool) {
	var slopes []float64
	j := 0
	for i := range b {
		for j < len(b) && b[j].Day < b[i].Day+365-3 {
			j++
		}
		if j < len(b) && b[j].Day <= b[i].Day+365+4 && b[j].Hours > b[i].Hours {
			slopes = append(slopes, -(b[j].LnOut-b[i].LnOut)/(b[j].Hours-b[i].Hours))
		}
	}
	n := len(slopes)
	if n < 10 {
		return Crossing{}, false
	}
	sort.Float64s(slopes)
	half := z * math.Sqrt(float64(n)) / 2
	at := func(rank float64) float64 {
		s := slopes[min(max(int(math.Round(rank)), 0), n-1)]
		if s <= 0 {
			return math.Inf(1)
		}
		return Seasoning - math.Log(threshold)/s
	}
	mid := float64(n-1) / 2
	c := Crossing{at(mid), at(mid + half), at(mid - half)}
	return c, c.Centre < horizon
}
