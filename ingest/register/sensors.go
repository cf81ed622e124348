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

func parseSensors(r *fleet.Register, n *names, data []byte, loc *time.Location) problem.List {
	t := read(SensorsFile, data, SensorColumns)
	var quantities []fleet.Quantity
	unit := map[fleet.Quantity]string{}
	for _, q := range fleet.Quantities {
		quantities = append(quantities, q.Name)
		unit[q.Name] = q.Unit
	}
	last := make(map[[2]string]int, len(t.rows)) // in r.Sensors from 1, by sensor and channel
	before := make([]int, 0, len(t.rows))        // of each of r.Sensors, the one of its series before it, from 1
	r.Sensors = make([]fleet.SensorPeriod, 0, len(t.rows))
	for _, w := range t.rows {
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
			if s.Unit != unit[s.Quantity] {
				w.bad("unit", fmt.Sprintf("%q is not the unit of %s", given, s.Quantity), fmt.Sprintf("write %s, and the factor that turns the reading into it", unit[s.Quantity]))
			}
		}
		s.Unit = unit[s.Quantity]
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
		series := [2]string{s.Sensor, s.Channel}
		for i := last[series]; i > 0; i = before[i-1] {
			if o := &r.Sensors[i-1]; overlap(o, &s) {
				w.bad("from", fmt.Sprintf("%s/%s has a row for the same time on line %d", s.Sensor, s.Channel, o.Line), "end the earlier row (to) before this one begins (from)")
			}
		}
		if k := len(r.Sensors); k == 0 || r.Sensors[k-1].Sensor != s.Sensor {
			n.declare(fleet.OfSensor, s.Sensor)
		}
		before = append(before, last[series])
		r.Sensors = append(r.Sensors, s)
		last[series] = len(r.Sensors)
	}
	return t.found
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
