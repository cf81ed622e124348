package main

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// further were written before anyone had seen how the program fares in them.
func further() []situation {
	return slices.Concat(furtherFixtures(), furtherSensors(), furtherRooms(), latest(), newest())
}

func furtherFixtures() []situation {
	return []situation{
		{"a capacitor weakens, one lamp 12 % down at once", true, nil, func(w *world) {
			w.on(280, func() { w.fixtures[3].place -= .13 })
		}},
		{"two lamps change places, nobody says", false, nil, func(w *world) {
			w.on(300, func() {
				a, b := w.fixtures[1], w.fixtures[8]
				a.lamp, b.lamp = b.lamp, a.lamp
				a.lives[0], b.lives[0] = a.lamp, b.lamp
			})
		}},
		{"a lamp dark for three weeks, then replaced, logged", true, nil, func(w *world) {
			f := w.fixtures[5]
			w.on(240, func() { f.lamp.failure = math.Max(1, f.lamp.hours) })
			w.relamp(262, f, w.lot("hps-de", "lot-9", 1))
			w.note(240, "fail", "fixture", f.id, "dark")
			w.note(262, "relamp", "fixture", f.id, "lot-9")
		}},
		{"three lamps under the other lot's name", true, nil, func(w *world) {
			for _, f := range w.fixtures[:6] {
				if f.lamp.cohort == "lot-1" {
					f.lamp.cohort = "lot-2"
				}
			}
		}},
		{"room relamped with a quicker lot of the same name", true, nil, func(w *world) {
			lot := w.lot("hps-de", "lot-1", 1.6)
			for _, f := range w.fixtures {
				w.relamp(100, f, lot)
			}
			w.note(100, "relamp", "room", "room-1", "lot-1")
		}},
		{"fluorescent room", true, func(p *plan) { p.kind, p.gear, p.threshold = "fluorescent", "electronic", .9 }, nil},
		{"quartz metal halide room, twelve fixtures, three bays", true, func(p *plan) {
			p.kind, p.bays, p.each, p.threshold = "mh", 3, 4, .8
		}, nil},
		{"power raised from 80 % each month as lamps fade, logged", true, nil, func(w *world) {
			w.on(0, func() { w.setDim(.8); w.note(0, "dim", "room", "room-1", "80") })
			for k := 1; k <= 20; k++ {
				w.on(30*k, func() {
					x := .8 + .01*float64(k)
					w.setDim(x)
					w.note(30*k, "dim", "room", "room-1", fmt.Sprintf("%.0f", 100*x))
				})
			}
		}},
	}
}

func furtherSensors() []situation {
	return []situation{
		{"heads soil and are wiped with each round, logged as a cleaning of all", false, nil, func(w *world) {
			soil := func(d int) float64 { return .02 * (1 - math.Exp(-float64(d)/90)) }
			since := 0
			for d := 1; d < w.days; d++ {
				before := soil(since)
				if since++; d == 160 || d == 330 || d == 500 {
					since = 0
				}
				change := soil(since) - before
				w.on(d, func() {
					for _, s := range w.sensors {
						s.gain -= change
					}
				})
			}
		}},
		{"bay b hung 5 % nearer to its heads, nobody says", false, nil, func(w *world) {
			w.on(270, func() {
				for _, f := range w.names("bay-b") {
					f.place += .05
				}
			})
		}},
		{"one sensor of two recalibrated", true, func(p *plan) { p.recals = nil }, func(w *world) {
			w.recalibrate(210, w.sensors[0], asFound)
			w.recalibrate(430, w.sensors[0], asFound)
		}},
		{"as-found gains noted to two decimals", true, nil, func(w *world) {
			w.on(w.days-1, func() {
				for i := range w.log {
					if e := &w.log[i]; e.what == "recalibrate" {
						var x float64
						fmt.Sscanf(e.value, "%g", &x)
						e.value = fmt.Sprintf("%.2f", x)
					}
				}
			})
		}},
		{"reference readings by a meter that reads 3 % high", true, nil, func(w *world) {
			for _, d := range []int{250, 480} {
				f := w.fixtures[0]
				w.on(d, func() {
					v := math.Exp(f.lamp.ln(f.lamp.hours) - f.dirt + .03)
					w.note(d, "reference", "fixture", f.id, fmt.Sprintf("%.3f", v))
				})
			}
		}},
		{"voltage logger replaced, reads 3 % higher", true, nil, func(w *world) {
			w.voltOff = func(d int) float64 {
				if d >= 310 {
					return .03
				}
				return 0
			}
		}},
		{"mist on the heads, 2 %, comes and goes in a fortnight", true, nil, func(w *world) {
			now := make([]float64, len(w.sensors))
			for d := 1; d < w.days; d++ {
				w.on(d, func() {
					for k, s := range w.sensors {
						next := .93*now[k] + w.normal(.0074)
						s.gain += next - now[k]
						now[k] = next
					}
				})
			}
		}},
		{"logger loses one or two days each week", true, nil, func(w *world) {
			lost := memo(w.days, func(int) float64 { return w.uniform(0, 1) })
			w.reads = func(d int) bool { return lost(d) > .25 }
		}},
	}
}

func furtherRooms() []situation {
	return []situation{
		{"dirt gathers thrice as fast in summer", true, nil, func(w *world) {
			days := w.fixtures[0].dirtDays
			for d := 0; d < w.days; d++ {
				pace := 1 + math.Sin(2*math.Pi*float64(d-100)/365)/2
				w.on(d, func() {
					for _, f := range w.fixtures {
						f.dirtDays = days / pace
					}
				})
			}
		}},
		{"cleanings that take off a fifth only", true, func(p *plan) { p.cleans = nil; p.dirt = [2]float64{.03, .06} }, func(w *world) {
			for _, d := range []int{160, 330, 500} {
				w.clean(d, w.fixtures, .8)
				w.note(d, "clean", "room", "room-1", "all")
			}
		}},
		{"sixty days of 18 hours, sixty of 12, in turn", true, nil, func(w *world) {
			w.onHour = 2
			w.hours = func(d int) float64 {
				if d/60%2 == 0 {
					return 18
				}
				return 12
			}
		}},
		{"power fails for some hours on one day in six", true, nil, func(w *world) {
			h, cut := w.hours, memo(w.days, func(int) float64 { return w.uniform(0, 6) })
			w.hours = func(d int) float64 {
				if cut(d) < 1 {
					return h(d) - 5*cut(d)
				}
				return h(d)
			}
		}},
		{"hour meters stand still for two months", true, nil, func(w *world) {
			w.meterStill = func(d int) bool { return d >= 240 && d < 300 }
		}},
		{"a voltage dip of 6 % each weekday, logged", true, nil, func(w *world) {
			before := w.volts
			w.volts = func(d int) float64 {
				if d%7 < 5 {
					return before(d) - .06
				}
				return before(d)
			}
		}},
		{"cleaned round by round, logged with the wrong bay", false, nil, func(w *world) {
			for i := range w.log {
				if e := &w.log[i]; e.what == "clean" {
					e.scope, e.id = "bay", "bay-a"
				}
			}
		}},
		{"a room of forty", true, func(p *plan) { p.bays, p.each, p.lots = 5, 8, 3 }, nil},
		{"lamps fade two thirds as fast, dusty room", true, func(p *plan) {
			p.factor, p.dirt, p.threshold = .65, [2]float64{.05, .08}, .93
		}, nil},
	}
}

// named says whether one of the parts between bars is in the name.
func named(name, parts string) bool {
	for _, part := range strings.Split(parts, "|") {
		if strings.Contains(name, part) {
			return true
		}
	}
	return false
}
