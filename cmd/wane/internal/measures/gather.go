// Package measures gathers from a site what package measure weighs, and words it: the
// fit with its answers, and the plan's money and visits.
package measures

import (
	"wane/cmd/wane/internal/plans"
	"wane/transform/due"
	"wane/transform/measure"
	"wane/transform/plan"
)

// Gather needs a result that holds its fit.
func Gather(res *due.Result, m *plans.Made, settings plan.Settings) *measure.Input {
	in := due.ToMeasure(res, res.Fit, res.Fleet, settings)
	planned, worth := map[string]*plan.LampPlan{}, map[string]*plan.Lamp{}
	for i := range m.Result.Lamps {
		planned[m.Result.Lamps[i].Fixture] = &m.Result.Lamps[i]
	}
	for i := range m.Input.Lamps {
		worth[m.Input.Lamps[i].Fixture] = &m.Input.Lamps[i]
	}
	for _, v := range m.Result.Visits {
		in.Visits = append(in.Visits, measure.Visit{Room: v.Room, Day: v.Date})
	}
	for i := range in.Lamps {
		l := &in.Lamps[i]
		if w := worth[l.Fixture]; w != nil {
			l.BurnPerDay, l.Worth = w.BurnPerDay, settings.Worth(*w)
		}
		if p := planned[l.Fixture]; p != nil && comesDown(p.Decision) {
			l.Down = p.Date
		}
	}
	return in
}

func comesDown(d plan.Decision) bool { return d == plan.SpotRelamp || d == plan.GroupRelamp }
