package lamp

import (
	"math"
	"slices"
	"time"
	"wane/transform/calendar"
	"wane/transform/daily"
	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/hours"
)

// energyHours is how long the lamp burned a day by the energy meter that
// watches it: energy over the rated power of all fixtures on that meter, over
// the days on which it advanced. A fall from the top of its face to the bottom
// is a rollover, any other a reset or another meter; an advance beyond what the
// rated power can draw is another meter too. Neither of these counts. The
// interval takes 5 % for rated against true power (common practice, no source).
func energyHours(reg *fleet.Register, shared metered, f *fleet.Fixture, rows []daily.Row, first,
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
		return EnergyOf(math.NaN(), 0)
	}
	return EnergyOf(kwh*1000/rated/float64(days), days)
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

// EnergyOf is what an energy meter says of a lamp's burning, h a day.
func EnergyOf(h float64, days int) estimate.Estimate {
	const method = "energy over rated power"
	const relative = 0.05
	if days == 0 || math.IsNaN(h) {
		return estimate.None(method, "no energy meter with the rated power of all that hangs on it")
	}
	return estimate.Estimate{Centre: h, Lo: h * (1 - relative), Hi: h * (1 + relative), Level: 0.8, N: days,
		Method:   method,
		Warnings: []string{"rated power taken for true power: dimming lowers this evidence"}}
}
