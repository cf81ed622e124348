package fleet

import (
	"slices"
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
	if i, ok := r.index().named()[id]; ok {
		return &r.Fixtures[i]
	}
	return nil
}

// Place is where a fixture hangs.
type Place struct{ Room, Bay, Circuit string }

// PlaceAt gives the fixture's place at t, after the moves logged until then. A
// move to a bay takes the room and, where all fixtures of that bay share one,
// the circuit of that bay.
func (r *Register) PlaceAt(f *Fixture, t time.Time) Place {
	return r.index().book().placeAt(f, t)
}

// Covers says whether an entry speaks of the fixture at the entry's own time.
func (r *Register) Covers(e *Entry, f *Fixture) bool {
	return r.index().book().covers(e, f)
}

// Events gives the logbook entries that cover the fixture, in time order.
func (r *Register) Events(f *Fixture) []Entry {
	return r.entries(r.index().covering(f))
}

// EventsWith gives, in time order, the entries that cover the fixture and those
// about the sensors named.
func (r *Register) EventsWith(f *Fixture, sensors []string) []Entry {
	x := r.index()
	lines := x.covering(f)
	for _, s := range sensors {
		lines = append(lines, x.book().lines[subject{OfSensor, s}]...)
	}
	slices.Sort(lines)
	return r.entries(slices.Compact(lines))
}

// entries gives lines of the logbook by their place.
func (r *Register) entries(lines []int32) []Entry {
	if len(lines) == 0 {
		return nil
	}
	out := make([]Entry, len(lines))
	for k, i := range lines {
		out[k] = r.Logbook[i]
	}
	return out
}

// Lives cuts the fixture's time into lamp lives, oldest first. A fixture that
// is not installed yet has none.
func (r *Register) Lives(f *Fixture) []Life {
	var out []Life
	from := f.Installed
	lines := r.index().covering(f)
	for _, i := range lines {
		if e := &r.Logbook[i]; e.What == Install && e.Scope == OfFixture && from.IsZero() {
			from = e.At
		}
	}
	life := Life{
		Fixture: f.ID, N: 1, LampType: f.LampType, Gear: f.Gear, Cohort: f.Cohort,
		From: from, StartHours: f.HoursAtInstall,
	}
	open := true
	end := func(e *Entry) {
		life.To, life.End = e.At, e.What
		out = append(out, life)
		open = false
	}
	for _, i := range lines {
		e := &r.Logbook[i]
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
	for _, i := range r.index().covering(f) {
		switch r.Logbook[i].What {
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
	slices.SortStableFunc(r.Logbook, func(a, b Entry) int { return a.At.Compare(b.At) })
	r.made.Store(nil)
}
