package main

// latest were written after everything that was changed for those before, and judged on
// their first run.
func latest() []situation {
	return []situation{
		{"one bay cleaned each round, the other never, logged", true, func(p *plan) { p.cleans, p.dirt = nil, [2]float64{.02, .06} }, func(w *world) {
			for _, d := range []int{160, 330, 500} {
				w.clean(d, w.names("bay-a"), .2)
				w.note(d, "clean", "bay", "bay-a", "all")
			}
		}},
		{"at 90 % power for the first month, logged", true, nil, func(w *world) {
			w.on(0, func() { w.setDim(.9); w.note(0, "dim", "room", "room-1", "90") })
			w.on(31, func() { w.setDim(1); w.note(31, "dim", "room", "room-1", "100") })
		}},
		{"two heads turned towards their lamps, logged as a move within the bay", true, nil, func(w *world) {
			for _, f := range w.fixtures[1:3] {
				w.on(260, func() { f.place += .08; w.note(260, "move", "fixture", f.id, "bay-a") })
			}
		}},
		{"supply 3 % up for a month of each quarter, logged", true, nil, func(w *world) {
			for d := 60; d < w.days; d += 91 {
				step(w, d, .03)
				step(w, d+30, 1/1.03-1)
			}
		}},
		{"heads drift twice as fast from the second recalibration on", true, nil, func(w *world) {
			w.on(431, func() {
				for _, s := range w.sensors {
					s.rate *= 2
				}
			})
		}},
		{"reflectors of a bay replaced, 6 % more light, logged as cleaned", false, nil, func(w *world) {
			w.on(270, func() {
				for _, f := range w.names("bay-a") {
					f.place += .06
				}
				w.note(270, "clean", "bay", "bay-a", "reflector")
			})
		}},
	}
}
