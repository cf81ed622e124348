package yearly

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"wane/transform/estimate"
	"wane/transform/forecast"
)

// NotForecast is what a forecast does not give, and why.
func NotForecast(why string) Value { return Value{Estimate: estimate.None(forecast.Method, why)} }

// ChanceUnder is the chance that a lamp's own level at run-hours lies under a
// level; NaN where the model does not reach so far.
func ChanceUnder(p *forecast.Posterior, hours, level float64) float64 {
	mean, sd := p.Output(hours)
	if !(sd > 0) {
		return math.NaN()
	}
	return distuv.UnitNormal.CDF((math.Log(level) - mean) / sd)
}

// OwnLevel is the lamp's own level at run-hours, dirt and drift of the sensor
// taken out.
func OwnLevel(p *forecast.Posterior, hours, interval float64) Value {
	mean, sd := p.Output(hours)
	if math.IsNaN(mean) || !(sd >= 0) {
		return NotForecast("the model does not reach to these run-hours")
	}
	z := distuv.UnitNormal.Quantile((1 + interval) / 2)
	return Value{Estimate: estimate.Estimate{Centre: math.Exp(mean), Lo: math.Exp(mean - z*sd), Hi: math.Exp(mean + z*sd),
		Level: interval, N: p.Bins, Method: forecast.Method}}
}

// Crossed gives the day on which a lamp's own level fell under its threshold
// while it burned, up to the run-hours it has now; dayAt gives the day on which
// it reached run-hours. The interval ends where the record of the life does.
func Crossed(p *forecast.Posterior, threshold, interval, hoursNow float64, dayAt func(hours float64) float64) Value {
	c := p.Cross(threshold, distuv.UnitNormal.Quantile((1+interval)/2))
	if !(c.Centre <= hoursNow) {
		return NotForecast("not crossed")
	}
	e := estimate.Estimate{Centre: dayAt(c.Centre), Lo: dayAt(c.Lo), Hi: dayAt(c.Hi), Level: interval, N: p.Bins,
		Method: forecast.Method}
	if c.Hi > hoursNow {
		e.Hi = math.Inf(1)
	}
	return Value{Estimate: e}
}
