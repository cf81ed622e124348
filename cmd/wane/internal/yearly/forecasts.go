package yearly

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"wane/cmd/wane/internal/derive"
	"wane/transform/estimate"
	"wane/transform/forecast"
	"wane/transform/yearly"
)

// fewestDays is how much record a forecast at the year's start needs at all.
const fewestDays = 30

// forecasts asks the lamps at both ends of the year, each time with what was
// known then.
func (g *gatherer) forecasts() error {
	r := g.in.Record
	if r.Empty() || r.Last < g.in.First {
		return nil
	}
	var err error
	if g.in.Now, err = g.asked(g.in.AsOf, 365); err != nil {
		return fmt.Errorf("forecast at the year's end: %w", err)
	}
	if g.in.First-r.First >= fewestDays {
		if g.in.Was, err = g.asked(g.in.First-1, float64(g.in.AsOf-g.in.First+1)); err != nil {
			return fmt.Errorf("forecast at the year's start: %w", err)
		}
	}
	return nil
}

func (g *gatherer) asked(asOf int32, ahead float64) ([]yearly.Forecast, error) {
	res, err := derive.Ask(g.ctx, g.a, g.site, derive.Question{AsOf: asOf})
	if err != nil {
		return nil, err
	}
	out := make([]yearly.Forecast, 0, len(res.Due))
	for i := range res.Due {
		d := &res.Due[i]
		f := yearly.Forecast{
			Fixture: d.Life.Fixture.ID, Life: d.Life.N, Status: string(d.Answer.Status), Threshold: d.Threshold, Hours: d.Life.HoursNow(),
			Level: yearly.Value{Estimate: d.Answer.Level}, DueDay: yearly.Value{Estimate: d.Answer.DueDay},
			Lamp: yearly.Value{Estimate: d.Answer.Decline.Lamp}, Dirt: yearly.Value{Estimate: d.Answer.Decline.Dirt}, Sensor: yearly.Value{Estimate: d.Answer.Decline.Sensor},
			YearChance: math.NaN(), Warranted: yearly.Value{Estimate: estimate.None(forecast.Method, "nothing was promised")},
		}
		if p := d.Posterior; p != nil && !p.Dark {
			switch d.Answer.Status {
			case forecast.StatusForecast, forecast.StatusBeyond:
				f.YearChance = under(p, p.HoursNow+p.Burn.PerDay*ahead, d.Threshold)
			}
			if t := g.terms[lifeKey{f.Fixture, f.Life}]; t != nil {
				f.Warranted = yearly.Value{Estimate: levelAt(p, math.Min(p.HoursNow, t.Hours), d.Interval)}
			}
		}
		out = append(out, f)
	}
	return out, nil
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
