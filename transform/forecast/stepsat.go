package forecast

import "math"

// Something else may happen within weeks of a cleaning or a recalibration. What the
// readings did over all of it is held against what the logged events explain.

// allowed is what events may have done to the readings, ln.
type allowed struct{ lo, hi float64 }

func (a *allowed) add(lo, hi float64) { a.lo, a.hi = a.lo+lo, a.hi+hi }

// beyond is what they do not explain of a step.
func (a allowed) beyond(size float64) float64 { return size - math.Min(math.Max(size, a.lo), a.hi) }

// What logged events may do, ln; common practice, no source.
const (
	cleanedMost = .12 // a cleaning, upwards; of lamps together no more than can have gathered since the last
	cleanedLess = .01 // and downwards: reflectors misted, lamps re-aimed
	truedMost   = .06 // a recalibration whose as-found gain was not noted, a sensor wiped
	dimmedOff   = .01 // a change of the set point, beyond what its coefficient may be off
)

// seenAt is what one lamp's readings did over the events between two quiet stretches.
type seenAt struct {
	t      *track
	before int // last day of the stretch before
	after  int // first day of that after
	group  int // index into Input.Groups
	jump
	// How far the step lies beyond what the events may have done to lamps under a sensor
	// together, and to one alone, which may be dirtier than the rest.
	off, alone float64
}

func (s *seenAt) step(size float64) Step {
	return Step{Before: s.before, After: s.after, Lamps: []int{s.t.l.in}, Days: []int{(s.before + s.after) / 2},
		Groups: []int{s.group}, Size: size, SD: s.sd}
}

// overEvents measures what one lamp's readings did over each run of events.
func (m *model) overEvents(g *groupState, t *track) []seenAt {
	var out []seenAt
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
		may, less, known := m.explained(g, t, mid, from)
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
		day := (t.days[mid-1] + t.days[from]) / 2
		out = append(out, seenAt{t: t, before: t.days[mid-1] + binDays/2, after: t.days[from] - binDays/2,
			group: g.sensors[partAt(t.parts, day)].in, jump: jump{j.size, math.Max(math.Hypot(j.sd, sharedNoise), t.usual)},
			off: allowed{may.lo, may.hi - less}.beyond(j.size), alone: may.beyond(j.size)})
	}
	return out
}

// stepsAtEvents finds steps that the events between two quiet stretches do not
// explain: those that most lamps under a sensor made, which may be small, and those of
// one lamp.
func (m *model) stepsAtEvents(g *groupState, tracks []*track) []Step {
	type when struct{ group, before, after int }
	at := map[when][]seenAt{}
	var order []when
	for _, t := range tracks {
		for _, s := range m.overEvents(g, t) {
			k := when{s.group, s.before, s.after}
			if at[k] == nil {
				order = append(order, k)
			}
			at[k] = append(at[k], s)
		}
	}
	var out []Step
	for _, k := range order {
		all := togetherAt(at[k])
		for i := range at[k] {
			s := &at[k][i]
			switch {
			case all:
				out = append(out, s.step(s.off))
			case math.Abs(s.alone) >= stepAlone && math.Abs(s.alone) >= sharedSure*s.sd:
				out = append(out, s.step(s.alone))
			}
		}
	}
	return out
}

// togetherAt says whether lamps under one sensor went beyond what the events explain
// together.
func togetherAt(of []seenAt) bool {
	if len(of) < 2 {
		return false
	}
	sizes, offs := make([]jump, len(of)), make([]jump, len(of))
	usual, same := 0.0, 0
	for i := range of {
		sizes[i], offs[i] = of[i].jump, jump{of[i].off, of[i].sd}
		usual = math.Max(usual, of[i].t.usualShared)
	}
	size, _ := shared(sizes)
	off, sd := shared(offs)
	for i := range of {
		if of[i].off*off > 0 {
			same++
		}
	}
	return math.Abs(size) >= stepShared && math.Abs(off) >= sharedSure*math.Max(sd, usual) && 10*same >= 7*len(of)
}

// explained sums up what the events between two weeks may have done; known is false
// where a placement or a new gear began, which may do anything, and where a step was
// found already.
// less is by how much less its cleanings may have taken off lamps together.
func (m *model) explained(g *groupState, t *track, mid, from int) (a allowed, less float64, known bool) {
	in := &m.in.Lamps[t.l.in]
	first, last := t.days[mid-1], t.days[from]
	within := func(d int) bool { return d > first && d <= last }
	for _, o := range in.Offsets {
		if within(o.Day) {
			return a, 0, false
		}
	}
	for _, d := range t.cuts {
		if within(d) {
			return a, 0, false
		}
	}
	dirt, soiled := newSoil(in, m.d.Dirt, m.asOf), m.d.Dirt.Amplitude.Mean+m.d.Dirt.Amplitude.SD // about the most, ln
	for _, c := range in.Cleanings {
		if within(c.Day) {
			a.add(-cleanedLess, cleanedMost)
			less += max(cleanedMost-soiled*dirt.at(c.Day-1)-cleanedLess, 0)
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
			return a, 0, false // a segment of its own begins
		case b.HasSupply && c.HasSupply && math.Abs(b.Supply-c.Supply) > supplyJump:
			x := 2.5 * m.kinds[t.l.kind].supply.SD * math.Abs(b.Supply-c.Supply)
			a.add(-x, x)
		}
		if d := math.Abs(b.Dim - c.Dim); d > dimJump {
			x := 2.5*m.d.Dim.SD*d + dimmedOff
			a.add(-x, x)
		}
	}
	return a, less, true
}
