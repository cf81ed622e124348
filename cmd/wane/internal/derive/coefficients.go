package derive

import (
	"maps"
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"wane/transform/calendar"
	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/hours"
	"wane/transform/level"
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

// coefficients is what the levels are made with, and what the site's own swings
// say of it: supply by gear, temperature by lamp type.
type coefficients struct {
	used    level.Corrections
	supply  map[fleet.Gear]estimate.Estimate
	ambient map[fleet.LampType]estimate.Estimate
}

// coefficientsOf estimates the coefficients from the swings of the lives, and
// weighs each with what is assumed.
func coefficientsOf(lives []*Life, swing [][]sensitivity.Day, declared level.Corrections, assumed forecast.Defaults) coefficients {
	byGear, byType := map[fleet.Gear][][]sensitivity.Day{}, map[fleet.LampType][][]sensitivity.Day{}
	for i, l := range lives {
		if len(swing[i]) > 1 {
			byGear[l.Gear] = append(byGear[l.Gear], swing[i])
			byType[l.LampType] = append(byType[l.LampType], swing[i])
		}
	}
	out := coefficients{
		used: level.Corrections{Supply: maps.Clone(declared.Supply), Ambient: maps.Clone(declared.Ambient),
			Estimate: declared.Estimate, ReferenceC: declared.ReferenceC},
		supply: map[fleet.Gear]estimate.Estimate{}, ambient: map[fleet.LampType]estimate.Estimate{},
	}
	gears, types := slices.Sorted(maps.Keys(byGear)), slices.Sorted(maps.Keys(byType))
	of := make([]estimate.Estimate, len(gears)+len(types))
	each(len(of), func(i int) {
		if i < len(gears) {
			of[i] = sensitivity.Estimate(byGear[gears[i]], coefficientLevel).Supply
		} else {
			of[i] = sensitivity.Estimate(byType[types[i-len(gears)]], coefficientLevel).Ambient
		}
	})
	for i, g := range gears {
		out.supply[g] = of[i]
		if declared.Estimate && of[i].Known() {
			out.used.Supply[g] = combined(supplyPrior(assumed, declared, g), of[i], leastSupply).Mean
		}
	}
	for i, t := range types {
		e := of[len(gears)+i]
		out.ambient[t] = e
		if declared.Estimate && e.Known() {
			out.used.Ambient[t] = combined(ambientPrior(assumed, declared, t), e, leastAmbient).Mean
		}
	}
	return out
}

// give tells each life what its levels are made with.
func (c *coefficients) give(lives []*Life) {
	none := estimate.None("day-to-day differences", "no lamp of this kind has readings on days that follow each other")
	for _, l := range lives {
		l.Corrected, l.Supply, l.Ambient = c.used, none, none
		if e, ok := c.supply[l.Gear]; ok {
			l.Supply = e
		}
		if e, ok := c.ambient[l.LampType]; ok {
			l.Ambient = e
		}
	}
}

// energyHours is how long the lamp burned a day by the energy meter that
// watches it: energy over the rated power of all fixtures on that meter, over
// the days on which it advanced. A fall from the top of its face to the bottom
// is a rollover, any other a reset or another meter; an advance beyond what the
// rated power can draw is another meter too. Neither of these counts. The
// interval takes 5 % for rated against true power (common practice, no source).
func energyHours(reg *fleet.Register, shared metered, f *fleet.Fixture, rows []DailyRow, first,
	last int32) estimate.Estimate {
	const most = 1.25 // times rated power: more is not drawn (common practice, no source)
	var kwh float64
	rated := shared.power(reg, f, first)
	days := 0
	prev := math.NaN()
	prevDay := int32(0)
	for _, r := range rows {
		if r.Day.Day < first || r.Day.Day > last || !r.Energy.Read() {
			continue
		}
		if r.Day.Day == prevDay+1 && prev >= 0 {
			if adv, step := hours.Advanced(prev, r.Energy.Last, most*rated/1000*r.Hours); step == hours.Advance ||
				step == hours.Rollover {
				kwh += adv
				days++
			}
		}
		prev, prevDay = r.Energy.Last, r.Day.Day
	}
	if days == 0 || rated <= 0 {
		return energyOf(math.NaN(), 0)
	}
	return energyOf(kwh*1000/rated/float64(days), days)
}

// metered is the fixtures that each energy meter watches at some time.
type metered map[*fleet.SensorPeriod][]*fleet.Fixture

// meteredBy finds them once for all lives.
func meteredBy(reg *fleet.Register) metered {
	out := metered{}
	if !slices.ContainsFunc(reg.Sensors, func(p fleet.SensorPeriod) bool { return p.Quantity == fleet.Energy }) {
		return out
	}
	for i := range reg.Fixtures {
		f := &reg.Fixtures[i]
		for _, w := range reg.Watched(f, fleet.Energy) {
			if !slices.Contains(out[w.Row], f) {
				out[w.Row] = append(out[w.Row], f)
			}
		}
	}
	return out
}

// power is the rated power, W, of all fixtures on the energy meter that watches
// f; 0 where one of them has none.
func (of metered) power(reg *fleet.Register, f *fleet.Fixture, day int32) float64 {
	at := calendar.Date(day).Add(36 * time.Hour)
	m := reg.Watch(f, fleet.Energy, at)
	if m == nil {
		return 0
	}
	total := 0.0
	for _, g := range of[m] {
		if reg.Watch(g, fleet.Energy, at) != m {
			continue
		}
		if g.RatedW <= 0 {
			return 0
		}
		total += g.RatedW
	}
	return total
}
