package plans

import (
	"wane/transform/calendar"
	"wane/transform/due"
	"wane/transform/plan"
	"wane/transform/todo"
)

// Todo gathers what the one list of actions is made of. m is nil where no plan
// was made.
func Todo(res *due.Result, m *Made) todo.Input {
	in := todo.Input{AsOf: res.AsOf, Today: calendar.Date(res.AsOf + 1)}
	planned := map[string]*plan.LampPlan{}
	if m != nil {
		in.Orders, in.Today = m.Result.Orders, m.Result.AsOf
		for i := range m.Result.Lamps {
			planned[m.Result.Lamps[i].Fixture] = &m.Result.Lamps[i]
		}
	}
	for i := range res.Due {
		d := &res.Due[i]
		if d.Reference {
			continue // it burns for surveys only and needs no date
		}
		a := &d.Answer
		in.Lamps = append(in.Lamps, todo.Lamp{Fixture: d.Life.Fixture.ID, Room: d.Life.Place.Room,
			LampType: string(d.Life.LampType),
			Status:   a.Status, Rival: a.Rival, Threshold: d.Threshold, Level: a.Level, DueDay: a.DueDay, Reason: a.Reason,
			Settle: a.Identity.Settle,
			Sensor: d.Life.SensorLast, Silent: d.Life.Silent(res.AsOf), Plan: planned[d.Life.Fixture.ID]})
	}
	for _, q := range res.Questions {
		in.Questions = append(in.Questions, todo.Asked{Fixtures: q.Fixtures, What: q.What(),
			Do: q.Likely + "? If so: `" + q.Answer + "`"})
	}
	return in
}
