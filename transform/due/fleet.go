package due

import (
	"fmt"
	"math"

	"wane/transform/calendar"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/lamp"
)

// Fleet is what a forecast takes in, and which life each of its lamps is.
type Fleet struct {
	Input forecast.Input
	Lives []*lamp.Life // as Input.Lamps
	// Sensors names the sensor of each of Input.Groups.
	Sensors []string
	Notes   []string
	// Surveys is the noise that a canopy survey would have, ln, of lamps whose level one
	// would tell; by Input.Lamps.
	Surveys map[int]float64
}

// FleetOf makes the forecast's input from the lives as of a day.
func FleetOf(lives []*lamp.Life, reg *fleet.Register, rules lamp.Rules, asOf int32, interval float64) Fleet {
	out := Fleet{Input: forecast.Input{AsOf: int(asOf), Interval: interval, Clean: rules.StaysClean}}
	b := fleetBuilder{rules: rules, reg: reg, group: map[string]int{}, begun: map[string]int32{},
		burn: lamp.BurnByRoom(lives, asOf)}
	out.Input.Defaults = lamp.OwnDefaults(rules, lives)
	b.begin(lives)
	for _, l := range lives {
		if l.LastDay < l.FirstDay {
			continue
		}
		out.Input.Lamps = append(out.Input.Lamps, b.lamp(l))
		out.Lives = append(out.Lives, l)
	}
	b.references(out.Lives)
	out.Input.Groups, out.Sensors, out.Notes = b.groups, b.sensors, b.notes
	return out
}

type fleetBuilder struct {
	rules   lamp.Rules
	reg     *fleet.Register
	group   map[string]int
	groups  []forecast.Group
	sensors []string         // of groups
	begun   map[string]int32 // first day of each sensor
	burn    map[string]forecast.Burn
	notes   []string
}

func (b *fleetBuilder) lamp(l *lamp.Life) forecast.Lamp {
	out := forecast.Lamp{
		Fixture: l.Fixture.ID, Life: l.N, Class: string(l.LampType), Gear: string(l.Gear), Lot: l.Cohort, Room: l.Place.Room,
		Make: l.Fixture.Model, Hung: int(l.HungDay), StartDay: int(l.FirstDay), StartHours: l.StartHours, HoursNow: l.HoursNow(),
		Threshold: b.threshold(l), Burn: b.burn[l.Place.Room], Dark: l.Dark(),
		Ended: !l.InService() && !l.Dark(), EndDay: int(l.LastDay) + 1,
	}
	if out.Gear == "" {
		out.Gear = forecast.UnknownGear
	}
	for _, e := range b.reg.Events(l.Fixture) {
		day := int(calendar.DayOf(e.At, b.rules.Location))
		switch {
		case e.What == fleet.Relamp && day <= int(l.LastDay):
			out.Cleanings = append(out.Cleanings, forecast.Clean{Day: day, Part: forecast.CleanRelamp})
		case e.What == fleet.Clean && e.Value != "sensor":
			out.Cleanings = append(out.Cleanings, forecast.Clean{Day: day, Part: e.Value})
		}
	}
	if out.Sunlit = l.Sunlit; !l.Sunlit {
		out.Bins = l.Weeks
	}
	out.Corrected = forecast.Corrected{Supply: l.Corrected.Supply[l.Gear], Ambient: l.Corrected.Ambient[l.LampType]}
	b.watched(l, &out)
	return out
}

// groupOf gives the lamps under one sensor in one bay their group.
func (b *fleetBuilder) groupOf(sensor, bay string, l *lamp.Life) int {
	id := sensor
	if bay != "" {
		id += " in " + bay
	}
	if g, ok := b.group[id]; ok {
		return g
	}
	g := forecast.Group{ID: id, Start: int(b.begun[sensor])}
	if sensor != "" {
		for i := range b.reg.Logbook {
			e := &b.reg.Logbook[i]
			day := int(calendar.DayOf(e.At, b.rules.Location))
			if e.Scope == fleet.OfSensor && e.ID != sensor {
				continue
			}
			switch {
			case e.What == fleet.Recalibrate:
				g.Recals = append(g.Recals, forecast.Recal{Day: day, AsFound: e.Number})
			case e.What == fleet.Clean && e.Scope == fleet.OfSensor, e.What == fleet.Clean && e.Value == "sensor" &&
				b.reg.Covers(e, l.Fixture):
				g.Recals = append(g.Recals, forecast.Recal{Day: day, SensorClean: true})
			}
		}
	}
	b.group[id] = len(b.groups)
	b.groups, b.sensors = append(b.groups, g), append(b.sensors, sensor)
	return b.group[id]
}

// threshold is the level at which the lamp is due; an absolute PPFD is turned
// into one by the lamp's own baseline.
func (b *fleetBuilder) threshold(l *lamp.Life) float64 {
	th := b.rules.Thresholds.Of(l.Place.Room, l.LampType)
	if th.PPFD == 0 {
		return th.Level
	}
	if !l.Base.Baseline.Known() {
		return b.rules.Thresholds.Default
	}
	return min(max(th.PPFD/l.Base.Baseline.Centre, 0.01), 0.999)
}

// largestLevel is where a reference value stops being a level and is a PPFD.
const largestLevel = 2

// references ties each logged reading of a reference meter to its lamp (a
// level) or to the gain of the sensor that reads it (a PPFD).
func (b *fleetBuilder) references(lives []*lamp.Life) {
	for i := range b.reg.Logbook {
		e := &b.reg.Logbook[i]
		if e.What != fleet.ReferenceIs {
			continue
		}
		day := calendar.DayOf(e.At, b.rules.Location)
		k := b.referred(e, lives, day)
		if k < 0 {
			b.notes = append(b.notes, fmt.Sprintf("logbook line %d: no lamp with readings stands under this reference on "+
				"that day: not used", e.Line))
			continue
		}
		l := lives[k]
		r := forecast.Reference{Day: int(day), Lamp: k, Ln: math.Log(e.Number)}
		if e.Number > largestLevel {
			read, ok := l.OutputNear(day, 3)
			if !ok {
				b.notes = append(b.notes, fmt.Sprintf("logbook line %d: %s has no reading within a week of the reference: not used",
					e.Line, l.Fixture.ID))
				continue
			}
			r.Lamp, r.Ln = -1, math.Log(read/e.Number)
		}
		g := &b.groups[b.groupOn(l, day)]
		g.References = append(g.References, r)
	}
}

// referred finds the lamp that a reference entry speaks of; a sensor's entry
// speaks of the one fixture that it watches.
func (b *fleetBuilder) referred(e *fleet.Entry, lives []*lamp.Life, day int32) int {
	found := -1
	for k, l := range lives {
		if day < l.FirstDay || day > l.LastDay {
			continue
		}
		switch {
		case e.Scope == fleet.OfFixture && l.Fixture.ID == e.ID:
			return k
		case e.Scope == fleet.OfSensor && b.sensorOn(l, day) == e.ID:
			if found >= 0 {
				return -1 // several channels: whose light was it?
			}
			found = k
		}
	}
	return found
}
