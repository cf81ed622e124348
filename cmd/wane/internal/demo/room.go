package demo

import (
	"math"
	"math/rand/v2"
	"time"

	"wane/transform/fleet"
)

// fixture is one luminaire while its room is played through.
type fixture struct {
	name, make string
	bay        int     // index of the bay whose sensors see it now
	base       float64 // PPFD at its sensor, new, clean, at rated voltage
	depth      float64 // share lost under a full coat of dirt
	coat       float64 // 0 clean to 1
	gear       float64 // factor of a ballast that was replaced
	dark       bool
	hours      float64 // run-hours of the lamp
	lit        float64 // hours lit on this day, of this lamp
	meter      float64 // of the hour meter in the ballast
	life       int     // index into the room's lives
	noise      *rand.Rand
	light      float64 // PPFD now but for supply, ambient, run-up and noise
}

// bayState is a bay while its room is played through.
type bayState struct {
	place    string // F1A: in names of sensors and files
	gains    []float64
	weather  *weather
	channels []int // fixture on each channel; -1 = nothing connected
	counter  float64
	daily    []float64 // counter at the start of each day
	row      []int64   // what the logger prints: a channel each, then V, then degC
	record   *record
	supply   mean
	ambient  mean
}

type mean struct{ sum, n float64 }

func (m *mean) add(v float64) { m.sum += v; m.n++ }
func (m *mean) take() float64 {
	v := 0.0
	if m.n > 0 {
		v = m.sum / m.n
	}
	*m = mean{}
	return v
}

// played is what a room's play leaves behind for the sheets and the truth.
type played struct {
	lives    []Life
	gains    []Gain
	counters map[string][]float64 // by bay place: hour meter at the start of each day
	meters   []meterReading       // weekly, of the ballasts
	panel    []panelReading       // hourly, of the room's energy meter
	files    int
	bytes    int64
}

// play is one room's three years.
type play struct {
	c        *calendar
	r        *room
	all      []room
	seed     uint64
	fixtures []*fixture
	bays     []*bayState
	events   []*happening
	out      played
	dim      float64 // set point, share of full power
	noPower  int     // no power before this slot
	sinceOn  float64 // minutes since the lamps were switched on; < 0 = off
	watts    float64
	kwh      float64
}

// newPlay sets the stage. Events are those of this room, in time order; the
// values that only the play can know (gains found, reference readings) are
// written into them.
func newPlay(c *calendar, all []room, r *room, seed uint64, events []*happening,
	open func(place string, channels int) *record) *play {
	p := &play{c: c, r: r, all: all, seed: seed, events: events, dim: 1, sinceOn: -1}
	if p.scheduled(0) {
		p.sinceOn = 240 // the lamps of this room burn across midnight
	}
	for b, spec := range r.bays {
		place := r.id + spec.name
		var recalibrated []int
		for _, e := range events {
			if e.what == fleet.Recalibrate && e.id == lightSensor(r.id, spec.name) {
				recalibrated = append(recalibrated, e.day)
			}
		}
		bs := &bayState{
			place:   place,
			gains:   gainPath(chance(seed, "gain "+place), c.days, recalibrated),
			weather: newWeather(chance(seed, "weather "+place), r),
			counter: float64(chance(seed, "counter "+place).IntN(900)),
		}
		for _, e := range events {
			if e.what == fleet.Recalibrate && e.id == lightSensor(r.id, spec.name) {
				found := math.Exp(bs.gains[max(e.day-1, 0)] + 0.004*chance(seed, "found "+place+e.when(c).String()).NormFloat64())
				e.value = decimal(found, 3)
			}
		}
		for i := range spec.fixtures {
			n := len(p.fixtures)
			l := r.lots[n%len(r.lots)]
			name := fixtureName(r.id, spec.name, i)
			noise := chance(seed, "fixture "+name)
			f := &fixture{
				name: name, make: l.make, bay: b, gear: 1, noise: noise,
				base:  r.ppfd * (1 + 0.035*noise.NormFloat64()),
				depth: r.dirt * (1 + 0.15*noise.NormFloat64()),
				hours: early[name], meter: float64(noise.IntN(4)),
			}
			p.fixtures = append(p.fixtures, f)
			bs.channels = append(bs.channels, n)
			p.newLamp(f, l, c.first, true)
		}
		for _, e := range events {
			if e.what == fleet.Move && e.value == bayName(r.id, spec.name) {
				bs.channels = append(bs.channels, -1) // a free channel, for later
			}
		}
		bs.row = make([]int64, len(bs.channels)+2)
		bs.record = open(place, len(bs.channels))
		p.bays = append(p.bays, bs)
	}
	return p
}

// newLamp puts a lamp of the lot into the fixture.
func (p *play) newLamp(f *fixture, l lot, at time.Time, logged bool) {
	n := 1
	for _, old := range p.out.lives {
		if old.Fixture == f.name {
			n++
		}
	}
	r := chance(p.seed, "lamp "+f.name+" "+at.UTC().Format(time.RFC3339))
	law := l.law
	law.S *= 1 + l.spread*max(-2.5, min(2.5, r.NormFloat64()))
	law.Q = l.law.Q*law.S/l.law.S + 0.03*law.S*r.NormFloat64()
	law.E += 0.0015 * r.NormFloat64()
	f.life = len(p.out.lives)
	p.out.lives = append(p.out.lives, Life{
		Fixture: f.name, Room: p.r.id, Make: l.make, Cohort: l.name, LampType: p.r.lamp, N: n, Logged: logged, Law: law,
		From: at, StartHours: f.hours,
	})
	f.dark, f.lit = false, 0
}

// scheduled says whether the room's programme has the lamps on.
func (p *play) scheduled(slot int) bool {
	since := (int(p.c.minute[slot]) - p.r.on + 24*60) % (24 * 60)
	return since < p.r.hours*60
}

// run plays the whole record.
func (p *play) run() error {
	slots := make([]int, len(p.events))
	for i, e := range p.events {
		slots[i] = p.c.slotAt(e.when(p.c))
	}
	next := 0
	for d := range p.c.days {
		p.dawn(d)
		for s := p.c.starts[d]; s < p.c.starts[d+1]; s++ {
			for next < len(p.events) && slots[next] <= s {
				p.befall(p.events[next], s)
				next++
			}
			if err := p.moment(d, s); err != nil {
				return err
			}
		}
		p.dusk(d)
	}
	for _, b := range p.bays {
		if err := b.record.close(); err != nil {
			return err
		}
		p.out.files += b.record.files
		p.out.bytes += b.record.bytes
		if p.out.counters == nil {
			p.out.counters = map[string][]float64{}
		}
		p.out.counters[b.place] = b.daily
		daily := make([]float64, len(b.gains))
		for d, g := range b.gains {
			daily[d] = math.Exp(g)
		}
		p.out.gains = append(p.out.gains, Gain{Sensor: "LG-" + b.place, Daily: daily})
	}
	return nil
}

// dawn begins a local day.
func (p *play) dawn(day int) {
	date := p.c.moment(day, 0)
	for _, b := range p.bays {
		b.daily = append(b.daily, b.counter)
		b.weather.newDay(date)
	}
	for _, f := range p.fixtures {
		f.coat = dustDown(f.coat)
		f.lit = 0
		p.relight(f)
	}
}

// relight works out what a fixture gives from here on; the lamp's ageing
// within a day is too small to print.
func (p *play) relight(f *fixture) {
	if f.dark {
		f.light = 0.02 * f.base // the neighbours' light
		return
	}
	dimmed := p.dim * math.Exp(0.03*(1-p.dim))
	f.light = f.base * p.out.lives[f.life].Law.Level(f.hours) * math.Exp(-f.depth*f.coat) * f.gear * dimmed * (1 +
		0.002*f.noise.NormFloat64())
}

// moment is one quarter of an hour: what the loggers print at its start, then
// its burning.
func (p *play) moment(day, s int) error {
	power := s >= p.noPower
	on := power && p.scheduled(s)
	switch {
	case !on:
		p.sinceOn = -1
	case p.sinceOn < 0:
		p.sinceOn = 0
	default:
		p.sinceOn += slotSeconds / 60
	}
	ready := runUp(p.r.lamp.Discharge(), p.sinceOn)
	if s%4 == 0 {
		p.panel(s, on)
	}
	for bi, b := range p.bays {
		volts, celsius := b.weather.at(p.c, s, on)
		if !power {
			volts = 0
		}
		n := len(b.channels)
		b.row[n] = int64(math.Round(volts * 10))
		b.row[n+1] = int64(math.Round(celsius * 10))
		factor := 0.0
		if on {
			b.supply.add(volts)
			b.ambient.add(celsius)
			factor = ready * math.Exp(trueSupply[p.r.gear]*math.Log(volts/p.r.ratedV)+trueAmbient[p.r.lamp]*(celsius-25))
		}
		gain := math.Exp(b.gains[day])
		for ch, i := range b.channels {
			if i < 0 || p.fixtures[i].bay != bi {
				b.row[ch] = missing
				continue
			}
			f := p.fixtures[i]
			if !on {
				b.row[ch] = 0
				if f.noise.Uint64()&15 == 0 {
					b.row[ch] = 1 // the last digit flickers
				}
				continue
			}
			b.row[ch] = p.r.printed(f.light * factor * gain * (1 + 0.004*f.noise.NormFloat64()))
		}
		if err := b.record.write(s, b.row); err != nil {
			return err
		}
		if on {
			b.counter += slotHours
		}
	}
	if s > 0 && p.c.minute[s] == 8*60 && p.c.moment(day, 0).Weekday() == time.Monday && p.r.id == sheetRoom {
		for _, f := range p.fixtures {
			p.out.meters = append(p.out.meters, meterReading{p.c.unix(s), f.name, f.meter})
		}
	}
	if on {
		for _, f := range p.fixtures {
			f.meter += slotHours
			if !f.dark {
				f.hours += slotHours
				f.lit += slotHours
			}
		}
	}
	return nil
}

// printed is a PPFD as the room's logger prints it, in its last digit.
func (r *room) printed(ppfd float64) int64 {
	if r.dialect == tabEpoch { // prints millivolts with two digits
		return int64(math.Round(ppfd / milliVoltFactor * 100))
	}
	return int64(math.Round(ppfd * 10))
}

// panel reads the room's energy meter, where it has one.
func (p *play) panel(s int, on bool) {
	if p.r.id != meteredRoom {
		return
	}
	p.out.panel = append(p.out.panel, panelReading{p.c.unix(s), p.watts, p.kwh})
	p.watts = 0
	if on {
		for _, f := range p.fixtures {
			if !f.dark {
				p.watts += p.r.ratedW * (0.03 + 0.97*p.dim)
			}
		}
	}
	p.kwh += p.watts / 1000
}

// dusk ends a local day: what is true of it.
func (p *play) dusk(d int) {
	supply, ambient := make([]float64, len(p.bays)), make([]float64, len(p.bays))
	for i, b := range p.bays {
		supply[i], ambient[i] = b.supply.take(), b.ambient.take()
	}
	for _, f := range p.fixtures {
		l := &p.out.lives[f.life]
		l.Records = append(l.Records, Day{
			Day: d, Hours: f.hours, Level: l.Law.Level(f.hours), Dirt: math.Exp(-f.depth * f.coat), Gear: f.gear,
			Gain: math.Exp(p.bays[f.bay].gains[d]), Supply: supply[f.bay], Ambient: ambient[f.bay], Dim: p.dim, Lit: f.lit,
		})
	}
}

// befall lets one happening happen.
func (p *play) befall(h *happening, slot int) {
	at := h.when(p.c)
	switch h.what {
	case fleet.Outage:
		until, err := time.ParseInLocation(time.DateOnly, h.value, p.c.zone)
		if err != nil {
			panic("demo: outage until " + h.value) // the scenario's own mistake
		}
		p.noPower = p.c.slotAt(until)
	case fleet.Dim:
		p.dim = map[string]float64{"80": 0.80, "100": 1}[h.value]
	case fleet.Clean:
		for _, f := range p.fixtures {
			f.coat *= wipeClean
		}
	}
	for i, f := range p.fixtures {
		if h.id == f.name || h.what == fleet.Relamp && h.scope == fleet.OfRoom {
			p.touch(h, at, i, slot)
		}
		p.relight(f)
	}
}

// touch lets a happening happen to one fixture.
func (p *play) touch(h *happening, at time.Time, i, slot int) {
	f := p.fixtures[i]
	switch h.what {
	case fleet.Fail:
		f.dark = true
		p.out.lives[f.life].Failed = at
	case fleet.Relamp:
		p.out.lives[f.life].To = at
		f.hours = 0
		f.coat *= wipeLamp
		p.newLamp(f, lotNamed(p.all, h.value), at, h.logged)
	case fleet.Regear:
		f.meter = 0
		f.gear = 1.012
	case fleet.Move:
		for b, spec := range p.r.bays {
			if h.value == bayName(p.r.id, spec.name) {
				f.bay = b
				p.bays[b].channels[len(p.bays[b].channels)-1] = i
			}
		}
	case fleet.ReferenceIs:
		b := p.bays[f.bay]
		volts, celsius := b.weather.now()
		h.value = decimal(f.light*math.Exp(trueSupply[p.r.gear]*math.Log(volts/p.r.ratedV)+
			trueAmbient[p.r.lamp]*(celsius-25)), 0)
	}
}
