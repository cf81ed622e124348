package register

import (
	"fmt"
	"time"

	"wane/ingest/problem"
	"wane/transform/fleet"
)

// spotOf reads where in its room a fixture hangs.
func spotOf(w row) fleet.Spot {
	if w.get("x") == "" && w.get("y") == "" {
		return fleet.Spot{}
	}
	for _, field := range PositionColumns {
		if w.get(field) == "" {
			w.bad(field, "is empty where the other of x and y is not",
				"give both, in metres from a corner of the room, or neither")
		}
	}
	return fleet.Spot{X: w.number("x", 0, -farthest, farthest, "metres"),
		Y: w.number("y", 0, -farthest, farthest, "metres"), Known: true}
}

// farthest is how far from its room's corner a fixture may hang, m.
const farthest = 10_000

func parseFixtures(r *fleet.Register, n *names, t *table, loc *time.Location) problem.List {
	line := map[string]int{}
	for _, w := range t.rows {
		f := fleet.Fixture{
			ID: w.need("fixture"), Room: w.need("room"), Bay: w.get("bay"), Circuit: w.get("circuit"),
			LampType: oneOf(w, "lamp_type", fleet.LampTypes, false),
			Cohort:   w.get("cohort"), Model: w.get("model"),
			RatedW:         w.number("rated_w", 0, 1, 10_000, "watts"),
			RatedV:         w.number("rated_v", 0, 12, 1_000, "volts"),
			Gear:           oneOf(w, "gear", fleet.Gears, true),
			Installed:      w.date("installed", loc),
			HoursAtInstall: w.number("hours_at_install", 0, 0, 200_000, "hours"),
			Spot:           spotOf(w),
			Line:           w.line,
		}
		if f.ID == "" {
			continue
		}
		if first, twice := line[f.ID]; twice {
			w.bad("fixture", fmt.Sprintf("%q stands on line %d already", f.ID, first),
				"keep one row a fixture; a new lamp is a relamp line in the logbook")
			continue
		}
		line[f.ID] = w.line
		for _, d := range []struct {
			scope fleet.Scope
			field string
			name  string
		}{{fleet.OfFixture, "fixture", f.ID}, {fleet.OfBay, "bay", f.Bay}, {fleet.OfCircuit, "circuit", f.Circuit},
			{fleet.OfRoom, "room", f.Room}} {
			if clash := n.declare(d.scope, d.name); clash != "" {
				w.bad(d.field, fmt.Sprintf("%q is the name of a %s too", d.name, clash),
					"give each fixture, bay, circuit and room a name of its own; sensors watch a name")
			}
		}
		for _, d := range []struct {
			scope fleet.Scope
			field string
			name  string
		}{{fleet.OfRoom, "room", f.Room}, {fleet.OfBay, "bay", f.Bay}, {fleet.OfCircuit, "circuit", f.Circuit}} {
			if first := n.otherwise(d.scope, d.name); first != "" {
				w.bad(d.field, fmt.Sprintf("%q is written %q on an earlier line", d.name, first),
					fmt.Sprintf("write one %s's name one way; another's must differ in more than capitals, blanks and dashes",
						d.scope))
			}
		}
		if f.Bay != "" {
			if room, ok := n.room[f.Bay]; ok && room != f.Room {
				w.bad("bay", fmt.Sprintf("%q is in room %q on an earlier line and in %q here", f.Bay, room, f.Room),
					"a bay is in one room: give the second another name")
			}
			n.room[f.Bay] = f.Room
		}
		r.Fixtures = append(r.Fixtures, f)
	}
	return t.found
}
