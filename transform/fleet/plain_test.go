package fleet

import (
	"fmt"
	"sort"
	"time"
)

// plain answers the questions of a Register by reading its tables from the first
// row to the last: slow, and without an index to be wrong.
type plain struct{ *Register }

func (r plain) Fixture(id string) *Fixture {
	for i := range r.Fixtures {
		if r.Fixtures[i].ID == id {
			return &r.Fixtures[i]
		}
	}
	return nil
}

func (r plain) PlaceAt(f *Fixture, t time.Time) Place {
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

func (r plain) Covers(e *Entry, f *Fixture) bool {
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

func (r plain) Events(f *Fixture) []Entry {
	var out []Entry
	for i := range r.Logbook {
		if r.Covers(&r.Logbook[i], f) {
			out = append(out, r.Logbook[i])
		}
	}
	return out
}

func (r plain) Lives(f *Fixture) []Life {
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

func (r plain) Retired(f *Fixture) bool {
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

func (r plain) Watch(f *Fixture, q Quantity, t time.Time) *SensorPeriod {
	p := r.PlaceAt(f, t)
	var best *SensorPeriod
	rank := 4
	for i := range r.Sensors {
		s := &r.Sensors[i]
		if s.Quantity != q || !s.Holds(t) || s.Watches == "" {
			continue
		}
		for k, name := range [...]string{f.ID, p.Bay, p.Circuit, p.Room} {
			if k < rank && name == s.Watches {
				best, rank = s, k
			}
		}
	}
	return best
}

func (r plain) RowsBefore(i int) (n int) {
	s := r.Sensors[i]
	for _, o := range r.Sensors[:i] {
		if s.Watches != "" && o.Watches == s.Watches && o.Quantity == s.Quantity && !o.From.After(s.From) {
			n++
		}
	}
	return n
}

func (r plain) Known(sensor, channel string) bool {
	for i := range r.Sensors {
		if r.Sensors[i].Sensor == sensor && r.Sensors[i].Channel == channel {
			return true
		}
	}
	return false
}

func (r plain) Calibrations(sensor string) []Calibration {
	var out []Calibration
	for _, e := range r.Logbook {
		if e.What == Recalibrate && e.Scope == OfSensor && e.ID == sensor {
			out = append(out, Calibration{At: e.At, AsFound: e.Number, Line: e.Line})
		}
	}
	return out
}

func (r plain) SetPoints(f *Fixture) []SetPoint {
	var out []SetPoint
	for _, e := range r.Events(f) {
		if e.What == Dim {
			out = append(out, SetPoint{At: e.At, Percent: e.Number})
		}
	}
	return out
}

func (r plain) Outages(f *Fixture) []Span {
	var out []Span
	for _, e := range r.Events(f) {
		if e.What == Outage {
			out = append(out, Span{From: e.At, To: e.Until})
		}
	}
	return out
}

func (r plain) Chain(f *Fixture) []Epoch {
	begun := fmt.Sprintf("installed, fixtures line %d", f.Line)
	var out []Epoch
	n := map[Part]int{}
	add := func(p Part, at time.Time, why string) {
		n[p]++
		out = append(out, Epoch{Part: p, N: n[p], From: at, Why: why})
	}
	for _, p := range []Part{LampPart, GearPart, OpticPart, PlacePart} {
		add(p, f.Installed, begun)
	}
	var light *SensorPeriod
	for _, at := range r.WatchChanges(f) {
		s := r.Watch(f, PPFD, at)
		if s == nil || s == light {
			continue
		}
		why := fmt.Sprintf("%s/%s, sensors line %d", s.Sensor, s.Channel, s.Line)
		if light == nil || light.Sensor != s.Sensor {
			add(SensePart, at, why)
		}
		add(ChanPart, at, why)
		light = s
	}
	for i := range r.Logbook {
		e := &r.Logbook[i]
		why := fmt.Sprintf("%s, logbook line %d", e.What, e.Line)
		switch {
		case e.Scope == OfSensor:
			if e.What == Recalibrate {
				if s := r.Watch(f, PPFD, e.At); s != nil && s.Sensor == e.ID {
					add(SensePart, e.At, why)
				}
			}
		case !r.Covers(e, f):
		case e.What == Relamp:
			add(LampPart, e.At, why)
			add(OpticPart, e.At, why) // a lamp is changed with open hands on the reflector
		case e.What == Regear:
			add(GearPart, e.At, why)
		case e.What == Clean && e.Value != "sensor":
			add(OpticPart, e.At, why)
		case e.What == Move:
			add(PlacePart, e.At, why)
		}
	}
	plainNumber(out)
	return out
}

func plainNumber(out []Epoch) {
	rank := map[Part]int{}
	for i, p := range Parts {
		rank[p] = i
	}
	sort.SliceStable(out, func(i, j int) bool {
		if !out[i].From.Equal(out[j].From) {
			return out[i].From.Before(out[j].From)
		}
		return rank[out[i].Part] < rank[out[j].Part]
	})
	n := map[Part]int{}
	for i := range out {
		n[out[i].Part]++
		out[i].N = n[out[i].Part]
	}
}

func (r plain) WatchChanges(f *Fixture) []time.Time {
	out := []time.Time{f.Installed}
	for i := range r.Sensors {
		for _, t := range []time.Time{r.Sensors[i].From, r.Sensors[i].To} {
			if t.After(f.Installed) {
				out = append(out, t)
			}
		}
	}
	for _, e := range r.Events(f) {
		if e.What == Move {
			out = append(out, e.At)
		}
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Before(out[j]) })
	return out
}
