package yearly

import (
	"fmt"
	"math"
	"sort"

	"wane/cmd/wane/internal/derive"
	"wane/transform/due"
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
	err := g.ask(due.Question{AsOf: g.in.AsOf, Gone: g.in.First}, func(res *due.Result) {
		g.in.Now = g.said(res.Due, func(lifeKey) float64 { return 365 })
		g.in.Gone = g.said(res.Gone, func(lifeKey) float64 { return math.NaN() })
	})
	if err != nil {
		return fmt.Errorf("forecast at the year's end: %w", err)
	}
	if g.in.First-r.First < fewestDays {
		return nil
	}
	left := map[lifeKey]int32{}
	for i := range g.in.Lives {
		if l := &g.in.Lives[i]; l.Left > 0 {
			left[lifeKey{l.Fixture, l.N}] = l.Left
		}
	}
	err = g.ask(due.Question{AsOf: g.in.First - 1}, func(res *due.Result) {
		g.in.Was = g.said(res.Due, func(k lifeKey) float64 { // a lamp that was taken out could cross until then
			until := g.in.AsOf
			if d, ok := left[k]; ok {
				until = min(until, d-1)
			}
			return float64(max(0, until-g.in.First+1))
		})
	})
	if err != nil {
		return fmt.Errorf("forecast at the year's start: %w", err)
	}
	return nil
}

// ask hands what is said of all lamps to use.
func (g *gatherer) ask(q due.Question, use func(*due.Result)) error {
	res, err := derive.Ask(g.ctx, g.a, g.site, q)
	if err != nil {
		return err
	}
	use(res.Result)
	return res.Close()
}

// said turns answers into plain facts; ahead is for how many days a lamp may
// cross yet.
func (g *gatherer) said(list []due.Lamp, ahead func(lifeKey) float64) []yearly.Forecast {
	out := make([]yearly.Forecast, 0, len(list))
	for i := range list {
		d := &list[i]
		k := lifeKey{d.Life.Fixture.ID, d.Life.N}
		f := yearly.Forecast{
			Fixture: k.fixture, Life: k.n, Status: string(d.Answer.Status), Threshold: d.Threshold, Hours: d.Life.HoursNow(),
			Level: yearly.Value{Estimate: d.Answer.Level}, DueDay: yearly.Value{Estimate: d.Answer.DueDay},
			Lamp: yearly.Value{Estimate: d.Answer.Decline.Lamp}, Dirt: yearly.Value{Estimate: d.Answer.Decline.Dirt},
			Sensor:     yearly.Value{Estimate: d.Answer.Decline.Sensor},
			YearChance: math.NaN(), Crossed: yearly.NotForecast("no usable readings"),
			Warranted: yearly.NotForecast("nothing was promised"),
		}
		if f.Status == "" {
			f.Status = string(forecast.StatusNoData)
		}
		if p := d.Posterior; p != nil {
			switch d.Answer.Status {
			case forecast.StatusForecast, forecast.StatusBeyond:
				f.YearChance = yearly.ChanceUnder(p, p.HoursNow+p.Burn.PerDay*ahead(k), d.Threshold)
			}
			f.Crossed = crossed(d)
			if t := g.terms[k]; t != nil {
				f.Warranted = yearly.OwnLevel(p, math.Min(p.HoursNow, t.Hours), confidence)
			}
		}
		out = append(out, f)
	}
	return out
}

// crossed finds the day on which a lamp's own level fell under its threshold.
func crossed(d *due.Lamp) yearly.Value {
	l := d.Life.WithSeries()
	return yearly.Crossed(d.Posterior, d.Threshold, d.Interval, d.Life.HoursNow(), func(hours float64) float64 {
		i := sort.Search(len(l.Totals), func(i int) bool { return l.Totals[i].Hours >= hours })
		if i == len(l.Totals) {
			return float64(l.LastDay)
		}
		return float64(l.Totals[i].Day)
	})
}
