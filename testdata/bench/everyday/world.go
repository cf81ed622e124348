package main

import (
	"math"
	"math/rand/v2"
	"sort"
	"time"
)

// world is one small site with known truth. It is played day by day; nothing
// of it is shared with the program under test, nor are its formulas.
type world struct {
	rng        *rand.Rand
	days       int
	ask        []int // days after which the lamps are asked, from 0
	zone       string
	threshold  float64
	yaml       string // more lines of site.yaml
	onHour     int
	hours      func(day int) float64 // photoperiod
	fixtures   []*fixture
	sensors    []*sensor
	watches    []*watch
	volts      func(day int) float64 // ln of supply over rated
	voltLog    func(day int) bool    // the voltage logger works
	voltOff    func(day int) float64 // ln by which it reads too much
	coef       float64               // % of light per % of voltage
	perK       float64               // ln of light per degree
	ambient    func(day int) float64
	airLog     bool
	sun        func(day int, hour float64) float64 // umol/m2/s that reach every sensor
	daylit     bool                                // and the room is declared to have daylight
	staysClean bool                                // the room is declared to
	outage     func(day int) bool
	reads      func(day int) bool // the loggers write on this day
	noise      float64            // of one moment, ln
	daily      float64            // of one sensor's channel and day, ln
	counter    bool               // an hour meter per bay
	meterStill func(day int) bool
	meterSwap  int               // day from which another meter counts, from nil; 0: never
	most       float64           // the most a head reads; 0: no limit
	step       float64           // the least by which readings of light differ
	moment     func(hr int) bool // hours of the day at which light is read
	meterPace  float64           // hours that a meter counts for each that burns
	at         map[int][]func()  // what happens at the beginning of a day
	log        []entry
	clock      func(day int) float64 // hours by which the light loggers' clocks are ahead
}

// fixture hangs in a bay, has a lamp, and gathers dirt.
type fixture struct {
	id, bay, circuit string
	gear             string
	lamp             *lamp
	lives            []*lamp
	place            float64 // ln of light at the sensor's head for a new lamp
	dirt             float64 // ln lost now
	dirtMost         float64 // ln lost when fully soiled
	dirtDays         float64
	dim              float64 // 1 = full power
}

// lamp is one lamp life with its true decline.
type lamp struct {
	kind    string
	cohort  string
	hours   float64
	ln      func(h float64) float64 // of output, ln, relative to 100 h
	due     float64                 // truth: run-hours at the threshold
	own     float64                 // ln of this lamp's light when new, against its fixture's
	onDay   []float64               // run-hours at the end of each day since 0
	failure float64                 // run-hours at which it goes out, 0: never
}

// sensor is an instrument: one gain for all its channels.
type sensor struct {
	id    string
	gain  float64 // ln now
	rate  float64 // ln per day
	shake float64 // ln per square root of a day
}

// watch is a series of a fixture's light over a period.
type watch struct {
	s         *sensor
	channel   string
	f         *fixture
	from, to  int     // days, to not included; the readings
	couple    float64 // ln of what this head sees of the fixture
	rowFrom   string  // as the register has it
	rowTo     string
	watchedBy string // name in column watches
	factor    float64
	wave      float64 // ln, slow error of the day
	swapWith  *watch  // wires swapped: writes under the other's channel
}

type entry struct {
	day                        int
	what, scope, id, value, nt string
}

const day0 = 18628 // 2021-01-01

func date(day int) string { return time.Unix(int64(day0+day)*86400, 0).UTC().Format("2006-01-02") }

func (w *world) on(day int, f func()) { w.at[day] = append(w.at[day], f) }

func (w *world) note(day int, what, scope, id, value string) {
	w.log = append(w.log, entry{day: day, what: what, scope: scope, id: id, value: value})
}

func (w *world) uniform(lo, hi float64) float64 { return lo + (hi-lo)*w.rng.Float64() }
func (w *world) normal(sd float64) float64      { return sd * w.rng.NormFloat64() }

// lot draws a lot of lamps: each call of the function it gives is one lamp.
// typical is the ln loss of the trade's usual lamp of the kind over 10,000 h; the lot's
// lies about it.
func (w *world) lot(kind, cohort string, factor float64) func() *lamp {
	typical := map[string]float64{"hps-de": .085, "hps-se": .125, "cmh": .12, "led": .028, "fluorescent": .10, "mh": .2}[kind]
	const ref = 100.0 // h, at which a lamp's light is 100 %
	spread := .22
	if kind == "led" {
		spread = .35
	}
	loss := typical * factor * math.Exp(w.clip(spread))
	shape := w.rng.IntN(4)
	bend := w.uniform(.85, 1.25)
	early := map[string]float64{"hps-de": -.008, "hps-se": -.012, "cmh": -.03, "led": .006}[kind]
	early += w.normal(.005)
	tau := map[string]float64{"cmh": 700, "led": 500}[kind]
	if tau == 0 {
		tau = 1800
	}
	return func() *lamp {
		l := &lamp{kind: kind, cohort: cohort, own: w.normal(.02)}
		k := loss * math.Exp(w.normal(.13))
		b := bend + w.normal(.04)
		e := early + w.normal(.002)
		// A slow irregularity: a few waves over the life, of long periods.
		a1, a2 := w.normal(.06), w.normal(.04)
		p1, p2 := w.uniform(0, 6.28), w.uniform(0, 6.28)
		base := func(h float64) float64 {
			x := h / 1e4
			switch shape {
			case 0:
				return k * math.Pow(x, b) // power of hours
			case 1:
				return -math.Log(math.Max(.02, 1-(1-math.Exp(-k))*x)) // lumens along a line
			case 2:
				return k * x // exponential
			default: // quick first, then a line: two processes
				return .25*k*(1-math.Exp(-x/.35)) + .80*k*x
			}
		}
		ln := func(h float64) float64 {
			wave := k * (a1*(math.Sin(h/4000+p1)-math.Sin(p1)) + a2*(math.Sin(h/1500+p2)-math.Sin(p2))) / 2
			return -base(h) - wave + e*(1-math.Exp(-h/tau))
		}
		at := ln(ref)
		l.ln = func(h float64) float64 { return ln(h) - at }
		l.due = math.Inf(1)
		for h := ref; h < 150000; h += 20 {
			if l.ln(h) <= math.Log(w.threshold) {
				l.due = h
				break
			}
		}
		return l
	}
}

func (w *world) clip(sd float64) float64 {
	return math.Max(-1.6*sd, math.Min(1.6*sd, w.normal(sd)))
}

// play runs the site and calls put with every reading.
func (w *world) play(put func(day int, hour float64, s *sensor, channel string, v float64)) {
	volt, air := &sensor{id: "PANEL-1"}, &sensor{id: "AIR-1"}
	meters := map[string]float64{}
	for day := 0; day < w.days; day++ {
		for _, f := range w.at[day] {
			f()
		}
		for _, s := range w.sensors {
			s.gain += s.rate + w.normal(s.shake)
		}
		h := w.hours(day)
		if w.outage(day) {
			h = 0
		}
		v, c := w.volts(day), w.ambient(day)
		for _, f := range w.fixtures {
			f.dirt += (f.dirtMost - f.dirt) / f.dirtDays
			for len(f.lamp.onDay) < day {
				f.lamp.onDay = append(f.lamp.onDay, 0)
			}
			if f.lamp.failure > 0 && f.lamp.hours > f.lamp.failure {
				f.lamp.onDay = append(f.lamp.onDay, f.lamp.hours)
				continue
			}
			f.lamp.hours += h
			f.lamp.onDay = append(f.lamp.onDay, f.lamp.hours)
		}
		done := map[string]bool{}
		for _, f := range w.fixtures {
			if !done[f.bay] {
				done[f.bay] = true
				if day == w.meterSwap {
					meters[f.bay] = 0
				}
				if !w.meterStill(day) {
					meters[f.bay] += h * w.meterPace
				}
				if w.counter {
					put(day, 23.9, &sensor{id: "HM-" + f.bay}, "h", math.Round(100*meters[f.bay])/100)
				}
			}
		}
		if w.airLog {
			for _, hr := range []float64{4, 10, 16, 22} {
				put(day, hr, air, "T", c+w.normal(.3))
			}
		}
		if w.voltLog(day) && !w.outage(day) {
			for hr := 0; hr < 24; hr += 2 {
				put(day, float64(hr), volt, "U", 240*math.Exp(v+w.voltOff(day)+w.normal(.001)))
			}
		}
		if w.outage(day) || !w.reads(day) {
			continue
		}
		w.light(day, h, v, c, put)
	}
}

// light writes a day's readings of light, hourly.
func (w *world) light(day int, h, v, c float64, put func(int, float64, *sensor, string, float64)) {
	end := float64(w.onHour) + h
	for _, x := range w.watches {
		if day < x.from || day >= x.to {
			continue
		}
		x.wave = .8*x.wave + w.normal(w.daily*.6)
		f := x.f
		l := f.lamp
		burning := l.failure == 0 || l.hours < l.failure
		ln := math.Log(600) + f.place + l.own + l.ln(math.Max(l.hours, 1)) - f.dirt + w.coef*v + w.perK*(c-25)
		ln += x.couple + x.wave
		wet := math.Exp(x.s.gain)
		channel := x.channel
		if x.swapWith != nil {
			channel = x.swapWith.channel
		}
		for hr := 0; hr < 24; hr++ {
			t := float64(hr) + .25
			y := 0.0
			if lit := t > float64(w.onHour) && t < end || t+24 < end; lit && burning {
				y = math.Exp(ln+w.normal(w.noise)) * f.dim
				if t < float64(w.onHour)+.4 {
					y *= .9 // running up
				}
			}
			y = (y + w.sun(day, t)) * wet / x.factor
			if w.most > 0 {
				y = min(y, w.most)
			}
			stamp := t + w.clock(day)
			if stamp < 0 || stamp >= 24 {
				continue
			}
			if w.moment(hr) {
				put(day, stamp, x.s, channel, math.Round(y/w.step)*w.step)
			}
		}
	}
}

// truths gives the lamps in service after a day.
func (w *world) truths(day int) map[string]truth {
	out := map[string]truth{}
	for _, f := range w.fixtures {
		for k, l := range f.lives {
			if len(l.onDay) > day && (k+1 == len(f.lives) || len(f.lives[k+1].onDay) <= day || f.lives[k+1].onDay[day] == 0) {
				out[f.id] = truth{life: k + 1, hours: l.onDay[day], due: l.due, kind: l.kind}
				break
			}
		}
	}
	return out
}

type truth struct {
	life       int
	hours, due float64
	kind       string
}

func (w *world) names(bay string) []*fixture {
	var out []*fixture
	for _, f := range w.fixtures {
		if f.bay == bay {
			out = append(out, f)
		}
	}
	sort.Slice(out, func(i, j int) bool { return out[i].id < out[j].id })
	return out
}
