package main

import (
	"fmt"
	"math"
)

// situation is what happened at a site. Where tells is true the files hold
// enough for an answer: seven lamps of ten are to have one.
type situation struct {
	name  string
	tells bool
	plan  func(p *plan) // changes to the ordinary site before it is built; may be nil
	make  func(w *world)
}

func situations() []situation {
	out := []situation{
		{"nothing happens", true, nil, nil},
		{"steady supply, quiet air", true, nil, func(w *world) { w.volts, w.ambient = quiet(w, .002), func(int) float64 { return 24 } }},
	}
	out = append(out, supplies()...)
	out = append(out, sensors()...)
	out = append(out, fixtures()...)
	out = append(out, rooms()...)
	out = append(out, records()...)
	return append(append(out, others()...), further()...)
}

func quiet(w *world, sd float64) func(int) float64 {
	return memo(w.days, func(int) float64 { return w.normal(sd) })
}

// step adds a lasting change of supply.
func step(w *world, day int, size float64) {
	before := w.volts
	w.volts = func(d int) float64 {
		if d >= day {
			return before(d) + math.Log(1+size)
		}
		return before(d)
	}
}

func supplies() []situation {
	dark := func(w *world) { w.voltLog = func(int) bool { return false } }
	return []situation{
		{"supply -15 %, logged", true, nil, func(w *world) { step(w, 300, -.15) }},
		{"the same, coefficient 1.9", true, nil, func(w *world) { w.coef = 1.9; step(w, 300, -.15) }},
		{"the same, coefficient 1.1", true, nil, func(w *world) { w.coef = 1.1; step(w, 300, -.15) }},
		{"the same, quiet supply", true, nil, func(w *world) { w.volts = quiet(w, .006); step(w, 304, -.15) }},
		{"supply -15 % for 20 days, logged", true, nil, func(w *world) { step(w, 380, -.15); step(w, 400, 1/.85-1) }},
		{"supply -15 %, no voltage logger", false, nil, func(w *world) { dark(w); step(w, 300, -.15) }},
		{"tap changed +4 %, no voltage logger", false, nil, func(w *world) { dark(w); step(w, 250, .04) }},
		{"voltage logger stops, step after it", false, nil, func(w *world) {
			w.voltLog = func(d int) bool { return d < 220 }
			step(w, 290, -.05)
		}},
		{"voltage logger starts late, step before it", false, nil, func(w *world) {
			w.voltLog = func(d int) bool { return d > 260 }
			step(w, 200, -.05)
		}},
		{"seasons: supply 3 %, air 8 K, short summers", true, nil, func(w *world) {
			w.volts = memo(w.days, func(d int) float64 { return .03*math.Cos(2*math.Pi*float64(d)/365) + w.normal(.004) })
			w.ambient = memo(w.days, func(d int) float64 { return 24 - 8*math.Cos(2*math.Pi*float64(d)/365) + w.normal(1) })
			w.hours = func(d int) float64 { return 13 + 4*math.Cos(2*math.Pi*float64(d)/365) }
		}},
	}
}

func sensors() []situation {
	swap := func(apart float64) func(w *world) {
		return func(w *world) { w.replace(300, w.sensors[0], "PAR-N", apart, 0) }
	}
	return []situation{
		{"sensor replaced, reads 1.03", true, nil, swap(.03)},
		{"sensor replaced, reads 0.95", true, nil, swap(-.05)},
		{"sensor replaced, 14 days side by side", true, nil, func(w *world) { w.replace(300, w.sensors[0], "PAR-N", -.05, 14) }},
		{"both sensors replaced on one day", true, nil, func(w *world) {
			w.replace(300, w.sensors[0], "PAR-M", .03, 0)
			w.replace(300, w.sensors[1], "PAR-N", -.04, 0)
		}},
		{"sensor replaced at its recalibration", true, nil, func(w *world) {
			w.recalibrate(299, w.sensors[0], asFound)
			w.replace(300, w.sensors[0], "PAR-N", .02, 0)
		}},
		{"sensor replaced twice", true, nil, func(w *world) {
			s := w.replace(250, w.sensors[0], "PAR-M", .03, 0)
			w.replace(360, s, "PAR-N", -.03, 0)
		}},
		{"factor written upside down", true, func(p *plan) { p.recals = nil; p.drift = [2]float64{-.04, -.02} }, func(w *world) {
			for _, s := range w.sensors {
				w.recalibrate(210, s, upsideDown)
				w.recalibrate(430, s, upsideDown)
			}
		}},
		{"recalibrated, no factor noted", true, func(p *plan) { p.recals = nil }, func(w *world) {
			for _, s := range w.sensors {
				w.recalibrate(210, s, noFactor)
				w.recalibrate(430, s, noFactor)
			}
		}},
		{"recalibrated, never logged", false, func(p *plan) { p.recals = nil; p.drift = [2]float64{-.04, -.02} }, func(w *world) {
			for _, s := range w.sensors {
				w.recalibrate(300, s, unlogged)
			}
		}},
		{"a sensor knocked, reads 6 % less", false, nil, func(w *world) {
			w.on(260, func() { w.sensors[0].gain -= .06 })
		}},
		{"sensor wiped, logged", true, nil, func(w *world) {
			s := w.sensors[0]
			w.on(260, func() { s.gain += .02; w.note(260, "clean", "sensor", s.id, "sensor") })
		}},
		{"never recalibrated", false, func(p *plan) { p.recals = nil }, nil},
		{"never recalibrated, no drift", false, func(p *plan) { p.recals = nil; p.drift = [2]float64{0, 0} }, nil},
		{"reference readings instead of recalibrations", true, func(p *plan) { p.recals = nil }, func(w *world) {
			for _, d := range []int{200, 390, 600} {
				for _, f := range []*fixture{w.fixtures[0], w.fixtures[6]} {
					w.on(d, func() {
						v := math.Exp(f.lamp.ln(f.lamp.hours) - f.dirt + w.normal(.008))
						w.note(d, "reference", "fixture", f.id, fmt.Sprintf("%.3f", v))
					})
				}
			}
		}},
		{"two channels' wires swapped", false, nil, func(w *world) {
			w.on(300, func() { w.watches[0].swapWith, w.watches[1].swapWith = w.watches[1], w.watches[0] })
		}},
		{"clocks an hour off in summer", true, nil, func(w *world) {
			w.clock = func(d int) float64 {
				if d%365 > 86 && d%365 < 303 {
					return 1
				}
				return 0
			}
		}},
	}
}

func fixtures() []situation {
	one := func(w *world) []*fixture { return w.fixtures[:4] }
	return []situation{
		{"four fixtures moved, logged", true, nil, func(w *world) { w.move(280, one(w), "bay-b", w.sensors[1], true) }},
		{"four fixtures moved twice, logged", true, nil, func(w *world) {
			w.move(220, one(w), "bay-b", w.sensors[1], true)
			w.move(330, one(w), "bay-a", w.sensors[0], true)
		}},
		{"one lamp replaced, logged", true, nil, func(w *world) {
			w.relamp(150, w.fixtures[2], w.lot("hps-de", "lot-9", 1))
			w.note(150, "relamp", "fixture", "F03", "lot-9")
		}},
		{"one lamp replaced, not logged", true, func(p *plan) { p.factor = 1.3 }, func(w *world) { w.relamp(390, w.fixtures[2], w.lot("hps-de", "lot-9", 1)) }},
		{"group relamp logged ten days late", true, nil, func(w *world) {
			lot := w.lot("hps-de", "lot-9", 1.2)
			for _, f := range w.fixtures {
				w.relamp(120, f, lot)
			}
			w.note(130, "relamp", "room", "room-1", "lot-9")
		}},
		{"ballasts of three replaced, logged", true, nil, func(w *world) {
			for _, f := range w.fixtures[:3] {
				w.on(290, func() { f.place += .04 + w.normal(.01); w.note(290, "regear", "fixture", f.id, "") })
			}
		}},
		{"one lamp fades three times as fast", true, nil, func(w *world) {
			f := w.fixtures[4]
			f.lamp = w.lot("hps-de", "lot-1", 2.6)()
			f.lamp.cohort, f.lives[0] = "lot-1", f.lamp
		}},
		{"half a bay dimmed to 80 %, logged", true, nil, func(w *world) {
			for _, f := range w.fixtures[:3] {
				w.on(270, func() { f.dim = .8; w.note(270, "dim", "fixture", f.id, "80") })
			}
		}},
		{"half a bay dimmed to 80 %, not logged", true, nil, func(w *world) {
			for _, f := range w.fixtures[:3] {
				w.on(270, func() { f.dim = .8 })
			}
		}},
		{"room dimmed to 70 % for two months, logged", true, nil, func(w *world) {
			w.on(230, func() { w.setDim(.7); w.note(230, "dim", "room", "room-1", "70") })
			w.on(290, func() { w.setDim(1); w.note(290, "dim", "room", "room-1", "100") })
		}},
		{"room dimmed to 90 %, not logged", false, nil, func(w *world) { w.on(270, func() { w.setDim(.9) }) }},
		{"two lamps fail and hang dark", true, nil, func(w *world) {
			for _, k := range []int{1, 8} {
				w.fixtures[k].lamp.failure = 4000 + 500*float64(k)
			}
		}},
		{"used lamps of mixed ages", true, nil, func(w *world) {
			for _, f := range w.fixtures {
				w.aged(f, 500*float64(w.rng.IntN(8)))
			}
		}},
		{"LED room", true, func(p *plan) { p.kind, p.gear = "led", "driver"; p.days, p.factor, p.threshold = 900, 2.2, .93 }, nil},
		{"ceramic metal halide room", true, func(p *plan) { p.kind, p.gear, p.threshold = "cmh", "electronic", .86 }, nil},
		{"single-ended sodium, one lot, one bay", true, func(p *plan) { p.kind, p.bays, p.each, p.lots, p.threshold = "hps-se", 1, 12, 1, .88 }, nil},
		{"three lots of one lamp type, unlike", true, func(p *plan) { p.lots = 3 }, nil},
	}
}

func (w *world) setDim(x float64) {
	for _, f := range w.fixtures {
		f.dim = x
	}
}

// aged hangs a lamp that has burned elsewhere; 100 % is its output when new.
func (w *world) aged(f *fixture, hours float64) { f.lamp.hours = hours }

func rooms() []situation {
	return []situation{
		{"clean room, true sensor, lamps fade twice as fast", false, func(p *plan) {
			p.dirt, p.drift, p.cleans, p.factor = [2]float64{0, 0}, [2]float64{-.001, .001}, nil, 2
		}, nil},
		{"the same, declared to stay clean", true, func(p *plan) {
			p.dirt, p.drift, p.cleans, p.factor = [2]float64{0, 0}, [2]float64{-.001, .001}, nil, 2
		}, func(w *world) { w.staysClean = true }},
		{"lamps fade half as fast", false, func(p *plan) { p.factor = .5 }, nil},
		{"dirty room, never cleaned", false, func(p *plan) { p.dirt, p.cleans = [2]float64{.05, .08}, nil }, nil},
		{"clean room, never cleaned", false, func(p *plan) { p.dirt, p.cleans = [2]float64{0, .005}, nil }, nil},
		{"cleaning rounds not logged", false, nil, func(w *world) {
			kept := w.log[:0]
			for _, e := range w.log {
				if e.what != "clean" {
					kept = append(kept, e)
				}
			}
			w.log = kept
		}},
		{"cleaned as a site, logged", true, func(p *plan) { p.cleans = nil }, func(w *world) {
			for _, d := range []int{170, 340, 520} {
				w.clean(d, w.fixtures, .15)
				w.note(d, "clean", "site", "", "all")
			}
		}},
		{"reflectors of one bay cleaned alone, logged", true, func(p *plan) { p.cleans = nil; p.dirt = [2]float64{.03, .06} }, func(w *world) {
			for _, d := range []int{200, 420} {
				w.clean(d, w.names("bay-a"), .4)
				w.note(d, "clean", "bay", "bay-a", "reflector")
			}
		}},
		{"two fixtures cleaned, the rest left", true, func(p *plan) { p.cleans = nil; p.dirt = [2]float64{.03, .07} }, func(w *world) {
			w.clean(240, w.fixtures[:2], .15)
			w.note(240, "clean", "fixture", "F01", "all")
			w.note(240, "clean", "fixture", "F02", "all")
		}},
		{"daylight that nobody declared", false, nil, func(w *world) { w.sun = daylight(w, 120) }},
		{"half as much daylight, not declared", false, nil, func(w *world) { w.sun = daylight(w, 60) }},
		{"a glasshouse, daylight not declared", false, nil, func(w *world) { w.sun = daylight(w, 500) }},
		{"daylight, declared with its place", true, nil, func(w *world) {
			w.sun = daylight(w, 250)
			w.onHour = 0
			w.yaml = "latitude: 52\nlongitude: 0\n"
			w.daylit = true
		}},
		{"one sensor, one bay, four fixtures", false, func(p *plan) { p.bays, p.each, p.lots = 1, 4, 1 }, nil},
	}
}

// daylight reaches every head through the roof: a season's and a day's sun,
// under changing clouds.
func daylight(w *world, most float64) func(int, float64) float64 {
	cloud := memo(w.days+1, func(int) float64 { return w.uniform(.15, 1) })
	return func(d int, hour float64) float64 {
		tilt := 23.44 * math.Pi / 180 * math.Sin(2*math.Pi*float64(d-80)/365)
		lat := 52 * math.Pi / 180
		up := math.Sin(lat)*math.Sin(tilt) + math.Cos(lat)*math.Cos(tilt)*math.Cos((hour-12)*math.Pi/12)
		return most * cloud(d) * math.Max(0, up)
	}
}

func records() []situation {
	some := func(days ...int) func(int) bool {
		return func(d int) bool {
			for _, x := range days {
				if d%30 == x {
					return true
				}
			}
			return false
		}
	}
	return []situation{
		{"read one day a week", true, nil, func(w *world) { w.reads = func(d int) bool { return d%7 == 3 } }},
		{"read two days a month", true, nil, func(w *world) { w.reads = some(4, 19) }},
		{"read one day a month", true, nil, func(w *world) { w.reads = some(11) }},
		{"read three days a quarter", true, nil, func(w *world) { w.reads = func(d int) bool { return d%91 >= 30 && d%91 < 33 } }},
		{"logger silent for two months", true, nil, func(w *world) { w.reads = func(d int) bool { return d < 200 || d > 262 } }},
		{"logger silent over a cleaning and a recalibration", true, nil, func(w *world) { w.reads = func(d int) bool { return d < 150 || d > 225 } }},
		{"three weeks without power, logged", true, nil, func(w *world) {
			w.outage = func(d int) bool { return d >= 255 && d < 276 }
			w.log = append(w.log, entry{255, "outage", "site", "", date(276), ""})
		}},
		{"noisy sensors", true, nil, func(w *world) { w.daily, w.noise = .02, .03 }},
		{"no hour meter", true, nil, func(w *world) { w.counter = false }},
		{"no voltage, no thermometer", true, nil, func(w *world) { w.voltLog, w.airLog = func(int) bool { return false }, false }},
	}
}
