package forecast

import "math"

// Something else may happen within weeks of a cleaning or a recalibration. What the
// readings did over all of it is held against what the logged events explain.

// allowed is what events may have done to the readings, ln.
type allowed struct{ lo, hi float64 }

func (a *allowed) add(lo, hi float64) { a.lo, a.hi = a.lo+lo, a.hi+hi }

// What logged events may do, ln; common practice, no source.
const (
	cleanedMost = .12 // a cleaning, upwards
	cleanedLess = .01 // and downwards: reflectors misted, lamps re-aimed
	truedMost   = .06 // a recalibration whose as-found gain was not noted, a sensor wiped
	dimmedOff   = .01 // a change of the set point, beyond what its coefficient may be off
)

// stepsAtEvents finds steps that the events between two quiet stretches of a lamp's
// record do not explain.
func (m *model) stepsAtEvents(g *groupState, t *track) []Step {
	var out []Step
	n := len(t.y)
	for mid := stepLeast; mid+stepLeast <= n; mid++ {
		if t.run[mid-1] < 0 || t.run[mid-1] != t.run[mid-stepLeast] || (mid < n && t.run[mid] == t.run[mid-1]) {
			continue
		}
		from := mid
		for from+stepLeast <= n && (t.run[from] < 0 || t.run[from] != t.run[from+stepLeast-1]) {
			from++
		}
		if from+stepLeast > n || t.days[from]-t.days[mid-1] > stepReach {
			continue
		}
		may, known := m.explained(g, t, mid, from)
		if !known {
			continue
		}
		lo, hi := mid-1, from
		for lo > 0 && mid-lo < stepWeeks && t.run[lo-1] == t.run[mid-1] {
			lo--
		}
		for hi+1 < n && hi-from+1 < stepWeeks && t.run[hi+1] == t.run[from] {
			hi++
		}
		j, ok := t.sturdyJump(lo, mid, from, hi+1)
		if !ok {
			continue
		}
		off := j.size - math.Min(math.Max(j.size, may.lo), may.hi)
		sd := math.Hypot(j.sd, sharedNoise)
		if math.Abs(off) < stepAlone || math.Abs(off) < sharedSure*sd {
			continue
		}
		day := (t.days[mid-1] + t.days[from]) / 2
		out = append(out, Step{Before: t.days[mid-1] + binDays/2, After: t.days[from] - binDays/2, Lamps: []int{t.l.in},
			Groups: []int{g.sensors[partAt(t.parts, day)].in}, Size: off, SD: sd})
	}
	return out
}

// explained sums up what the events between two weeks may have done; known is false
// where a placement or a new gear began, which may do anything, and where a step was
// found already.
func (m *model) explained(g *groupState, t *track, mid, from int) (a allowed, known bool) {
	in := &m.in.Lamps[t.l.in]
	first, last := t.days[mid-1], t.days[from]
	within := func(d int) bool { return d > first && d <= last }
	for _, o := range in.Offsets {
		if within(o.Day) {
			return a, false
		}
	}
	for _, d := range t.cuts {
		if within(d) {
			return a, false
		}
	}
	for _, c := range in.Cleanings {
		if within(c.Day) {
			a.add(-cleanedLess, cleanedMost)
		}
	}
	for k, p := range t.parts {
		if k > 0 && within(p.from) {
			a.add(-2.5*m.d.Sensor.Another, 2.5*m.d.Sensor.Another)
		}
	}
	for _, s := range [2]int{partAt(t.parts, first), partAt(t.parts, last)} {
		for _, r := range m.in.Groups[g.sensors[s].in].Recals {
			if !within(r.Day) {
				continue
			}
			lo, hi := -truedMost, truedMost
			if r.AsFound > 0 && !r.SensorClean { // either way up: the other is asked about
				x := math.Abs(math.Log(r.AsFound))
				lo, hi = -x-.01, x+.01
			}
			a.add(lo, hi)
		}
		if partAt(t.parts, first) == partAt(t.parts, last) {
			break
		}
	}
	for k := mid; k <= from; k++ {
		b, c := &t.l.bins[k-1], &t.l.bins[k]
		gear := m.kinds[t.l.kind].gear
		switch magnetic := gear != Electronic && gear != Driver; {
		case b.HasSupply != c.HasSupply && magnetic:
			return a, false // a segment of its own begins
		case b.HasSupply && c.HasSupply && math.Abs(b.Supply-c.Supply) > supplyJump:
			x := 2.5 * m.kinds[t.l.kind].supply.SD * math.Abs(b.Supply-c.Supply)
			a.add(-x, x)
		}
		if d := math.Abs(b.Dim - c.Dim); d > dimJump {
			x := 2.5*m.d.Dim.SD*d + dimmedOff
			a.add(-x, x)
		}
	}
	return a, true
}
