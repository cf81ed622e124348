package fleet

import (
	"sort"
	"time"
)

// Life is one lamp in one fixture from install to removal.
type Life struct {
	Fixture    string
	N          int // 1, 2, 3 … per fixture
	LampType   LampType
	Gear       Gear
	Cohort     string    // "" = not known
	From       time.Time // zero = before the record began
	To         time.Time // zero = still in place
	End        What      // what ended it: Relamp, Fail or Retire; "" while it burns
	StartHours float64   // run-hours of the lamp at From
}

// AsOf gives the register as it was known at the end of t: what is dated later
// is left out. Calibration factors and coefficients are properties of the
// instruments and stay.
func (r *Register) AsOf(t time.Time) *Register {
	out := &Register{Sensors: r.Sensors}
	for _, f := range r.Fixtures {
		if !f.Installed.After(t) {
			out.Fixtures = append(out.Fixtures, f)
		}
	}
	for _, e := range r.Logbook {
		if e.At.After(t) {
			continue
		}
		if e.What == Outage && e.Until.After(t) {
			e.Until = t
		}
		out.Logbook = append(out.Logbook, e)
	}
	return out
}

// Fixture finds a fixture by its name, nil where there is none.
func (r *Register) Fixture(id string) *Fixture {
	for i := range r.Fixtures {
		if r.Fixtures[i].ID == id {
			return &r.Fixtures[i]
		}
	}
	return nil
}

// Place is where a fixture hangs.
type Place struct{ Room, Bay, Circuit string }

// PlaceAt gives the fixture's place at t, after the moves logged until then. A
// move to a bay takes the room and, where all fixtures of that bay share one,
// the circuit of that bay.
func (r *Register) PlaceAt(f *Fixture, t time.Time) Place {
	p := Place{f.Room, f.Bay, f.Circuit}
	for i := range r.Logbook {
		e := &r.Logbook[i]
		if e.At.After(t) {
			break
		}
		if e.What != Move || e.Scope != OfFixture || e.ID != f.ID {
			continue
		}
		p.Bay = e.Value
		circuits := map[string]bool{}
		for j := range r.Fixtures {
			if g := &r.Fixtures[j]; g.Bay == e.Value && g.ID != f.ID {
				p.Room = g.Room
				circuits[g.Circuit] = true
			}
		}
		if len(circuits) == 1 {
			for c := range circuits {
				p.Circuit = c
			}
		}
	}
	return p
}

// Covers says whether an entry speaks of the fixture at the entry's own time.
func (r *Register) Covers(e *Entry, f *Fixture) bool {
	if e.Scope == OfSite {
		return true
	}
	if e.Scope == OfFixture {
		return e.ID == f.ID
	}
	p := r.PlaceAt(f, e.At)
	switch e.Scope {
	case OfRoom:
		return e.ID == p.Room
	case OfBay:
		return e.ID == p.Bay
	case OfCircuit:
		return e.ID == p.Circuit
	}
	return false
}

// Events gives the logbook entries that cover the fixture, in time order.
func (r *Register) Events(f *Fixture) []Entry {
	var out []Entry
	for i := range r.Logbook {
		if r.Covers(&r.Logbook[i], f) {
			out = append(out, r.Logbook[i])
		}
	}
	return out
}

// Lives cuts the fixture's time into lamp lives, oldest first. A fixture that
// is not installed yet has none.
func (r *Register) Lives(f *Fixture) []Life {
	var out []Life
	from := f.Installed
	events := r.Events(f)
	for _, e := range events {
		if e.What == Install && e.Scope == OfFixture && from.IsZero() {
			from = e.At
		}
	}
	life := Life{
		Fixture: f.ID, N: 1, LampType: f.LampType, Gear: f.Gear, Cohort: f.Cohort,
		From: from, StartHours: f.HoursAtInstall,
	}
	open := true
	end := func(e Entry) {
		life.To, life.End = e.At, e.What
		out = append(out, life)
		open = false
	}
	for _, e := range events {
		if e.At.Before(from) {
			continue
		}
		switch e.What {
		case Relamp:
			if open {
				end(e)
			}
			life = Life{
				Fixture: f.ID, N: life.N + 1, LampType: f.LampType, Gear: f.Gear, Cohort: e.Value, From: e.At,
			}
			open = true
		case Fail, Retire:
			if open {
				end(e)
			}
		}
	}
	if open {
		out = append(out, life)
	}
	return out
}

// Retired says whether the fixture has come down for good by the end of the
// register.
func (r *Register) Retired(f *Fixture) bool {
	retired := false
	for _, e := range r.Events(f) {
		switch e.What {
		case Retire:
			retired = true
		case Install, Relamp:
			retired = false
		}
	}
	return retired
}

// Sort puts the logbook in time order, ties in file order, as all questions
// expect it.
func (r *Register) Sort() {
	sort.SliceStable(r.Logbook, func(i, j int) bool { return r.Logbook[i].At.Before(r.Logbook[j].At) })
}
