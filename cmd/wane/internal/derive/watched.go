package derive

import (
	"maps"

	"wane/transform/calendar"
	"wane/transform/fleet"
	"wane/transform/forecast"
)

// watch is days of a life on which one sensor read it in one bay.
type watch struct {
	sensor, bay string
	first       int32
}

// watches gives which sensors read the life, and where it hung, one after the
// other; the days on which it was hung elsewhere follow from that.
func (b *fleetBuilder) watches(l *Life) (out []watch, moved []int32) {
	of := registeredOf(b.reg, l.Fixture, b.s.Config.Location)
	for i, p := range of.places {
		if i > 0 && p.first > l.FirstDay && p.first <= l.LastDay {
			moved = append(moved, p.first)
		}
	}
	for _, p := range of.periods {
		for _, q := range of.places {
			first, last := max(p.first, q.first, l.FirstDay), min(p.last, q.last, l.LastDay)
			if first > last {
				continue
			}
			w := watch{p.row.Sensor, q.Bay, first}
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
func (b *fleetBuilder) begin(lives []*Life) {
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
func (b *fleetBuilder) watched(l *Life, out *forecast.Lamp) {
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
		if day := calendar.DayOf(e.At, b.s.Config.Location); e.What == fleet.Regear && day > l.FirstDay && day <= l.LastDay {
			out.Offsets = append(out.Offsets, forecast.Offset{Day: int(day), Why: forecast.OffsetGear})
		}
	}
}

// on gives what watched the life on a day.
func (b *fleetBuilder) on(l *Life, day int32) watch {
	w, _ := b.watches(l)
	k := 0
	for k+1 < len(w) && w[k+1].first <= day {
		k++
	}
	return w[k]
}

func (b *fleetBuilder) sensorOn(l *Life, day int32) string { return b.on(l, day).sensor }

func (b *fleetBuilder) groupOn(l *Life, day int32) int {
	w := b.on(l, day)
	return b.groupOf(w.sensor, w.bay, l)
}

// ownCoefficients is what is assumed, with the site's own coefficients where its
// swings tell of them: those that the levels were made with.
func ownCoefficients(s Site, lives []*Life) forecast.Defaults {
	d := s.Config.Forecast
	if d.Classes == nil {
		d = forecast.DefaultTable()
	}
	declared := s.Config.Corrections
	if !declared.Estimate {
		return d
	}
	assumed := d
	d.Supply, d.Classes = maps.Clone(d.Supply), maps.Clone(d.Classes)
	for _, l := range lives {
		gear := string(l.Gear)
		if gear == "" {
			gear = forecast.UnknownGear
		}
		d.Supply[gear] = combined(supplyPrior(assumed, declared, l.Gear), l.Supply, leastSupply)
		if c, ok := assumed.Classes[string(l.LampType)]; ok {
			c.Ambient = combined(ambientPrior(assumed, declared, l.LampType), l.Ambient, leastAmbient)
			d.Classes[string(l.LampType)] = c
		}
	}
	return d
}
