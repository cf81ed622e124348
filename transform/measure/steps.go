package measure

// Steps gives each lamp the one step that would sharpen its own due date most for its
// minutes, among what can be measured of its own sensor and the fixtures under it; one for each of
// Input.Posteriors, empty where none helps by 5 % or gives it a date. The whole set is
// for Choose: it looks at what a measurement does to all other lamps too.
func Steps(in *Input) []string {
	out := make([]string, len(in.Posteriors))
	c := newCollector(in)
	inParallel(len(in.Sensors), func(s int) {
		own := collector{in: in, j: c.j, under: c.under}
		own.gains(s)
		own.clean(s)
		for _, i := range c.under[s] {
			own.survey(i)
		}
		w := newWeigher(in, c.under[s], false)
		best := make([]float64, len(w.stakes))
		for k := range own.out {
			x := &own.out[k]
			cost := in.Settings.MeasureCost(x.Kind, x.Room, x.LampType, x.N, false).Minutes
			_, then := w.weigh(&x.made)
			for n, is := range then {
				shrinks := 1 - is.spread/w.now[n].spread
				dates := is.dated && !w.now[n].dated
				if shrinks < wideBy && !dates {
					continue
				}
				if dates {
					shrinks++
				}
				if rate := shrinks / max(cost, 1); rate > best[n] {
					best[n], out[w.at[n]] = rate, x.Settle()
				}
			}
		}
	})
	return out
}
