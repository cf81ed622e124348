package main

import "math"

// newest were written after latest, before anyone had seen how they fare.
func newest() []situation {
	return []situation{
		{"heads read 3 umol in the dark", true, nil, func(w *world) {
			w.sun = func(int, float64) float64 { return 3 }
		}},
		{"readings in steps of 10 umol", true, nil, func(w *world) { w.step = 10 }},
		{"light read once a day, at noon", true, nil, func(w *world) { w.moment = func(hr int) bool { return hr == 12 } }},
		{"light read from 9 to 17 h only", true, nil, func(w *world) { w.moment = func(hr int) bool { return hr >= 9 && hr < 17 } }},
		{"dark at weekends", true, nil, func(w *world) {
			before := w.hours
			w.hours = func(d int) float64 {
				if d%7 >= 5 {
					return 0
				}
				return before(d)
			}
		}},
		{"building work, 5 % of dust in a month, then cleaned, logged", true, nil, func(w *world) {
			for d := 280; d < 310; d++ {
				w.on(d, func() {
					for _, f := range w.fixtures {
						f.dirt += .05 / 30
					}
				})
			}
			w.clean(312, w.fixtures, .15)
			w.note(312, "clean", "room", "room-1", "all")
		}},
		{"two channels silent from day 300 on", true, nil, func(w *world) {
			w.watches[2].to, w.watches[9].to = 300, 300
		}},
		{"supply 8 % down for three months, logged", true, nil, func(w *world) {
			step(w, 260, -.08)
			step(w, 350, 1/.92-1)
		}},
		{"an hour meter that counts twice", false, nil, func(w *world) { w.meterPace = 2 }},
		{"heads that rise by 1 % a year", true, func(p *plan) { p.drift = [2]float64{.006, .014} }, nil},
		{"an as-found gain with 1 for its first digit", true, nil, func(w *world) {
			w.on(w.days-1, func() {
				for i := range w.log {
					if w.log[i].what == "recalibrate" {
						w.log[i].value = "1." + w.log[i].value[2:]
						return
					}
				}
			})
		}},
		{"lamps that lose a tenth in their last quarter, all at once", false, func(p *plan) { p.factor = .8 }, func(w *world) {
			for _, f := range w.fixtures {
				l, knee := f.lamp, w.uniform(6500, 8500)
				before := l.ln
				l.ln = func(h float64) float64 { return before(h) - .1*math.Max(0, h-knee)/1500 }
				for h := 100.; h < 150000; h += 20 {
					if l.ln(h) <= math.Log(w.threshold) {
						l.due = h
						break
					}
				}
			}
		}},
	}
}
