package derive

import (
	"math"
	"slices"
	"time"

	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/hours"
	"wane/transform/level"
	"wane/transform/sensitivity"
)

// coefficientLevel is the probability content of the intervals of estimated
// coefficients.
const coefficientLevel = 0.9

// An estimated coefficient replaces a declared one where half its interval is
// at most this: per cent of light per per cent of voltage, and per degree. At a
// usual swing of 1 % and 5 degrees that is 0.3 % and 0.5 % of light.
const (
	narrowSupply  = 0.3
	narrowAmbient = 0.001
)

// coefficients estimates the site's own coefficients, of supply by gear and of
// temperature by lamp type, and settles with which each life's levels are made.
func coefficients(lives []*Life, declared level.Corrections) {
	byGear, byType := map[fleet.Gear][][]sensitivity.Day{}, map[fleet.LampType][][]sensitivity.Day{}
	for _, l := range lives {
		if len(l.swing) > 1 {
			byGear[l.Gear] = append(byGear[l.Gear], l.swing)
			byType[l.LampType] = append(byType[l.LampType], l.swing)
		}
		l.swing = nil
	}
	supply, ambient := map[fleet.Gear]estimate.Estimate{}, map[fleet.LampType]estimate.Estimate{}
	for g, lamps := range byGear {
		supply[g] = sensitivity.Estimate(lamps, coefficientLevel).Supply
	}
	for t, lamps := range byType {
		ambient[t] = sensitivity.Estimate(lamps, coefficientLevel).Ambient
	}
	used := level.Corrections{
		Supply: map[fleet.Gear]float64{}, Ambient: map[fleet.LampType]float64{}, Estimate: declared.Estimate, ReferenceC: declared.ReferenceC,
	}
	for g, v := range declared.Supply {
		used.Supply[g] = v
	}
	for t, v := range declared.Ambient {
		used.Ambient[t] = v
	}
	if declared.Estimate {
		for g, e := range supply {
			if e.Known() && (e.Hi-e.Lo)/2 <= narrowSupply {
				used.Supply[g] = e.Centre
			}
		}
		for t, e := range ambient {
			if e.Known() && (e.Hi-e.Lo)/2 <= narrowAmbient {
				used.Ambient[t] = e.Centre
			}
		}
	}
	none := estimate.None("day-to-day differences", "no lamp of this kind has readings on days that follow each other")
	for _, l := range lives {
		l.Corrected, l.Supply, l.Ambient = used, none, none
		if e, ok := supply[l.Gear]; ok {
			l.Supply = e
		}
		if e, ok := ambient[l.LampType]; ok {
			l.Ambient = e
		}
	}
}

// swings gives the life's days as the estimation takes them: undimmed, since a
// dimmed lamp answers the voltage by its driver.
func (l *Life) swings() []sensitivity.Day {
	out := make([]sensitivity.Day, 0, len(l.Days))
	for _, d := range l.Days {
		if math.IsNaN(d.PPFD) || d.PPFD <= 0 || d.DimPct != 100 {
			continue
		}
		out = append(out, sensitivity.Day{Day: d.Day, Out: math.Log(d.PPFD), Supply: math.Log(d.SupplyV), Ambient: d.AmbientC})
	}
	return out
}

// energyHours is how long the lamp burned a day by the energy meter that
// watches it: energy over the rated power of all fixtures on that meter, over
// the days on which it advanced. A fall from the top of its face to the bottom
// is a rollover, any other a reset or another meter; an advance beyond what the
// rated power can draw is another meter too. Neither of these counts. The
// interval takes 5 % for rated against true power (common practice, no source).
func energyHours(reg *fleet.Register, shared metered, f *fleet.Fixture, rows []DailyRow, first, last int32) estimate.Estimate {
	const method = "energy over rated power"
	const relative = 0.05
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
			if adv, step := hours.Advanced(prev, r.Energy.Last, most*rated/1000*r.Hours); step == hours.Advance || step == hours.Rollover {
				kwh += adv
				days++
			}
		}
		prev, prevDay = r.Energy.Last, r.Day.Day
	}
	if days == 0 || rated <= 0 {
		return estimate.None(method, "no energy meter with the rated power of all that hangs on it")
	}
	h := kwh * 1000 / rated / float64(days)
	return estimate.Estimate{Centre: h, Lo: h * (1 - relative), Hi: h * (1 + relative), Level: 0.8, N: days, Method: method,
		Warnings: []string{"rated power taken for true power: dimming lowers this witness"}}
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
		for _, at := range append([]time.Time{{}}, reg.WatchChanges(f)...) {
			if m := reg.Watch(f, fleet.Energy, at); m != nil && !slices.Contains(out[m], f) {
				out[m] = append(out[m], f)
			}
		}
	}
	return out
}

// power is the rated power, W, of all fixtures on the energy meter that watches
// f; 0 where one of them has none.
func (of metered) power(reg *fleet.Register, f *fleet.Fixture, day int32) float64 {
	at := Date(day).Add(36 * time.Hour)
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
