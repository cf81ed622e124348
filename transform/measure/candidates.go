package measure

import (
	"sort"
	"time"

	"wane/transform/forecast"
	"wane/transform/plan"
)

// Candidate is one measurement that could be made.
type Candidate struct {
	Kind     string   // of plan.MeasureKinds
	Target   string   // sensor, fixture or circuit
	Room     string   // first of Rooms
	Rooms    []string // to be gone to
	LampType string
	Fixtures []string // that are touched: to be cleaned, to come down
	N        int      // how many times it costs
	On       time.Time
	made     forecast.Visit
}

// Recalibrated, Checked and Cleaned give what it is made on: indices into the fit's
// groups, groups, and lamps.
func (c *Candidate) Recalibrated() []int { return c.made.Factors }

// Checked see Recalibrated.
func (c *Candidate) Checked() []int { return c.made.Checked }

// Cleaned see Recalibrated.
func (c *Candidate) Cleaned() []int { return c.made.Cleaned }

// Levels are the lamps, index into the fit's, whose own level is read.
func (c *Candidate) Levels() []int { return c.made.Levels }

// MeterSD is the noise of a reference meter held beside a sensor, ln; that of a
// lamp in the laboratory against what its make gives when new is declared twice as
// large (common practice, no source).
const (
	MeterSD = .01
	LabSD   = .02
)

// cleanWeeks is how long after a cleaning its readings are waited for.
const cleanWeeks = 4

// leastClean is the fewest fixtures under a sensor of which half can be cleaned.
const leastClean = 4

// Candidates lists what could be measured, in order of kind and target.
func Candidates(in *Input) []Candidate {
	c := newCollector(in)
	for s := range in.Sensors {
		c.gains(s)
		c.clean(s)
	}
	for i := range in.Lamps {
		c.survey(i)
	}
	c.circuits()
	c.lab()
	sort.SliceStable(c.out, func(a, b int) bool {
		if c.out[a].Kind != c.out[b].Kind {
			return c.out[a].Kind < c.out[b].Kind
		}
		return c.out[a].Target < c.out[b].Target
	})
	return c.out
}

func newCollector(in *Input) *collector {
	c := &collector{in: in, j: in.joint(), under: map[int][]int{}}
	for i := range in.Lamps {
		c.under[in.Lamps[i].Sensor] = append(c.under[in.Lamps[i].Sensor], i)
	}
	return c
}

type collector struct {
	in    *Input
	j     *forecast.Joint
	under map[int][]int // by sensor: indices into Input.Lamps
	out   []Candidate
}

func (c *collector) add(x Candidate) {
	if !c.in.Settings.MeasureOff(x.Kind) && len(x.made.Readings) > 0 {
		c.out = append(c.out, x)
	}
}

// gains offers a recalibration and a reference meter for one sensor. A sensor in
// several bays is a group in each: their gains are read at once.
func (c *collector) gains(s int) {
	x := &c.in.Sensors[s]
	if len(x.Rooms) == 0 || len(c.under[s]) == 0 {
		return
	}
	of := Candidate{Target: x.Name, Room: x.Rooms[0], Rooms: x.Rooms, LampType: c.in.Lamps[c.under[s][0]].LampType, N: 1}
	recal, meter := of, of
	recal.Kind, meter.Kind = plan.Recalibrate, plan.Reference
	meter.Fixtures = []string{x.Fixture}
	for _, g := range x.Groups {
		r, ok := c.j.Gain(g, 0)
		if !ok {
			continue
		}
		recal.made.Readings, recal.made.Factors = append(recal.made.Readings, r), append(recal.made.Factors, g)
		m, _ := c.j.Gain(g, MeterSD)
		meter.made.Readings, meter.made.Checked = append(meter.made.Readings, m), append(meter.made.Checked, g)
	}
	c.add(recal)
	c.add(meter)
}

// clean offers to clean every other fixture under one sensor.
func (c *collector) clean(s int) {
	all := c.under[s]
	if s < 0 || len(all) < leastClean {
		return
	}
	x := Candidate{Kind: plan.CleanHalf, Target: c.in.Sensors[s].Name, Room: c.in.Lamps[all[0]].Room,
		LampType: c.in.Lamps[all[0]].LampType}
	x.Rooms = []string{x.Room}
	for n, i := range all {
		if n%2 == 0 && c.in.Lamps[i].Room == x.Room {
			x.Fixtures = append(x.Fixtures, c.in.Lamps[i].Fixture)
			x.made.Cleaned = append(x.made.Cleaned, c.in.Posteriors[i].Lamp)
		}
	}
	x.N = len(x.Fixtures)
	x.made.Readings, x.made.Shared = c.j.Cleaned(x.made.Cleaned, len(all)-x.N, cleanWeeks)
	c.add(x)
}

// circuits offers a voltage logger where the lamps' weeks have no supply.
func (c *collector) circuits() {
	groups, first := map[string][]int{}, map[string]int{}
	for i := range c.in.Lamps {
		l := &c.in.Lamps[i]
		if l.Circuit == "" || !c.in.Posteriors[i].NoSupply {
			continue
		}
		if _, ok := first[l.Circuit]; !ok {
			first[l.Circuit] = i
		}
		if !has(groups[l.Circuit], l.Group) {
			groups[l.Circuit] = append(groups[l.Circuit], l.Group)
		}
	}
	for circuit, list := range groups {
		l := &c.in.Lamps[first[circuit]]
		x := Candidate{Kind: plan.Voltage, Target: circuit, Room: l.Room, Rooms: []string{l.Room}, LampType: l.LampType, N: 1}
		for _, g := range list {
			if r, ok := c.j.Swing(g); ok {
				x.made.Readings = append(x.made.Readings, r...)
			}
		}
		c.add(x)
	}
}

// lab offers to look at a lamp in the laboratory when it comes down: one of each lamp
// type, room and day, that burnt longest.
func (c *collector) lab() {
	type key struct{ room, lamp, day string }
	best := map[key]int{}
	for i := range c.in.Lamps {
		l := &c.in.Lamps[i]
		if l.Down.IsZero() || l.Down.Before(c.in.AsOf) || l.Down.After(c.in.AsOf.AddDate(0, 0, joinDays)) {
			continue
		}
		k := key{l.Room, l.LampType, l.Down.Format(time.DateOnly)}
		if b, ok := best[k]; !ok || c.in.Posteriors[i].HoursNow > c.in.Posteriors[b].HoursNow {
			best[k] = i
		}
	}
	for _, i := range best {
		l := &c.in.Lamps[i]
		r, ok := c.j.Level(c.in.Posteriors[i].Lamp, LabSD)
		if !ok {
			continue
		}
		x := c.ofLamp(plan.Lab, i, r)
		x.On, x.made.Ended = l.Down, x.made.Levels
		c.add(x)
	}
}

// survey offers a canopy survey of a fixture whose first one under this lamp was near
// its baseline: a second tells the lamp's level.
func (c *collector) survey(i int) {
	if sd := c.in.Lamps[i].Survey; sd > 0 {
		if r, ok := c.j.Level(c.in.Posteriors[i].Lamp, sd); ok {
			c.add(c.ofLamp(plan.Survey, i, r))
		}
	}
}

// ofLamp is a reading of one lamp's level.
func (c *collector) ofLamp(kind string, i int, r forecast.Reading) Candidate {
	l := &c.in.Lamps[i]
	return Candidate{Kind: kind, Target: l.Fixture, Room: l.Room, Rooms: []string{l.Room}, LampType: l.LampType,
		Fixtures: []string{l.Fixture}, N: 1, made: forecast.Visit{Readings: []forecast.Reading{r},
			Checked: []int{l.Group}, Levels: []int{c.in.Posteriors[i].Lamp}}}
}

func has(list []int, x int) bool {
	for _, y := range list {
		if y == x {
			return true
		}
	}
	return false
}
