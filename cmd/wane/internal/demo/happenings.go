package demo

import (
	"fmt"
	"slices"
	"sort"
	"strconv"
	"time"

	"wane/transform/fleet"
)

// happening is one thing that was done or befell, as it truly was; logged says
// whether the logbook has it.
type happening struct {
	room        string
	day, minute int // local; minute -1 = the logbook has the date only, it holds from the start of that day
	what        fleet.What
	scope       fleet.Scope
	id          string
	value       string
	note        string
	logged      bool
}

func (h happening) when(c *calendar) time.Time { return c.moment(h.day, max(h.minute, 0)) }

// diary collects what happens on the site.
type diary struct {
	c    *calendar
	room string // the room of what is added next
	list []happening
}

func (d *diary) add(share float64, minute int, what fleet.What, scope fleet.Scope, id, value, note string) {
	d.list = append(d.list, happening{d.room, d.c.at(share), minute, what, scope, id, value, note, true})
}

// spot is a lamp that fails while lit, is found the next time somebody looks,
// and is replaced some days later in the dark hours. The line in the logbook
// has the hour of the failure as the grower saw it from the readings.
func (d *diary) spot(r *room, share float64, fixture, mode, cohort string, daysDark int) {
	day := d.c.at(share)
	lit := (r.on + 5*60) % (24 * 60)
	d.list = append(d.list, happening{d.room, day, lit, fleet.Fail, fleet.OfFixture, fixture, mode,
		"dark when the round was made", true})
	if cohort != "" {
		d.list = append(d.list, happening{d.room, min(day+daysDark, d.c.days-1), r.workAt, fleet.Relamp, fleet.OfFixture,
			fixture, cohort, "spot relamp", true})
	}
}

// happenings is the site's history, as shares of the record's length so that a
// short record has the same story. Recalibrations get their as-found gain when
// the sensors' true gains are known.
func happenings(c *calendar, rs []room) []happening {
	d := &diary{c: c}
	at := map[string]*room{}
	for i := range rs {
		at[rs[i].id] = &rs[i]
	}
	d.list = append(d.list, happening{"", 0, -1, fleet.Note, fleet.OfSite, "", "",
		"this logbook is invented, as is the whole site", true})
	d.flowering(at)
	d.growing(at)
	sort.SliceStable(d.list, func(i, j int) bool { return d.list[i].when(c).Before(d.list[j].when(c)) })
	return d.list
}

// flowering tells of the flowering rooms.
func (d *diary) flowering(at map[string]*room) {
	c := d.c
	f1 := d.enter(at["F1"])
	for k := 1; k < 12; k++ {
		d.add(float64(k)/12-0.004, f1.workAt, fleet.Clean, fleet.OfRoom, "F1", "all", "between crops")
	}
	d.spot(f1, 0.382, "F1-A03", "does not strike", "K-DE-b", 4)
	d.spot(f1, 0.9955, "F1-A05", "does not strike", "", 0)
	for i := range 6 {
		cohort := f1.lots[(6+i)%2].make[len("Invented-"):] + "-DE-b"
		d.add(0.60, f1.workAt, fleet.Relamp, fleet.OfFixture, fixtureName("F1", "B", i), cohort, "group relamp of the bay")
	}
	d.add(0.52, -1, fleet.Outage, fleet.OfRoom, "F1", c.date(c.at(0.52)+max(1, min(3, c.days/100))), "switchboard rebuilt")
	d.add(0.70, f1.on+6*60, fleet.ReferenceIs, fleet.OfFixture, "F1-A02", "",
		"reference meter held at the sensor, full power")
	for _, share := range []float64{0.31, 0.64, 0.93} {
		d.recalibrate(share, f1, "A", "B")
	}

	f2 := d.enter(at["F2"])
	d.spot(f2, 0.22, "F2-A02", "cycles and goes out", badLot, 3)
	d.spot(f2, 0.36, "F2-A02", "does not strike", "P-DE-c", 9)
	d.spot(f2, 0.31, "F2-A04", "does not strike", "P-DE-c", 5)
	d.spot(f2, 0.47, "F2-B02", "arc tube broken", "P-DE-c", 6)
	for k := 1; k < 6; k++ {
		d.add(float64(k)/6, f2.workAt, fleet.Clean, fleet.OfRoom, "F2", "all", "")
	}
	for _, share := range []float64{0.33, 0.67} {
		d.recalibrate(share, f2, "A", "B")
	}
}

// growing tells of the other rooms.
func (d *diary) growing(at map[string]*room) {
	c := d.c
	veg := d.enter(at["VEG"])
	for k := 1; k < 19; k++ {
		d.add(float64(k)/19, veg.workAt, fleet.Clean, fleet.OfRoom, "VEG", "all", "dusty: potting next door")
	}
	d.add(0.45, veg.workAt, fleet.Relamp, fleet.OfRoom, "VEG", "K-SE-b", "group relamp")
	d.add(0.55, veg.workAt, fleet.Regear, fleet.OfFixture, "VEG-A03", "",
		"ballast hummed; hour meter is in the ballast and starts at 0")
	d.spot(veg, 0.80, "VEG-A02", "end of life, cycles", "P-SE-b", 5)
	d.list = append(d.list, happening{"VEG", c.at(0.72), veg.workAt, fleet.Relamp, fleet.OfFixture, "VEG-B03", "K-SE-b",
		"nobody wrote this down", false})
	for _, share := range []float64{0.30, 0.62, 0.94} {
		d.recalibrate(share, veg, "A", "B")
	}

	mo := d.enter(at["MO"])
	for i := range 8 {
		cohort := mo.lots[i%2].make[len("Invented-"):] + "-CM-b"
		d.add(0.50, mo.workAt, fleet.Relamp, fleet.OfFixture, fixtureName("MO", "A", i), cohort, "group relamp")
	}
	d.spot(mo, 0.78, "MO-A06", "does not strike", "P-CM-b", 7)
	for _, share := range []float64{0.35, 0.70} {
		d.recalibrate(share, mo, "A")
	}

	led1 := d.enter(at["LED1"])
	d.add(0.30, led1.workAt, fleet.Dim, fleet.OfRoom, "LED1", "80", "a cultivar that bleaches")
	d.add(0.52, led1.workAt, fleet.Dim, fleet.OfRoom, "LED1", "100", "")
	d.add(0.70, led1.workAt, fleet.Move, fleet.OfFixture, "LED1-A06", "LED1-B",
		"makes room for a duct; logger channel 7 of bay B from here")
	for _, share := range []float64{0.33, 0.66} {
		d.add(share, led1.workAt, fleet.Clean, fleet.OfRoom, "LED1", "all", "")
	}
	for _, share := range []float64{0.45, 0.90} {
		d.recalibrate(share, led1, "A", "B")
	}

	prop := d.enter(at["PROP"])
	for k := 1; k < 6; k++ {
		d.add(float64(k)/6, prop.workAt, fleet.Clean, fleet.OfRoom, "PROP", "all", "")
	}
}

// enter says in which room the next happenings are.
func (d *diary) enter(r *room) *room {
	d.room = r.id
	return r
}

// recalibrate is logged by its date: the sensor reads true from the start of
// that day.
func (d *diary) recalibrate(share float64, r *room, bays ...string) {
	for _, b := range bays {
		d.add(share, -1, fleet.Recalibrate, fleet.OfSensor, lightSensor(r.id, b), "", "against the reference meter")
	}
}

// fixtureName is the fixture's name at its place, i from 0.
func fixtureName(room, bay string, i int) string { return fmt.Sprintf("%s-%s%02d", room, bay, i+1) }

func bayName(room, bay string) string { return room + "-" + bay }

func circuitName(room, bay string) string { return "C-" + room + "-" + bay }

// lightSensor is the instrument with the quantum sensors of a bay: one gain.
func lightSensor(room, bay string) string { return "LG-" + room + bay }

// panelSensor is the instrument that reads a bay's voltage and temperature.
func panelSensor(room, bay string) string { return "VT-" + room + bay }

// lotNamed finds a lot by its name.
func lotNamed(rs []room, name string) lot {
	for _, r := range rs {
		if i := slices.IndexFunc(r.lots, func(l lot) bool { return l.name == name }); i >= 0 {
			return r.lots[i]
		}
	}
	return laterLots[slices.IndexFunc(laterLots, func(l lot) bool { return l.name == name })]
}

func decimal(v float64, digits int) string { return strconv.FormatFloat(v, 'f', digits, 64) }
