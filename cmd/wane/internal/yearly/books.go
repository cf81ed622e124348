package yearly

import (
	"sort"
	"time"

	"wane/transform/fleet"
)

// books hands out the register fixture by fixture: the logbook's lines that can
// speak of a fixture and no others, so that a great fleet is not read through for each.
type books struct {
	reg      *fleet.Register
	fixtures []*fleet.Fixture // by name
	common   []int            // lines of room, bay, circuit and site
	own      map[string][]int
}

func newBooks(reg *fleet.Register) *books {
	b := &books{reg: reg, own: map[string][]int{}}
	for i := range reg.Fixtures {
		b.fixtures = append(b.fixtures, &reg.Fixtures[i])
	}
	sort.Slice(b.fixtures, func(i, j int) bool { return b.fixtures[i].ID < b.fixtures[j].ID })
	for i := range reg.Logbook {
		switch e := &reg.Logbook[i]; e.Scope {
		case fleet.OfSensor:
		case fleet.OfFixture:
			b.own[e.ID] = append(b.own[e.ID], i)
		default:
			b.common = append(b.common, i)
		}
	}
	return b
}

// of gives a register with the lines that can speak of the fixture, in the
// order of the logbook.
func (b *books) of(f *fleet.Fixture) *fleet.Register {
	lines := append(append([]int(nil), b.common...), b.own[f.ID]...)
	sort.Ints(lines)
	out := &fleet.Register{Fixtures: b.reg.Fixtures, Sensors: b.reg.Sensors}
	for _, i := range lines {
		out.Logbook = append(out.Logbook, b.reg.Logbook[i])
	}
	return out
}

// watching gives the series of a quantity by what it watches at t.
func watching(reg *fleet.Register, q fleet.Quantity, t time.Time) map[string]*fleet.SensorPeriod {
	out := map[string]*fleet.SensorPeriod{}
	for i := range reg.Sensors {
		p := &reg.Sensors[i]
		if p.Quantity == q && p.Watches != "" && p.Holds(t) && out[p.Watches] == nil {
			out[p.Watches] = p
		}
	}
	return out
}

// first finds the series nearest to a fixture, as fleet.Register.Watch does.
func first(by map[string]*fleet.SensorPeriod, id string, at fleet.Place) *fleet.SensorPeriod {
	for _, name := range [...]string{id, at.Bay, at.Circuit, at.Room} {
		if p := by[name]; p != nil && name != "" {
			return p
		}
	}
	return nil
}
