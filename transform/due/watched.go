package due

import (
	"wane/transform/calendar"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/lamp"
)

// watch is days of a life on which one sensor read it in one bay.
type watch struct {
	sensor, bay string
	first       int32
}

// watches gives which sensors read the life, and where it hung, one after the
// other; the days on which it was hung elsewhere follow from that.
func (b *fleetBuilder) watches(l *lamp.Life) (out []watch, moved []int32) {
	of := b.reg.StretchesOf(l.Fixture, b.rules.Location)
	for i, p := range of.Places {
		if i > 0 && p.First > l.FirstDay && p.First <= l.LastDay {
			moved = append(moved, p.First)
		}
	}
	for _, p := range of.Periods {
		for _, q := range of.Places {
			first, last := max(p.First, q.First, l.FirstDay), min(p.Last, q.Last, l.LastDay)
			if first > last {
				continue
			}
			w := watch{p.Row.Sensor, q.Bay, first}
			if n := len(out); n == 0 || out[n-1].sensor != w.sensor || out[n-1].bay != w.bay {
				out = append(out, w)
			}
		}
	}
	if len(out) == 0 {
		out = []watch{{l.SensorLast, l.Place.Bay, l.FirstDay}}
	}
	return out, moved
}

// begin finds the first day of each sensor.
func (b *fleetBuilder) begin(lives []*lamp.Life) {
	for _, l := range lives {
		if l.RecordFrom == 0 {
			continue
		}
		w, _ := b.watches(l)
		for i := range w {
			day := max(w[i].first, l.RecordFrom)
			if d, ok := b.begun[w[i].sensor]; !ok || day < d {
				b.begun[w[i].sensor] = day
			}
		}
	}
}

// watched tells the forecast what read the lamp when, and from when on its light
// stood otherwise to what is read of it.
func (b *fleetBuilder) watched(l *lamp.Life, out *forecast.Lamp) {
	w, moved := b.watches(l)
	for _, x := range w {
		out.Watched = append(out.Watched, forecast.Watch{From: int(x.first), Group: b.groupOf(x.sensor, x.bay, l)})
	}
	out.Group = out.Watched[len(w)-1].Group
	if len(w) == 1 {
		out.Watched = nil
	}
	for _, day := range moved {
		out.Offsets = append(out.Offsets, forecast.Offset{Day: int(day), Why: forecast.OffsetPlace})
	}
	for _, e := range b.reg.Events(l.Fixture) {
		if day := calendar.DayOf(e.At, b.rules.Location); e.What == fleet.Regear && day > l.FirstDay && day <= l.LastDay {
			out.Offsets = append(out.Offsets, forecast.Offset{Day: int(day), Why: forecast.OffsetGear})
		}
	}
}

// on gives what watched the life on a day.
func (b *fleetBuilder) on(l *lamp.Life, day int32) watch {
	w, _ := b.watches(l)
	k := 0
	for k+1 < len(w) && w[k+1].first <= day {
		k++
	}
	return w[k]
}

func (b *fleetBuilder) sensorOn(l *lamp.Life, day int32) string { return b.on(l, day).sensor }

func (b *fleetBuilder) groupOn(l *lamp.Life, day int32) int {
	w := b.on(l, day)
	return b.groupOf(w.sensor, w.bay, l)
}
