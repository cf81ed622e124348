package yearly

import (
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"

	"wane/cmd/wane/internal/derive"
	"wane/transform/estimate"
	"wane/transform/forecast"
	"wane/transform/yearly"
)

// fewestDays is how much record a forecast at the year's start needs at all.
const fewestDays = 30

// forecasts asks the lamps at both ends of the year, each time with what was
// known then. At the end lamps that the year took out are asked too.
func (g *gatherer) forecasts() error {
	r := g.in.Record
	if r.Empty() || r.Last < g.in.First {
		return nil
	}
	res, err := derive.Ask(g.ctx, g.a, g.site, derive.Question{AsOf: g.in.AsOf, Gone: g.in.First})
	if err != nil {
		return fmt.Errorf("forecast at the year's end: %w", err)
	}
	g.in.Now = g.said(res.Due, func(lifeKey) float64 { return 365 })
	g.in.Gone = g.said(res.Gone, func(lifeKey) float64 { return math.NaN() })
	if g.in.First-r.First < fewestDays {
		return nil
	}
	if res, err = derive.Ask(g.ctx, g.a, g.site, derive.Question{AsOf: g.in.First - 1}); err != nil {
		return fmt.Errorf("forecast at the year's start: %w", err)
	}
	left := map[lifeKey]int32{}
	for i := range g.in.Lives {
		if l := &g.in.Lives[i]; l.Left > 0 {
			left[lifeKey{l.Fixture, l.N}] = l.Left
		}
	}
	g.in.Was = g.said(res.Due, func(k lifeKey) float64 { // a lamp that was taken out could cross until then
		until := g.in.AsOf
		if d, ok := left[k]; ok {
			until = min(until, d-1)
		}
		return float64(max(0, until-g.in.First+1))
	})
	return nil
}

// said turns answers into plain facts; ahead is for how many days a lamp may
// cross yet.
func (g *gatherer) said(list []derive.Due, ahead func(lifeKey) float64) []yearly.Forecast {
	out := make([]yearly.Forecast, 0, len(list))
	for i := range list {
		d := &list[i]
		k := lifeKey{d.Life.Fixture.ID, d.Life.N}
		f := yearly.Forecast{
			Fixture: k.fixture, Life: k.n, Status: string(d.Answer.Status), Threshold: d.Threshold, Hours: d.Life.HoursNow(),
			Level: yearly.Value{Estimate: d.Answer.Level}, DueDay: yearly.Value{Estimate: d.Answer.DueDay},
			Lamp: yearly.Value{Estimate: d.Answer.Decline.Lamp}, Dirt: yearly.Value{Estimate: d.Answer.Decline.Dirt}, Sensor: yearly.Value{Estimate: d.Answer.Decline.Sensor},
			YearChance: math.NaN(), Crossed: none("no usable readings"), Warranted: none("nothing was promised"),
		}
		if f.Status == "" {
			f.Status = string(forecast.StatusNoData)
		}
		if p := d.Posterior; p != nil {
			switch d.Answer.Status {
			case forecast.StatusForecast, forecast.StatusBeyond:
				f.YearChance = under(p, p.HoursNow+p.Burn.PerDay*ahead(k), d.Threshold)
			}
			f.Crossed = crossed(d)
			if t := g.terms[k]; t != nil {
				f.Warranted = yearly.Value{Estimate: levelAt(p, math.Min(p.HoursNow, t.Hours), confidence)}
			}
		}
		out = append(out, f)
	}
	return out
}

func none(why string) yearly.Value {
	return yearly.Value{Estimate: estimate.None(forecast.Method, why)}
}

// crossed gives the day on which a lamp's own level fell under its threshold
// while it burned. The interval ends where the record of the life does.
func crossed(d *derive.Due) yearly.Value {
	z := distuv.UnitNormal.Quantile((1 + d.Interval) / 2)
	c := d.Posterior.Cross(d.Threshold, z)
	if !(c.Centre <= d.Life.HoursNow()) {
		return none("not crossed")
	}
	l := d.Life.WithSeries()
	at := func(hours float64) float64 {
		i := sort.Search(len(l.Totals), func(i int) bool { return l.Totals[i].Hours >= hours })
		if i == len(l.Totals) {
			return float64(l.LastDay)
		}
		return float64(l.Totals[i].Day)
	}
	e := estimate.Estimate{Centre: at(c.Centre), Lo: at(c.Lo), Hi: at(c.Hi), Level: d.Interval, N: d.Posterior.Blocks, Method: forecast.Method}
	if c.Hi > d.Life.HoursNow() {
		e.Hi = math.Inf(1)
	}
	return yearly.Value{Estimate: e}
}

// under is the chance that the lamp's own level at run-hours lies under a level.
func under(p *forecast.Posterior, hours, level float64) float64 {
	mean, sd := p.Output(hours)
	if !(sd > 0) {
		return math.NaN()
	}
	return distuv.UnitNormal.CDF((math.Log(level) - mean) / sd)
}

// levelAt is the lamp's own level at run-hours, dirt and drift of the sensor taken out.
func levelAt(p *forecast.Posterior, hours, interval float64) estimate.Estimate {
	mean, sd := p.Output(hours)
	if math.IsNaN(mean) || !(sd >= 0) {
		return estimate.None(forecast.Method, "the model does not reach to these run-hours")
	}
	z := distuv.UnitNormal.Quantile((1 + interval) / 2)
	return estimate.Estimate{Centre: math.Exp(mean), Lo: math.Exp(mean - z*sd), Hi: math.Exp(mean + z*sd), Level: interval, N: p.Blocks, Method: forecast.Method}
}
