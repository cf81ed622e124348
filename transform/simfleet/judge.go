package simfleet

import (
	"fmt"
	"math"

	"wane/transform/forecast"
)

// Case is one lamp asked once: on the first of the judging days by which it
// had reached an age.
type Case struct {
	Age    float64
	Class  string
	Status forecast.Status
	Due    forecast.Crossing // Centre NaN where refused
	Bound  float64           // lower bound that stands alone, NaN where none
	Range  forecast.Crossing // over what can't be told apart: Lo NaN where none was given
	Truth  float64
}

// Ages at which lamps are asked, run-hours.
var Ages = []float64{2500, 5000, 8000, 15000}

// judgeEvery is the step between judging days.
const judgeEvery = 45

// Asker answers for some lamps of an input cut to what was known.
type Asker func(in *forecast.Input, lamps []int) (map[int]Case, error)

// Judge asks every lamp of a fleet once at each age, as of the time, and puts
// the truth beside the answer. Lamps that had by then fallen under their
// threshold, or whose readings had stopped, are not due an answer and are
// left out.
func Judge(in *forecast.Input, truth []Truth, ask Asker) ([]Case, error) {
	var out []Case
	asked := make(map[[2]int]bool)
	first := in.AsOf
	for k := range in.Lamps {
		first = min(first, in.Lamps[k].StartDay)
	}
	for day := first + judgeEvery; day <= in.AsOf; day += judgeEvery {
		cut := in.Truncate(day)
		var lamps, ages []int
		for i := range cut.Lamps {
			l := &cut.Lamps[i]
			if l.StartDay > day || (l.Ended && l.EndDay <= day) || len(l.Bins) == 0 || l.Bins[len(l.Bins)-1].Day < day-60 {
				continue
			}
			for a, age := range Ages {
				if l.HoursNow >= age && l.HoursNow < age+1500 && !asked[[2]int{i, a}] {
					asked[[2]int{i, a}] = true
					if truth[i].Due > l.HoursNow {
						lamps, ages = append(lamps, i), append(ages, a)
					}
				}
			}
		}
		if len(lamps) == 0 {
			continue
		}
		got, err := ask(&cut, lamps)
		if err != nil {
			return nil, fmt.Errorf("day %d: %w", day, err)
		}
		for k, i := range lamps {
			c, ok := got[i]
			if !ok {
				c = refused(forecast.StatusNoData)
			}
			c.Age, c.Class, c.Truth = Ages[ages[k]], cut.Lamps[i].Class, truth[i].Due
			out = append(out, c)
		}
	}
	return out, nil
}

func refused(s forecast.Status) Case {
	return Case{Status: s, Due: forecast.Crossing{Centre: math.NaN()}, Bound: math.NaN(),
		Range: forecast.Crossing{Lo: math.NaN()}}
}

// Pooled asks the pooled model, as `due` would.
func Pooled(in *forecast.Input, lamps []int) (map[int]Case, error) { return pooled(in, Said) }

// Said is what is said of one lamp; its age and truth are left open.
func Said(p *forecast.Posterior, d forecast.Defaults) Case {
	a := p.Answer(d, forecast.Asking{})
	k := refused(a.Status)
	switch a.Status {
	case forecast.StatusForecast, forecast.StatusUnder:
		k.Due = forecast.Crossing{Centre: a.DueHours.Centre, Lo: a.DueHours.Lo, Hi: a.DueHours.Hi}
	case forecast.StatusBeyond:
		k.Bound = a.DueHours.Lo
	case forecast.StatusInseparable:
		k.Range = forecast.Crossing{Centre: math.NaN(), Lo: a.DueHours.Lo, Hi: a.DueHours.Hi}
	}
	return k
}

// ByWidth asks the pooled model and refuses only intervals that are too wide:
// for fleets whose disturbances are known, where drift is no question.
func ByWidth(in *forecast.Input, lamps []int) (map[int]Case, error) {
	return pooled(in, func(p *forecast.Posterior, d forecast.Defaults) Case {
		c := p.Cross(p.Threshold, 1.2815515655446004)
		if c.Hi > d.Limits.Ratio*c.Lo {
			return refused(forecast.StatusBeyond)
		}
		return Case{Status: forecast.StatusForecast, Due: c, Bound: math.NaN(), Range: forecast.Crossing{Lo: math.NaN()}}
	})
}

func pooled(in *forecast.Input, say func(*forecast.Posterior, forecast.Defaults) Case) (map[int]Case, error) {
	fit, err := forecast.Run(in, forecast.Options{})
	if err != nil {
		return nil, err
	}
	out := map[int]Case{}
	for _, p := range fit.Posteriors() {
		out[p.Lamp] = say(&p, fit.Defaults())
	}
	return out, nil
}

// Plain gives an asker of one of the plain methods.
func Plain(method string) Asker {
	return func(in *forecast.Input, lamps []int) (map[int]Case, error) {
		out := map[int]Case{}
		for _, i := range lamps {
			c, ok := forecast.Plain(method, in, i, .8)
			if !ok || math.IsInf(c.Centre, 1) {
				out[i] = refused(forecast.StatusNoData)
				continue
			}
			out[i] = Case{Status: forecast.StatusForecast, Due: c, Bound: math.NaN(), Range: forecast.Crossing{Lo: math.NaN()}}
		}
		return out, nil
	}
}
