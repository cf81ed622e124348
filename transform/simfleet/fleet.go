package simfleet

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sort"

	"wane/transform/forecast"
)

// Options of a fleet. Zero values give 240 fixtures over six years.
type Options struct {
	Seed              uint64
	Fixtures          int
	Days              int
	Day0              int // first day, since 1970-01-01; 0: 2019-01-01
	NeverRecalibrated bool
	AllNew            bool // all rooms start on the first day
	start             int  // first day of the rooms, where it is given
	// Cleaned is a cleaning of single fixtures beside the rooms' own, by day.
	Cleaned  map[string]int
	NoSupply bool // no room's supply is logged
	// Logged is from which day on a room's supply is logged that was not before.
	Logged map[string]int
}

// Fleet is an invented fleet: what a site would have, and the truth.
type Fleet struct {
	Input forecast.Input // full history
	// Known is the same fleet with dirt, gain, wander, voltage, temperature
	// and set point taken out of the readings: the bound no forecast from
	// the readings can be expected to pass.
	Known forecast.Input
	Truth []Truth // by lamp life, as Input.Lamps
	// Gain is the ln gain of each sensor, by Input.Groups and day since the first, and
	// Wander what the readings under it went astray besides.
	Gain, Wander [][]float64
}

// Truth of one lamp life.
type Truth struct {
	Due   float64 // run-hours at which the lamp's own output falls under its threshold; +Inf past 120,000 h
	Curve []float64
	// DirtAmplitude and Drift (of the sensor, ln per year, mean since its
	// start) are for tests of the nuisance terms.
	DirtAmplitude, Drift float64
	// Dirt is the ln loss to dirt by day, from the fixture's hanging on.
	Dirt []float64
}

// At is the lamp's true relative output at h run-hours.
func (t Truth) At(h float64) float64 { return math.Exp(at(t.Curve, h)) }

// New invents a fleet.
func New(opt Options) *Fleet {
	if opt.Fixtures == 0 {
		opt.Fixtures = 240
	}
	if opt.Days == 0 {
		opt.Days = 6*365 + 1
	}
	if opt.Day0 == 0 {
		opt.Day0 = 17897
	}
	rng := rand.New(rand.NewPCG(mix(opt.Seed), mix(opt.Seed+0x77616e65)))
	s := &sim{opt: opt, rng: rng, site: drawSite(rng), lots: map[string]lotLaw{}}
	s.fleet = &Fleet{}
	s.laws = map[string]classLaw{}
	kinds := [][2]string{{forecast.HPSDE, forecast.Electronic}, {forecast.HPSDE, forecast.Electronic},
		{forecast.HPSDE, forecast.Magnetic},
		{forecast.HPSSE, forecast.Magnetic}, {forecast.CMH, forecast.Electronic}, {forecast.CMH, forecast.Magnetic},
		{forecast.LED, forecast.Driver}, {forecast.LED, forecast.Driver}}
	rooms := 4 + rng.IntN(3)
	left := opt.Fixtures
	for k := 0; k < rooms; k++ {
		n := left / (rooms - k)
		left -= n
		kind := kinds[rng.IntN(len(kinds))]
		key := kind[0] + "/" + kind[1]
		law, ok := s.laws[key]
		if !ok {
			law = drawClass(rng, kind[0], kind[1])
			// One lamp type ages alike whatever its gear.
			for _, other := range kinds {
				if o, ok := s.laws[other[0]+"/"+other[1]]; ok && other[0] == kind[0] {
					sup, dev := law.supply, law.supplyGroupDev
					law = o
					law.supply, law.supplyGroupDev = sup, dev
				}
			}
			s.laws[key] = law
		}
		s.room(drawRoom(rng, roomName(k), kind[0], kind[1], law, opt), n)
	}
	s.fleet.Input.AsOf = opt.Day0 + opt.Days - 1
	s.fleet.Known.AsOf = s.fleet.Input.AsOf
	s.fleet.Known.Defaults = forecast.QuietDefaults()
	return s.fleet
}

// mix scatters a seed (splitmix64's finaliser): neighbouring seeds of the
// generator itself begin with alike numbers.
func mix(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

type sim struct {
	opt     Options
	rng     *rand.Rand
	site    siteLaw
	laws    map[string]classLaw
	lots    map[string]lotLaw
	fleet   *Fleet
	fixture int
}

func (s *sim) lot(law classLaw, name string) lotLaw {
	l, ok := s.lots[name]
	if !ok {
		l = drawLot(s.rng, law, name)
		s.lots[name] = l
	}
	return l
}

func (s *sim) room(r *room, n int) {
	relamps := map[int]bool{}
	sum := 0.0
	for d := r.start; d < s.opt.Days; d++ {
		if sum += r.hours[d]; sum > r.law.relampHours {
			relamps[d] = true
			sum = 0
		}
	}
	initial := 1 + s.rng.IntN(3)
	for n > 0 {
		size := min(n, 6+s.rng.IntN(11))
		n -= size
		g := len(s.fleet.Input.Groups)
		b := drawBay(s.rng, s.site, r, fmt.Sprintf("bay-%d", g+1), s.opt)
		grp := forecast.Group{ID: b.id, Start: s.opt.Day0 + r.start, Recals: b.recals}
		s.fleet.Input.Groups = append(s.fleet.Input.Groups, grp)
		s.fleet.Gain, s.fleet.Wander = append(s.fleet.Gain, b.gain), append(s.fleet.Wander, b.wander)
		s.fleet.Known.Groups = append(s.fleet.Known.Groups, forecast.Group{ID: b.id, Start: grp.Start})
		for range size {
			s.fixture++
			s.lives(r, b, g, fmt.Sprintf("F%04d", s.fixture), r.lotOf(r.name, s.rng.IntN(initial)), relamps)
		}
	}
}

// lives plays one fixture from its hanging to the end of the run.
func (s *sim) lives(r *room, b *bay, group int, fixture, lot string, relamps map[int]bool) {
	rng, opt := s.rng, s.opt
	p := s.hang(r, b, fixture)
	for day, life := r.start, 1; day < opt.Days; life++ {
		l := s.lot(r.law, lot)
		lamp := forecast.Lamp{Fixture: fixture, Life: life, Class: r.class, Gear: r.gear, Lot: lot, Room: r.name,
			Group: group, Make: r.law.model,
			Hung: opt.Day0 + r.start, StartDay: opt.Day0 + day, Threshold: math.Round(r.law.threshold*1000) / 1000}
		curve := l.lamp(rng, r.law).curve(rng)
		was := s.burnOne(p, curve, day, relamps)
		day = was.next
		lamp.HoursNow, lamp.Bins = was.hours, Weeks(was.raw)
		lamp.Ended = was.ended
		lamp.EndDay = opt.Day0 + day - 1
		lamp.Dark = was.dark
		lamp.Burn = burn(r.hours, day-1)
		lamp.Cleanings = append([]forecast.Clean(nil), p.cleans...)
		s.fleet.Input.Lamps = append(s.fleet.Input.Lamps, lamp)
		k := lamp
		k.Bins, k.Cleanings = Weeks(was.known), nil
		s.fleet.Known.Lamps = append(s.fleet.Known.Lamps, k)
		s.fleet.Truth = append(s.fleet.Truth, Truth{Due: crossing(curve, lamp.Threshold), Curve: curve, DirtAmplitude: p.amp,
			Drift: meanDrift(b, r.start, opt.Days-1), Dirt: p.soiled})
		if was.ended && day < opt.Days {
			p.cleans = insertClean(p.cleans, forecast.Clean{Day: opt.Day0 + day, Part: forecast.CleanRelamp})
			p.dirt *= clip(.3+.1*rng.NormFloat64(), 0, .8)
			lot = r.lotOf("", (opt.Day0+day)/180)
			if relamps[day-1] && r.law.model == "" {
				lot = fmt.Sprintf("%s-%s-g%d", r.class, r.name, day)
			}
		}
	}
}

// place is where a fixture hangs, and what of it outlives its lamps.
type place struct {
	r      *room
	b      *bay
	amp    float64         // how deep its dirt goes
	clean  map[int]float64 // by day: the share of the dirt that a cleaning left
	cleans []forecast.Clean
	dirt   float64
	soiled []float64 // the dirt day by day
	slow   float64   // what wanders slowly and is no lamp's doing
	base   float64   // log output of a new lamp
	logged int       // day from which the supply is logged
}

// hang draws a fixture's place.
func (s *sim) hang(r *room, b *bay, fixture string) *place {
	rng, opt := s.rng, s.opt
	p := &place{r: r, b: b, clean: map[int]float64{}, logged: opt.Days}
	p.amp = b.dirt * math.Max(.1, 1+s.site.dirtFixture*rng.NormFloat64())
	for _, d := range r.cleanings {
		if rng.Float64() < .95 { // now and then one is forgotten, unlogged
			p.cleans = append(p.cleans, forecast.Clean{Day: opt.Day0 + d, Part: forecast.CleanAll})
			p.clean[d] = clip(r.dirtLeft+.06*rng.NormFloat64(), 0, .6)
		}
	}
	// It draws nothing: all else stays as it is without.
	if d, ok := opt.Cleaned[fixture]; ok && d-opt.Day0 > r.start {
		p.cleans = insertClean(p.cleans, forecast.Clean{Day: d, Part: forecast.CleanAll})
		p.clean[d-opt.Day0] = r.dirtLeft
	}
	p.slow = s.site.slow * rng.NormFloat64()
	p.base = math.Log(600) + .1*rng.NormFloat64()
	if from, ok := opt.Logged[r.name]; ok {
		p.logged = from - opt.Day0
	}
	if r.hasSupply && !opt.NoSupply {
		p.logged = 0
	}
	return p
}

// burned is how a lamp's life went.
type burned struct {
	raw, known  []Daily // as the logger has it, and the lamp alone
	hours       float64
	ended, dark bool // relamped; failed and still hanging at the end of the run
	next        int  // the day after its last
}

// burnOne plays one lamp's days until it is relamped or the run ends.
func (s *sim) burnOne(p *place, curve []float64, day int, relamps map[int]bool) burned {
	rng, opt, r, b := s.rng, s.opt, p.r, p.b
	fails := r.law.failScale * math.Pow(-math.Log(1-rng.Float64()), 1/r.law.failShape)
	lampBase := p.base + .03*rng.NormFloat64()
	rho := math.Exp(-1 / s.site.slowMem)
	var o burned
	wait := -1
	for ; day < opt.Days && !o.ended; day++ {
		p.soil(day)
		o.hours += r.hours[day]
		p.slow = rho*p.slow + s.site.slow*math.Sqrt(1-rho*rho)*rng.NormFloat64()
		white, miss, spike := s.site.noise*rng.NormFloat64(), rng.Float64() < s.site.missing, rng.Float64() < s.site.spikes
		stuck := rng.Float64() < s.site.stuck
		if wait < 0 && o.hours > fails {
			wait = 1 + rng.IntN(60)
		}
		if wait >= 0 {
			o.hours -= r.hours[day] // dark: it does not burn
			wait--
			o.ended = wait < 0
			continue
		}
		if relamps[day] {
			o.ended = true
			continue
		}
		if miss || b.dead[day] || r.hours[day] < 1 {
			continue
		}
		f := at(curve, o.hours)
		v := lampBase + f + p.slow + white
		o.known = append(o.known, Daily{Day: opt.Day0 + day, Hours: o.hours, Value: round2(math.Exp(v)), Dim: 1})
		v += b.gain[day] + b.wander[day] - p.amp*p.dirt + b.supply*r.supply[day] + r.law.ambient*(r.ambient[day]-25) +
			r.dimError*(1-r.dim[day])
		if spike {
			v += uniform(rng, -1.2, .4)
		}
		val := round2(math.Exp(v))
		if stuck && len(o.raw) > 0 {
			val = o.raw[len(o.raw)-1].Value
		}
		o.raw = append(o.raw, Daily{Day: opt.Day0 + day, Hours: o.hours, Value: val, Supply: r.supply[day],
			HasSupply: day >= p.logged, Ambient: r.ambient[day], HasAmbient: r.hasAmbient, Dim: r.dim[day]})
	}
	o.dark, o.next = !o.ended && wait >= 0, day
	return o
}

// soil lets a day's dirt settle, after its cleaning.
func (p *place) soil(day int) {
	if left, ok := p.clean[day]; ok {
		p.dirt *= left
	}
	soil := 1 + p.r.dirtSeason*math.Sin(2*math.Pi*float64(day)/365.25)
	p.dirt = 1 + (p.dirt-1)*math.Exp(-soil/p.r.dirtDays)
	p.soiled = append(p.soiled, p.amp*p.dirt)
}

func insertClean(c []forecast.Clean, x forecast.Clean) []forecast.Clean {
	c = append(append([]forecast.Clean(nil), c...), x)
	sort.SliceStable(c, func(i, j int) bool { return c[i].Day < c[j].Day })
	return c
}

func burn(hours []float64, day int) forecast.Burn {
	lo := max(0, day-364)
	sum := 0.0
	for d := lo; d <= day && d < len(hours); d++ {
		sum += hours[d]
	}
	n := day - lo + 1
	return forecast.Burn{PerDay: sum / float64(n), Days: n}
}

// meanDrift sums what the gain lost between recalibrations over the years.
func meanDrift(b *bay, from, to int) float64 {
	sum := 0.0
	for d := from + 1; d <= to; d++ {
		if step := b.gain[d] - b.gain[d-1]; math.Abs(step) < .002 {
			sum += step
		}
	}
	return sum * 365.25 / float64(to-from)
}

func round2(x float64) float64 { return math.Round(x*100) / 100 }
