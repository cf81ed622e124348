package register

import (
	"fmt"
	"slices"
	"time"

	"wane/ingest/problem"
	"wane/ingest/source"
	"wane/transform/fleet"
)

// units is the unit of each quantity.
var units = func() map[fleet.Quantity]string {
	out := map[fleet.Quantity]string{}
	for _, q := range fleet.Quantities {
		out[q.Name] = q.Unit
	}
	return out
}()

// quantities lists their names.
var quantities = func() (out []fleet.Quantity) {
	for _, q := range fleet.Quantities {
		out = append(out, q.Name)
	}
	return out
}()

func parseSensors(r *fleet.Register, n *names, t *table, loc *time.Location) problem.List {
	r.Sensors = make([]fleet.SensorPeriod, len(t.rows))
	t.each(func(i int, w row) { r.Sensors[i] = sensorRow(w, n, loc) })
	last := make(map[[2]string]int, len(t.rows)) // in r.Sensors from 1, by sensor and channel
	before := make([]int, len(t.rows))           // of each of r.Sensors, the one of its series before it, from 1
	open := map[string]*fleet.SensorPeriod{}     // by fixture, the row without an end that reads its light
	for i := range r.Sensors {
		s := &r.Sensors[i]
		series := [2]string{s.Sensor, s.Channel}
		before[i] = last[series]
		last[series] = i + 1
		for k := before[i]; k > 0; k = before[k-1] {
			if o := &r.Sensors[k-1]; overlap(o, s) {
				t.rows[i].bad("from", fmt.Sprintf("%s/%s has a row for the same time on line %d", s.Sensor, s.Channel, o.Line),
					"end the earlier row (to) before this one begins (from)")
			}
		}
		if s.Quantity == fleet.PPFD && s.To.IsZero() && n.kind[s.Watches] == fleet.OfFixture {
			if o := open[s.Watches]; o == nil {
				open[s.Watches] = s
			} else if o.Sensor != s.Sensor || o.Channel != s.Channel { // else it was said above
				t.rows[i].bad("to", fmt.Sprintf("%s goes on reading the light of %s on line %d: one sensor can", o.Sensor,
					s.Watches, o.Line), "write in `to` of the one that stopped its last day")
			}
		}
		if i == 0 || r.Sensors[i-1].Sensor != s.Sensor {
			n.declare(fleet.OfSensor, s.Sensor)
		}
	}
	return t.found
}

// sensorRow reads a row by itself; it needs the names of the fixtures' table.
func sensorRow(w row, n *names, loc *time.Location) fleet.SensorPeriod {
	s := fleet.SensorPeriod{
		Sensor: w.need("sensor"), Channel: w.need("channel"),
		Quantity: oneOf(w, "quantity", quantities, false),
		Watches:  w.get("watches"),
		Factor:   w.number("factor", 1, -1e6, 1e6, "the factor that turns the reading into the unit; 1 where it is that already"),
		From:     w.date("from", loc), To: w.date("to", loc), Line: w.line,
	}
	if s.Factor == 0 {
		w.bad("factor", "is 0, which would make every reading 0", "write the factor that turns the reading into the unit")
	}
	w.unit(s.Quantity)
	s.Unit = units[s.Quantity]
	if s.Watches != "" && n.kind[s.Watches] == "" {
		do := "name a fixture, bay, circuit or room of register/fixtures.csv"
		if near := problem.Nearest(s.Watches, n.watchable()); near != "" {
			do = fmt.Sprintf("did you mean %q?", near)
		}
		w.bad("watches", fmt.Sprintf("nothing is called %q", s.Watches), do)
	}
	if !s.To.IsZero() {
		if s.To.Before(s.From) {
			w.bad("to", "ends before it begins", "write from and to in order")
		}
		s.To = s.To.AddDate(0, 0, 1) // the last day is included
	}
	return s
}

// relativeLight are the units of light that are not those of photons.
var relativeLight = []string{"lx", "klx", "fc", "w/m2"}

// unit checks the unit, in our words or as UCUM and SenML write it. Light in
// another unit than that of photons is relative light: levels come out right
// with any factor that is constant, and somebody must have said which.
func (w row) unit(q fleet.Quantity) {
	given := w.get("unit")
	if given == "" || q == "" || given == units[q] || source.SameUnit(given, units[q]) {
		return
	}
	unit, _ := source.CanonicalUnit(given)
	if q == fleet.PPFD && slices.Contains(relativeLight, unit) {
		if w.get("factor") == "" {
			w.bad("factor", fmt.Sprintf("light in %s is taken as relative light, and needs a factor", given),
				"write the one that turns it into umol/m2/s for this lamp type and sensor; levels need it constant, not exact")
		}
		return
	}
	w.bad("unit", fmt.Sprintf("%q is not the unit of %s", given, q),
		fmt.Sprintf("write %s, and the factor that turns the reading into it", units[q]))
}

func (n *names) watchable() []string {
	var out []string
	for _, s := range []fleet.Scope{fleet.OfFixture, fleet.OfBay, fleet.OfCircuit, fleet.OfRoom} {
		out = append(out, n.known[s]...)
	}
	return out
}

func overlap(a, b *fleet.SensorPeriod) bool {
	return (a.To.IsZero() || b.From.Before(a.To)) && (b.To.IsZero() || a.From.Before(b.To))
}
