package simfleet

import (
	"math"

	"wane/transform/forecast"
)

// Case is one lamp asked once: at the first of the judging days on which it
// had reached an age.
type Case struct {
	Age    float64
	Class  string
	Status forecast.Status
	Due    forecast.Crossing // Centre NaN where refused
	Bound  float64           // lower bound that stands alone, NaN where none
	Lo, Hi float64           // the interval behind a refusal, for study
	Median float64           // the centre behind a refusal, for study
	Truth  float64
	Hours  float64
	Drift  float64 // sensitivity
	Slope  float64 // posterior over prior spread
	Most   float64
}

// Ages at which lamps are asked, run-hours.
var Ages = []float64{2500, 5000, 8000, 15000}

// judgeEvery is the step between the days on which a fleet is asked.
const judgeEvery = 45

// Judge asks every lamp of a fleet once at each age, as of the time, and puts
// the truth beside the answer. Lamps that were under their threshold before
// are not due an answer and are left out. ask gives the answers as of a day by
// index of Input.Lamps.
func Judge(in *forecast.Input, truth []Truth, ask func(forecast.Input) map[int]Case) []Case {
	var out []Case
	asked := make(map[[2]int]bool)
	first := in.AsOf
	for k := range in.Lamps {
		first = min(first, in.Lamps[k].StartDay)
	}
	for day := first + judgeEvery; day <= in.AsOf; day += judgeEvery {
		cut := in.Truncate(day)
		type todo struct{ lamp, age int }
		var list []todo
		for i := range cut.Lamps {
			l := &cut.Lamps[i]
			if l.StartDay > day || (l.Ended && l.EndDay <= day) || len(l.Blocks) == 0 || l.Blocks[len(l.Blocks)-1].Day < day-60 {
				continue
			}
			for a, age := range Ages {
				if l.HoursNow >= age && l.HoursNow < age+1500 && !asked[[2]int{i, a}] {
					asked[[2]int{i, a}] = true
					if truth[i].Due > l.HoursNow {
						list = append(list, todo{i, a})
					}
				}
			}
		}
		if len(list) == 0 {
			continue
		}
		got := ask(cut)
		for _, t := range list {
			c, ok := got[t.lamp]
			if !ok {
				c = Case{Status: forecast.StatusNoData, Due: forecast.Crossing{Centre: math.NaN()}, Bound: math.NaN()}
			}
			c.Age, c.Class, c.Truth, c.Hours = Ages[t.age], cut.Lamps[t.lamp].Class, truth[t.lamp].Due, cut.Lamps[t.lamp].HoursNow
			out = append(out, c)
		}
	}
	return out
}

// Pooled asks the pooled model.
func Pooled(opt forecast.Options) func(forecast.Input) map[int]Case {
	return func(in forecast.Input) map[int]Case {
		fit, err := forecast.Run(&in, opt)
		if err != nil {
			panic(err)
		}
		d := in.Defaults
		if d.Classes == nil {
			d = forecast.DefaultTable()
		}
		out := map[int]Case{}
		for _, p := range fit.Posteriors() {
			a := p.Answer(d, forecast.Asking{})
			c := p.Cross(p.Threshold, 1.2815515655446004)
			k := Case{Status: a.Status, Due: forecast.Crossing{Centre: math.NaN()}, Bound: math.NaN(), Lo: c.Lo, Hi: c.Hi, Median: c.Centre,
				Drift: a.Identity.Drift, Slope: a.Identity.SlopeShare, Most: p.MostHours}
			switch a.Status {
			case forecast.StatusForecast, forecast.StatusUnder:
				k.Due = forecast.Crossing{Centre: a.DueHours.Centre, Lo: a.DueHours.Lo, Hi: a.DueHours.Hi}
			case forecast.StatusBeyond:
				k.Bound = a.DueHours.Lo
			}
			out[p.Lamp] = k
		}
		return out
	}
}
