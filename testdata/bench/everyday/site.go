package main

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// plan is what a site is made of before anything happens to it.
type plan struct {
	kind, gear string
	bays, each int
	factor     float64 // how fast the lots fade against the trade's usual
	days       int
	recals     []int // days of recalibration of all sensors, with as-found gain
	cleans     []int // days of cleaning rounds, logged
	dirt       [2]float64
	drift      [2]float64 // ln per year, from to
	threshold  float64
	lots       int
}

func ordinary() plan {
	return plan{kind: "hps-de", gear: "magnetic", bays: 2, each: 6, factor: 1, days: 640, recals: []int{210, 430}, cleans: []int{160, 330, 500},
		dirt: [2]float64{.01, .06}, drift: [2]float64{-.022, -.004}, threshold: .9, lots: 2}
}

// newWorld hangs the fixtures, one light sensor a bay with a channel a
// fixture, a voltage logger and a thermometer.
func newWorld(seed uint64, p plan) *world {
	rng := rand.New(rand.NewPCG(seed*0x9e3779b97f4a7c15+11, seed^0x5eed))
	w := &world{rng: rng, days: p.days, zone: "UTC", threshold: p.threshold, onHour: 5, at: map[int][]func(){},
		noise: .008, daily: .004, counter: true, airLog: true}
	w.ask = []int{p.days*5/8 - 1, p.days - 1}
	h := w.uniform(13, 15)
	w.hours = func(int) float64 { return h }
	none := func(int) bool { return false }
	w.meterStill, w.voltOff = none, func(int) float64 { return 0 }
	w.outage, w.reads, w.voltLog = none, func(int) bool { return true }, func(int) bool { return true }
	w.clock = func(int) float64 { return 0 }
	w.moment, w.step, w.meterPace = func(int) bool { return true }, .1, 1
	w.sun = func(int, float64) float64 { return 0 }
	swing, phase := w.uniform(.003, .012), w.uniform(0, 6.28)
	w.volts = memo(p.days, func(d int) float64 {
		return swing*math.Sin(2*math.Pi*float64(d)/365+phase) + w.normal(.006)
	})
	warm := w.uniform(2, 5)
	w.ambient = memo(p.days, func(d int) float64 { return 25 - warm*math.Cos(2*math.Pi*float64(d)/365) + w.normal(.7) })
	switch p.gear {
	case "magnetic":
		w.coef = w.uniform(1.2, 1.8)
	default:
		w.coef = w.uniform(0, .1)
	}
	if p.kind == "led" {
		w.perK = -.003
	}
	var lots []func() *lamp
	for k := 0; k < p.lots; k++ {
		lots = append(lots, w.lot(p.kind, fmt.Sprintf("lot-%d", k+1), p.factor))
	}
	site := w.uniform(p.dirt[0], p.dirt[1])
	gather := w.uniform(120, 300)
	for b := 0; b < p.bays; b++ {
		bay := fmt.Sprintf("bay-%c", 'a'+b)
		s := &sensor{id: fmt.Sprintf("PAR-%c", 'A'+b), rate: w.uniform(p.drift[0], p.drift[1]) / 365, shake: .0001}
		w.sensors = append(w.sensors, s)
		here := site * w.uniform(.75, 1.25)
		for k := 0; k < p.each; k++ {
			n := len(w.fixtures)
			f := &fixture{id: fmt.Sprintf("F%02d", n+1), bay: bay, circuit: "C-1", gear: p.gear, place: w.normal(.08), dim: 1,
				dirtMost: here * w.uniform(.75, 1.25), dirtDays: gather}
			f.lamp = lots[n%p.lots]()
			f.lives = []*lamp{f.lamp}
			w.fixtures = append(w.fixtures, f)
			w.watch(s, fmt.Sprintf("CH%d", k+1), f, 0, p.days)
		}
	}
	for _, d := range p.recals {
		for _, s := range w.sensors {
			w.recalibrate(d, s, asFound)
		}
	}
	for _, d := range p.cleans {
		w.clean(d, w.fixtures, w.uniform(.1, .3))
		w.note(d, "clean", "room", "room-1", "all")
	}
	return w
}

func memo(n int, f func(int) float64) func(int) float64 {
	v := make([]float64, n)
	for i := range v {
		v[i] = f(i)
	}
	return func(d int) float64 { return v[d] }
}

func (w *world) watch(s *sensor, channel string, f *fixture, from, to int) *watch {
	x := &watch{s: s, channel: channel, f: f, from: from, to: to, watchedBy: f.id, factor: 1}
	if from > 0 {
		x.rowFrom = date(from)
	}
	if to < w.days {
		x.rowTo = date(to)
	}
	w.watches = append(w.watches, x)
	return x
}

// How a recalibration is written down.
const (
	asFound    = "as-found"
	noFactor   = "no factor"
	upsideDown = "upside down"
	unlogged   = "unlogged"
	fullPeriod = 1 << 30
)

func (w *world) recalibrate(day int, s *sensor, how string) {
	w.on(day, func() {
		found := s.gain + w.normal(.005)
		s.gain = w.normal(.004)
		value := ""
		switch how {
		case asFound:
			value = fmt.Sprintf("%.4f", math.Exp(found))
		case upsideDown:
			value = fmt.Sprintf("%.4f", math.Exp(-found))
		case unlogged:
			return
		}
		w.note(day, "recalibrate", "sensor", s.id, value)
	})
}

// clean takes dirt off, leaving a share.
func (w *world) clean(day int, of []*fixture, left float64) {
	w.on(day, func() {
		for _, f := range of {
			f.dirt *= math.Max(0, left+w.normal(.04))
		}
	})
}

// relamp puts a new lamp in.
func (w *world) relamp(day int, f *fixture, make func() *lamp) {
	w.on(day, func() {
		f.lamp = make()
		f.lives = append(f.lives, f.lamp)
		f.dirt *= .3
	})
}

// replace ends the sensor's watches on a day and begins those of another that
// reads everything apart by ln; overlap days both write.
func (w *world) replace(day int, old *sensor, id string, apart float64, overlap int) *sensor {
	s := &sensor{id: id, gain: apart, rate: w.uniform(-.02, -.004) / 365, shake: .0001}
	w.sensors = append(w.sensors, s)
	for _, x := range append([]*watch(nil), w.watches...) {
		if x.s != old || x.to < w.days {
			continue
		}
		x.to, x.rowTo = day+overlap, date(day+overlap)
		y := w.watch(s, x.channel, x.f, day, w.days)
		y.couple = x.couple
	}
	return s
}

// move hangs fixtures in another bay, under its sensor's free channels. The
// heads there see them otherwise.
func (w *world) move(day int, of []*fixture, bay string, to *sensor, logged bool) {
	for _, f := range of {
		for _, x := range w.watches {
			if x.f == f && x.to >= w.days {
				x.to = day
				if logged {
					x.rowTo = date(day)
				}
			}
		}
		y := w.watch(to, fmt.Sprintf("CH%d", 20+w.rng.IntN(1e6)), f, day, w.days)
		y.couple = w.normal(.1)
		if logged {
			w.note(day, "move", "fixture", f.id, bay)
		}
		w.on(day, func() { f.bay = bay })
	}
}
