package main

import "fmt"

// others were written by another hand than the method's, after it.
func others() []situation {
	// crop grows towards the heads and is taken away, each time over so many days.
	crop := func(w *world, most float64, days int) {
		for d := 60; d < w.days; d++ {
			grown := float64((d-60)%days) / float64(days)
			was := 0.0
			if d > 60 {
				was = float64((d-61)%days) / float64(days)
			}
			w.on(d, func() {
				for _, f := range w.fixtures {
					f.place -= most * (grown - was)
				}
			})
		}
	}
	return []situation{
		{"photoperiod from 14 to 10 hours, nobody says", true, nil, func(w *world) {
			before := w.hours
			w.hours = func(d int) float64 {
				if d >= 260 {
					return before(d) - 4
				}
				return before(d)
			}
		}},
		{"heads clip at 560", false, nil, func(w *world) { w.most = 560 }},
		{"crop shades the heads by up to 5 %, each 70 days", false, nil, func(w *world) { crop(w, .05, 70) }},
		{"cleanings logged eight days late", true, nil, func(w *world) {
			for i := range w.log {
				if w.log[i].what == "clean" {
					w.log[i].day += 8
				}
			}
		}},
		{"relamp logged at the neighbour", false, func(p *plan) { p.factor = 1.3 }, func(w *world) {
			w.relamp(300, w.fixtures[2], w.lot("hps-de", "lot-9", 1))
			w.note(300, "relamp", "fixture", "F04", "lot-9")
		}},
		{"two lamp types in one room", true, nil, func(w *world) {
			led := w.lot("cmh", "lot-c", 1)
			for _, f := range w.fixtures[6:] {
				f.lamp = led()
				f.lives = []*lamp{f.lamp}
			}
		}},
		{"two fixtures cleaned each fortnight in turn, logged", true, func(p *plan) { p.cleans = nil; p.dirt = [2]float64{.02, .06} }, func(w *world) {
			for d, k := 100, 0; d < w.days; d, k = d+14, k+2 {
				for _, f := range []*fixture{w.fixtures[k%12], w.fixtures[(k+1)%12]} {
					w.clean(d, []*fixture{f}, .15)
					w.note(d, "clean", "fixture", f.id, "all")
				}
			}
		}},
		{"recalibrated each quarter", true, func(p *plan) { p.recals = []int{90, 180, 270, 360, 450, 540} }, nil},
		{"closed for four months in summer", true, nil, func(w *world) {
			before := w.hours
			w.hours = func(d int) float64 {
				if d >= 200 && d < 320 {
					return 0
				}
				return before(d)
			}
		}},
		{"a sensor of the two dies, the other goes on", false, nil, func(w *world) {
			for _, x := range w.watches {
				if x.s == w.sensors[0] {
					x.to, x.rowTo = 330, ""
				}
			}
		}},
		{"diffuser yellows, 4 % in the first year", false, func(p *plan) { p.recals = nil; p.drift = [2]float64{-.042, -.038} }, nil},
		{"diffuser yellows, recalibrated twice", true, func(p *plan) { p.drift = [2]float64{-.045, -.035} }, nil},
		{"supply falls by 1 % each quarter, no voltage logger", false, nil, func(w *world) {
			w.voltLog = func(int) bool { return false }
			for d := 90; d < w.days; d += 91 {
				step(w, d, -.01)
			}
		}},
		{"recalibration logged three days late", true, nil, func(w *world) {
			w.on(w.days-1, func() {
				for i := range w.log {
					if w.log[i].what == "recalibrate" {
						w.log[i].day += 3
					}
				}
			})
		}},
		{"new lamps all from one bad lot, half again as fast", true, func(p *plan) { p.lots, p.factor = 1, 1.5 }, nil},
		{"sixty per cent power throughout, declared on the first day", true, nil, func(w *world) {
			w.on(0, func() { w.setDim(.6); w.note(0, "dim", "room", "room-1", "60") })
		}},
		{"a lamp a month replaced, logged", true, nil, func(w *world) {
			lot := w.lot("hps-de", "lot-9", 1)
			for k := range 12 {
				d := 60 + 40*k
				w.relamp(d, w.fixtures[k], lot)
				w.note(d, "relamp", "fixture", fmt.Sprintf("F%02d", k+1), "lot-9")
			}
		}},
		{"air warms by 6 K over the record, no thermometer, LED", false, func(p *plan) {
			p.kind, p.gear, p.days, p.factor, p.threshold = "led", "driver", 900, 2.2, .93
		}, func(w *world) {
			w.airLog = false
			w.ambient = memo(w.days, func(d int) float64 { return 22 + 6*float64(d)/float64(w.days) + w.normal(.7) })
		}},
		{"hour meter replaced by one that starts at nil", true, nil, func(w *world) { w.meterSwap = 280 }},
		{"all is well, threshold far off", false, func(p *plan) { p.threshold = .75 }, nil},
	}
}
