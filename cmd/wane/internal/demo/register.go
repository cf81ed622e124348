package demo

import (
	"bytes"
	"encoding/csv"
	"slices"
	"strconv"
	"time"

	"wane/ingest/register"
	"wane/transform/fleet"
)

// table collects the rows of one register file.
type table struct {
	b bytes.Buffer
	w *csv.Writer
}

func newTable(header []string) *table {
	t := &table{}
	t.b.WriteString("# " + invented + "\n")
	t.w = csv.NewWriter(&t.b)
	t.add(header...)
	return t
}

func (t *table) add(row ...string) { t.w.Write(row) } // a bytes.Buffer takes all

func (t *table) bytes() []byte {
	t.w.Flush()
	return t.b.Bytes()
}

// Fixtures of a bay hang in a row, so far apart, m, and so do rows.
const apartX, apartY = 2.0, 3.0

// fixturesTable is what hangs where.
func fixturesTable(c *calendar, rs []room) []byte {
	t := newTable(slices.Concat(register.FixtureColumns, register.PositionColumns))
	for _, r := range rs {
		n := 0
		for row, b := range r.bays {
			for i := range b.fixtures {
				l := r.lots[n%len(r.lots)]
				name := fixtureName(r.id, b.name, i)
				hours := ""
				if h, ok := early[name]; ok {
					hours = decimal(h, 0)
				}
				t.add(name, r.id, bayName(r.id, b.name), circuitName(r.id, b.name), string(r.lamp), l.name, l.make,
					decimal(r.ratedW, 0), decimal(r.ratedV, 0), string(r.gear), c.date(0), hours,
					decimal(apartX/2+float64(i)*apartX, 1), decimal(apartY/2+float64(row)*apartY, 1))
				n++
			}
		}
	}
	labFixtures(c, t)
	t.add(reference, "STORE", "", "", string(fleet.LED), referenceLot.name, referenceLot.make, "640", "230",
		string(fleet.Driver), c.date(0), "", "", "")
	return t.bytes()
}

// sensorsTable is which series tells of what.
func sensorsTable(c *calendar, rs []room, happened []happening) []byte {
	t := newTable(register.SensorColumns)
	moved := map[string]happening{}
	for _, h := range happened {
		if h.what == fleet.Move {
			moved[h.id] = h
		}
	}
	for _, r := range rs {
		factor := "1"
		if r.dialect == tabEpoch {
			factor = strconv.Itoa(milliVoltFactor)
		}
		for _, b := range r.bays {
			light := lightSensor(r.id, b.name)
			row := func(ch int, fixture, from, to string) {
				t.add(light, "CH"+strconv.Itoa(ch), string(fleet.PPFD), "umol/m2/s", fixture, factor, from, to)
			}
			for i := range b.fixtures {
				name := fixtureName(r.id, b.name, i)
				to := ""
				if h, ok := moved[name]; ok {
					to = c.date(h.day)
				}
				row(i+1, name, "", to)
			}
			for _, h := range happened { // those that came by a move: the next free channel
				if h.what == fleet.Move && h.value == bayName(r.id, b.name) {
					row(b.fixtures+1, h.id, c.date(h.day+1), "")
				}
			}
			panel := panelSensor(r.id, b.name)
			t.add(panel, "U", string(fleet.SupplyV), "V", circuitName(r.id, b.name), "1", "", "")
			t.add(panel, "T", string(fleet.AmbientC), "degC", bayName(r.id, b.name), "1", "", "")
			for _, place := range counterPlaces {
				if place == r.id+b.name {
					t.add("HM-"+place, "hours", string(fleet.RunHours), "h", bayName(r.id, b.name), "1", "", "")
				}
			}
			if r.id == sheetRoom {
				for i := range b.fixtures {
					name := fixtureName(r.id, b.name, i)
					t.add("HM-"+r.id, name, string(fleet.RunHours), "h", name, "1", "", "")
				}
			}
		}
		if r.id == meteredRoom {
			t.add("PM-"+r.id, "W", string(fleet.PowerW), "W", r.id, "1", "", "")
			t.add("PM-"+r.id, "kWh", string(fleet.Energy), "kWh", r.id, "1", "", "")
		}
	}
	return t.bytes()
}

// logbookTable is what people wrote down.
func logbookTable(c *calendar, happened []happening) []byte {
	t := newTable(register.LogbookColumns)
	for _, h := range happened {
		if !h.logged {
			continue
		}
		at := c.date(h.day)
		if h.minute >= 0 {
			at = h.when(c).Format(time.RFC3339)
		}
		t.add(at, string(h.what), string(h.scope), h.id, h.value, h.note)
	}
	labDiary(c, t)
	return t.bytes()
}
