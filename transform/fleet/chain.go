package fleet

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"
)

// Part is a link of the optical chain from the lamp to the logged number.
type Part string

// The parts, in the order of the light.
const (
	LampPart  Part = "lamp"
	GearPart  Part = "gear"
	OpticPart Part = "optic"     // reflector or lens, and the dirt on it
	PlacePart Part = "placement" // where the fixture hangs over its sensor
	SensePart Part = "sensor"    // the instrument and its gain
	ChanPart  Part = "channel"   // of the logger, with its factor
)

// Parts lists them.
var Parts = []Part{LampPart, GearPart, OpticPart, PlacePart, SensePart, ChanPart}

// Epoch is a stretch over which one part stayed as it was. It ends where the
// next of the same part begins. Why says what began it, and where that is
// written.
type Epoch struct {
	Part Part
	N    int // 1, 2, 3 … per part
	From time.Time
	Why  string
}

// Chain gives the fixture's epochs in order of time, ties in order of the
// light. Ageing runs on the lamp's; a level is comparable with another only
// where what lies between them is corrected for or unchanged.
func (r *Register) Chain(f *Fixture) []Epoch {
	begun := fmt.Sprintf("installed, fixtures line %d", f.Line)
	var out []Epoch
	add := func(p Part, at time.Time, why string) {
		out = append(out, Epoch{Part: p, From: at, Why: why})
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
	x := r.index()
	for _, i := range x.recalibrations(f) {
		e := &r.Logbook[i]
		if s := r.Watch(f, PPFD, e.At); s != nil && s.Sensor == e.ID {
			add(SensePart, e.At, written(e))
		}
	}
	for _, i := range x.covering(f) {
		e := &r.Logbook[i]
		switch {
		case e.What == Relamp:
			add(LampPart, e.At, written(e))
			add(OpticPart, e.At, written(e)) // a lamp is changed with open hands on the reflector
		case e.What == Regear:
			add(GearPart, e.At, written(e))
		case e.What == Clean && e.Value != "sensor":
			add(OpticPart, e.At, written(e))
		case e.What == Move:
			add(PlacePart, e.At, written(e))
		}
	}
	number(out)
	return out
}

// written says where a line of the logbook stands.
func written(e *Entry) string { return fmt.Sprintf("%s, logbook line %d", e.What, e.Line) }

// recalibrations gives the lines about recalibrations of the sensors that can
// ever have read the fixture's light.
func (x *index) recalibrations(f *Fixture) []int32 {
	var out []int32
	var seen []string
	for _, i := range x.rows(f) {
		s := &x.sensors[i]
		if s.Quantity != PPFD || slices.Contains(seen, s.Sensor) {
			continue
		}
		seen = append(seen, s.Sensor)
		for _, k := range x.book().lines[subject{OfSensor, s.Sensor}] {
			if x.logbook[k].What == Recalibrate {
				out = append(out, k)
			}
		}
	}
	return out
}

// number puts epochs in order of time, ties in order of the light, and counts
// them per part.
func number(out []Epoch) {
	slices.SortStableFunc(out, func(a, b Epoch) int {
		return cmp.Or(a.From.Compare(b.From), cmp.Compare(slices.Index(Parts, a.Part), slices.Index(Parts, b.Part)))
	})
	n := map[Part]int{}
	for i := range out {
		n[out[i].Part]++
		out[i].N = n[out[i].Part]
	}
}

// WatchChanges gives the moments at which another row of the register may begin
// to tell of the fixture, in order, the first when it is installed. Between two
// of them Watch gives the same. Only rows that watch the fixture or a place
// where it hangs at some time count.
func (r *Register) WatchChanges(f *Fixture) []time.Time {
	x := r.index()
	out := []time.Time{f.Installed}
	for _, i := range x.rows(f) {
		for _, t := range [...]time.Time{r.Sensors[i].From, r.Sensors[i].To} {
			if t.After(f.Installed) {
				out = append(out, t)
			}
		}
	}
	for _, i := range x.covering(f) {
		if e := &r.Logbook[i]; e.What == Move {
			out = append(out, e.At)
		}
	}
	slices.SortFunc(out, time.Time.Compare)
	return out
}

// ChainAt says which epochs hold at t, as "lamp 2, gear 1, …".
func ChainAt(epochs []Epoch, t time.Time) string {
	now := map[Part]int{}
	for _, e := range epochs {
		if e.From.After(t) {
			break
		}
		now[e.Part] = e.N
	}
	words := make([]string, 0, len(Parts))
	for _, p := range Parts {
		if now[p] > 0 {
			words = append(words, fmt.Sprintf("%s %d", p, now[p]))
		}
	}
	return strings.Join(words, ", ")
}
