package lamp

import (
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/level"
	"wane/transform/parallel"
	"wane/transform/sensitivity"
)

// coefficientLevel is the probability content of the intervals of estimated
// coefficients.
const coefficientLevel = 0.9

// Least errors of a coefficient, per cent of light per per cent of voltage and ln
// per degree: estimates from swings are not better than that (common practice, no
// source).
const (
	leastSupply  = 0.03
	leastAmbient = 0.0001
)

// combined weighs an assumed coefficient and the site's own by their errors. The
// levels, the weeks and the forecast go by the same one.
func combined(p forecast.Prior, e estimate.Estimate, least float64) forecast.Prior {
	if !e.Known() {
		return p
	}
	se := math.Max((e.Hi-e.Lo)/2/distuv.UnitNormal.Quantile(.5+coefficientLevel/2), least)
	a, b := 1/(p.SD*p.SD), 1/(se*se)
	return forecast.Prior{Mean: (a*p.Mean + b*e.Centre) / (a + b), SD: 1 / math.Sqrt(a+b),
		Basis: "this site's day-to-day swings, weighed with: " + p.Basis}
}

// supplyPrior is what is assumed of a gear's coefficient: the site's declared value
// with the spread of the forecast's.
func supplyPrior(d forecast.Defaults, declared level.Corrections, g fleet.Gear) forecast.Prior {
	key := string(g)
	if _, ok := d.Supply[key]; !ok {
		key = forecast.UnknownGear
	}
	p := d.Supply[key]
	if v, ok := declared.Supply[g]; ok {
		p.Mean = v
	}
	return p
}

func ambientPrior(d forecast.Defaults, declared level.Corrections, t fleet.LampType) forecast.Prior {
	p := d.Classes[string(t)].Ambient
	if v, ok := declared.Ambient[t]; ok {
		p.Mean = v
	}
	return p
}

// Coefficients is what the levels are made with, and what the site's own swings
// say of it: supply by gear, temperature by lamp type.
type Coefficients struct {
	Used    level.Corrections
	Supply  map[fleet.Gear]estimate.Estimate
	Ambient map[fleet.LampType]estimate.Estimate
}

// CoefficientsOf estimates the coefficients from the swings of the lives, and
// weighs each with what is assumed.
func CoefficientsOf(lives []*Life, swing [][]sensitivity.Day, declared level.Corrections,
	assumed forecast.Defaults) Coefficients {
	byGear, byType := map[fleet.Gear][][]sensitivity.Day{}, map[fleet.LampType][][]sensitivity.Day{}
	for i, l := range lives {
		if len(swing[i]) > 1 {
			byGear[l.Gear] = append(byGear[l.Gear], swing[i])
			byType[l.LampType] = append(byType[l.LampType], swing[i])
		}
	}
	out := Coefficients{
		Used: level.Corrections{Supply: maps.Clone(declared.Supply), Ambient: maps.Clone(declared.Ambient),
			Estimate: declared.Estimate, ReferenceC: declared.ReferenceC},
		Supply: map[fleet.Gear]estimate.Estimate{}, Ambient: map[fleet.LampType]estimate.Estimate{},
	}
	gears, types := slices.Sorted(maps.Keys(byGear)), slices.Sorted(maps.Keys(byType))
	of := make([]estimate.Estimate, len(gears)+len(types))
	parallel.For(len(of), func(i int) {
		if i < len(gears) {
			of[i] = sensitivity.Estimate(byGear[gears[i]], coefficientLevel).Supply
		} else {
			of[i] = sensitivity.Estimate(byType[types[i-len(gears)]], coefficientLevel).Ambient
		}
	})
	for i, g := range gears {
		out.Supply[g] = of[i]
		if declared.Estimate && of[i].Known() {
			out.Used.Supply[g] = combined(supplyPrior(assumed, declared, g), of[i], leastSupply).Mean
		}
	}
	for i, t := range types {
		e := of[len(gears)+i]
		out.Ambient[t] = e
		if declared.Estimate && e.Known() {
			out.Used.Ambient[t] = combined(ambientPrior(assumed, declared, t), e, leastAmbient).Mean
		}
	}
	return out
}

// Give tells each life what its levels are made with.
func (c *Coefficients) Give(lives []*Life) {
	none := estimate.None("day-to-day differences", "no lamp of this kind has readings on days that follow each other")
	for _, l := range lives {
		l.Corrected, l.Supply, l.Ambient = c.Used, none, none
		if e, ok := c.Supply[l.Gear]; ok {
			l.Supply = e
		}
		if e, ok := c.Ambient[l.LampType]; ok {
			l.Ambient = e
		}
	}
}

// OwnDefaults is what is assumed, with the site's own coefficients where its
// swings tell of them: those that the levels were made with.
func OwnDefaults(rules Rules, lives []*Life) forecast.Defaults {
	d := rules.Forecast
	if d.Classes == nil {
		d = forecast.DefaultTable()
	}
	declared := rules.Corrections
	if !declared.Estimate {
		return d
	}
	assumed := d
	d.Supply, d.Classes = maps.Clone(d.Supply), maps.Clone(d.Classes)
	for _, l := range lives {
		gear := string(l.Gear)
		if gear == "" {
			gear = forecast.UnknownGear
		}
		d.Supply[gear] = combined(supplyPrior(assumed, declared, l.Gear), l.Supply, leastSupply)
		if c, ok := assumed.Classes[string(l.LampType)]; ok {
			c.Ambient = combined(ambientPrior(assumed, declared, l.LampType), l.Ambient, leastAmbient)
			d.Classes[string(l.LampType)] = c
		}
	}
	return d
}
