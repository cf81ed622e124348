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
	lines    map[place][]int  // of the logbook, by what they speak of
	moved    map[string]bool
}

// place is a scope with its name; site lines have no name.
type place struct {
	scope fleet.Scope
	id    string
}

func newBooks(reg *fleet.Register) *books {
	b := &books{reg: reg, lines: map[place][]int{}, moved: map[string]bool{}}
	for i := range reg.Fixtures {
		b.fixtures = append(b.fixtures, &reg.Fixtures[i])
	}
	sort.Slice(b.fixtures, func(i, j int) bool { return b.fixtures[i].ID < b.fixtures[j].ID })
	for i := range reg.Logbook {
		e := &reg.Logbook[i]
		at := place{e.Scope, e.ID}
		if e.Scope == fleet.OfSite {
			at.id = ""
		}
		b.lines[at] = append(b.lines[at], i)
		if e.What == fleet.Move && e.Scope == fleet.OfFixture {
			b.moved[e.ID] = true
		}
	}
	return b
}

// of gives a register with the lines that can speak of the fixture, in the
// order of the logbook. Where it has moved, the lines of all places can.
func (b *books) of(f *fleet.Fixture) *fleet.Register {
	out := &fleet.Register{Fixtures: b.reg.Fixtures, Sensors: b.reg.Sensors}
	var lines []int
	if b.moved[f.ID] {
		for at, list := range b.lines {
			if at.scope != fleet.OfSensor && (at.scope != fleet.OfFixture || at.id == f.ID) {
				lines = append(lines, list...)
			}
		}
	} else {
		for _, at := range [...]place{{fleet.OfSite, ""}, {fleet.OfRoom, f.Room}, {fleet.OfBay, f.Bay}, {fleet.OfCircuit, f.Circuit}, {fleet.OfFixture, f.ID}} {
			lines = append(lines, b.lines[at]...)
		}
	}
	sort.Ints(lines)
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
