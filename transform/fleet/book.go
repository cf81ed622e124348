package fleet

import (
	"slices"
	"time"
)

// book is the lines of the logbook by what they speak of, and the moves by
// fixture.
type book struct {
	lines map[subject][]int32
	moves map[string][]move
}

// subject is what a line speaks of; the site has no name.
type subject struct {
	scope Scope
	id    string
}

// move is a fixture's move to a bay, with what the other fixtures of that bay
// tell of the place.
type move struct {
	since   time.Time // the latest of the logbook's times up to this line: its own, where they are in order
	bay     string
	room    string
	others  bool // the bay has other fixtures, whose last gives the room
	circuit string
	shared  bool // they are all on this circuit
}

func (x *index) readBook() *book {
	b := &book{lines: map[subject][]int32{}, moves: map[string][]move{}}
	bays := map[string][]int32{} // those that something was moved to
	for i := range x.logbook {
		e := &x.logbook[i]
		s := subject{e.Scope, e.ID}
		if e.Scope == OfSite {
			s.id = ""
		}
		b.lines[s] = append(b.lines[s], int32(i))
		if e.What == Move && e.Scope == OfFixture {
			bays[e.Value] = nil
		}
	}
	if len(bays) == 0 {
		return b
	}
	for i := range x.fixtures {
		if list, ok := bays[x.fixtures[i].Bay]; ok {
			bays[x.fixtures[i].Bay] = append(list, int32(i))
		}
	}
	var since time.Time
	for i := range x.logbook {
		e := &x.logbook[i]
		if i == 0 || e.At.After(since) {
			since = e.At
		}
		if e.What == Move && e.Scope == OfFixture {
			b.moves[e.ID] = append(b.moves[e.ID], x.moveTo(e, since, bays[e.Value]))
		}
	}
	return b
}

// moveTo reads a move to a bay, in which the fixtures of list hang.
func (x *index) moveTo(e *Entry, since time.Time, list []int32) move {
	m := move{since: since, bay: e.Value}
	for _, i := range list {
		g := &x.fixtures[i]
		if g.ID == e.ID {
			continue
		}
		m.shared = !m.others || m.shared && g.Circuit == m.circuit
		m.others, m.room, m.circuit = true, g.Room, g.Circuit
	}
	return m
}

// from gives the place that the move leads to.
func (m *move) from(p Place) Place {
	p.Bay = m.bay
	if m.others {
		p.Room = m.room
	}
	if m.shared {
		p.Circuit = m.circuit
	}
	return p
}

// placeAt gives the fixture's place at t.
func (b *book) placeAt(f *Fixture, t time.Time) Place {
	p := Place{f.Room, f.Bay, f.Circuit}
	moves := b.moves[f.ID]
	for i := range moves {
		if moves[i].since.After(t) {
			break
		}
		p = moves[i].from(p)
	}
	return p
}

// places gives where the fixture has ever hung, the first place first.
func (b *book) places(f *Fixture) []Place {
	p := Place{f.Room, f.Bay, f.Circuit}
	out := []Place{p}
	moves := b.moves[f.ID]
	for i := range moves {
		if p = moves[i].from(p); !slices.Contains(out, p) {
			out = append(out, p)
		}
	}
	return out
}

// covers says whether an entry speaks of the fixture at the entry's own time.
func (b *book) covers(e *Entry, f *Fixture) bool {
	switch e.Scope {
	case OfSite:
		return true
	case OfFixture:
		return e.ID == f.ID
	case OfRoom:
		return e.ID == b.placeAt(f, e.At).Room
	case OfBay:
		return e.ID == b.placeAt(f, e.At).Bay
	case OfCircuit:
		return e.ID == b.placeAt(f, e.At).Circuit
	}
	return false
}

// covering gives, in order, the lines that cover the fixture.
func (x *index) covering(f *Fixture) []int32 {
	b := x.book()
	out := slices.Clone(b.lines[subject{OfSite, ""}])
	out = append(out, b.lines[subject{OfFixture, f.ID}]...)
	if len(b.moves[f.ID]) == 0 {
		out = append(out, b.lines[subject{OfRoom, f.Room}]...)
		out = append(out, b.lines[subject{OfBay, f.Bay}]...)
		out = append(out, b.lines[subject{OfCircuit, f.Circuit}]...)
		slices.Sort(out)
		return out
	}
	var where []subject
	for _, p := range b.places(f) {
		for _, s := range [...]subject{{OfRoom, p.Room}, {OfBay, p.Bay}, {OfCircuit, p.Circuit}} {
			if slices.Contains(where, s) {
				continue
			}
			where = append(where, s)
			for _, i := range b.lines[s] {
				if b.covers(&x.logbook[i], f) {
					out = append(out, i)
				}
			}
		}
	}
	slices.Sort(out)
	return out
}
