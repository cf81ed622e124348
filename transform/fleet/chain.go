package fleet

import (
	"fmt"
	"sort"
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
	number(out)
	return out
}

// number puts epochs in order of time and counts them anew per part.
func number(out []Epoch) {
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

// WatchChanges gives the moments at which another row of the register may begin
// to tell of the fixture, in order, the first when it is installed. Between two
// of them Watch gives the same.
func (r *Register) WatchChanges(f *Fixture) []time.Time {
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
