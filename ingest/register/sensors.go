package register

import (
	"fmt"
	"strings"
	"time"

	"wane/ingest/problem"
	"wane/transform/fleet"
)

// spellings of units that mean the register's own.
var unitSpellings = map[string]string{
	"umol/m2/s": "umol/m2/s", "µmol/m2/s": "umol/m2/s", "μmol/m2/s": "umol/m2/s", "µmol/m²/s": "umol/m2/s", "μmol/m²/s": "umol/m2/s", "umol m-2 s-1": "umol/m2/s",
	"h": "h", "hour": "h", "hours": "h", "v": "V", "a": "A", "w": "W", "kwh": "kWh",
	"degc": "degC", "c": "degC", "°c": "degC", "%": "%", "pct": "%",
}

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
	for i := range r.Sensors {
		s := &r.Sensors[i]
		series := [2]string{s.Sensor, s.Channel}
		before[i] = last[series]
		last[series] = i + 1
		for k := before[i]; k > 0; k = before[k-1] {
			if o := &r.Sensors[k-1]; overlap(o, s) {
				t.rows[i].bad("from", fmt.Sprintf("%s/%s has a row for the same time on line %d", s.Sensor, s.Channel, o.Line), "end the earlier row (to) before this one begins (from)")
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
	if given := w.get("unit"); given != "" && s.Quantity != "" {
		s.Unit = unitSpellings[strings.ToLower(given)]
		if s.Unit != units[s.Quantity] {
			w.bad("unit", fmt.Sprintf("%q is not the unit of %s", given, s.Quantity), fmt.Sprintf("write %s, and the factor that turns the reading into it", units[s.Quantity]))
		}
	}
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
