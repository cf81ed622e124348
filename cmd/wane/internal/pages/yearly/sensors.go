package yearly

import (
	"sort"

	"wane/transform/calendar"
	"wane/transform/fleet"
	"wane/transform/yearly"
)

// sensors gathers the instruments that read light.
func (g *gatherer) sensors() {
	by := map[string]*yearly.Sensor{}
	for i := range g.reg.Sensors {
		p := &g.reg.Sensors[i]
		if p.Quantity != fleet.PPFD || p.From.After(g.end()) {
			continue
		}
		s := by[p.Sensor]
		if s == nil {
			s = &yearly.Sensor{ID: p.Sensor, Since: max(g.in.Record.First, 0)}
			by[p.Sensor] = s
		}
		if !p.From.IsZero() && g.inYear(calendar.DayOf(p.From, g.loc)) {
			s.Factors++
		}
	}
	reads := map[string]string{}
	for _, f := range g.fixtures {
		if p := g.reg.Watch(f, fleet.PPFD, g.end()); p != nil {
			reads[f.ID] = p.Sensor
			by[p.Sensor].Watches++
		}
	}
	for i := range g.reg.Logbook {
		e := &g.reg.Logbook[i]
		id := e.ID
		if e.Scope == fleet.OfFixture {
			id = reads[e.ID]
		}
		s := by[id]
		if s == nil {
			continue
		}
		day := calendar.DayOf(e.At, g.loc)
		switch {
		case e.What == fleet.Recalibrate && e.Scope == fleet.OfSensor:
			s.Recals = append(s.Recals, yearly.Recal{Day: day, AsFound: e.Number})
		case e.What == fleet.ReferenceIs && g.inYear(day):
			s.References++
		}
	}
	for _, s := range by {
		g.in.Sensors = append(g.in.Sensors, *s)
	}
	sort.Slice(g.in.Sensors, func(i, j int) bool { return g.in.Sensors[i].ID < g.in.Sensors[j].ID })
}
