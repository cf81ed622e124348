package forecast

import (
	"math"
	"slices"
	"sort"
	"wane/transform/robust"
)

// Step is a step in the readings that nothing logged explains. Until someone
// does, it is in the fit as an unknown of its own, and no lamp is brighter or
// weaker for it.
type Step struct {
	Before, After int     // last day before it, first day after it
	Lamps         []int   // indices into Input.Lamps
	Groups        []int   // indices into Input.Groups
	Size, SD      float64 // ln
	Under         int     // lamps that made it
	Sensors       int     // sensors under which they hang
	Relamp        bool    // it lies shortly before a relamp: weeks of the lamp before show this one
}

// How steps are sought; choices, tried on simulated fleets.
const (
	stepWeeks   = 6    // weeks looked at to either side
	stepReach   = 120  // days that these may take where readings are sparse
	stepLeast   = 3    // weeks needed to either side
	stepAlone   = .03  // least step of one lamp, ln
	stepShared  = .018 // and of the lamps under one sensor
	stepSure    = 6.0  // errors that a lamp's own step must be large
	sharedSure  = 4.0
	stepFollow  = 1.5 // by how much the errors of successive weeks that go together widen a step's
	stepSpread  = .3  // spread of a step's size before it is seen, ln
	supplyJump  = .02 // change of ln voltage from week to week that may step the light
	dimJump     = .01
	mostSteps   = 6    // of one lamp
	sharedNoise = .003 // what lamps under one sensor share from one six weeks to the next, ln
)

// track is one lamp's weeks as steps are sought in them.
type track struct {
	l      *lampState
	parts  []part // of the lamp, by the group's sensors
	days   []int
	y      []float64 // corrected for supply and temperature
	run    []int     // number of the stretch that a week lies in; -1: an event falls into it
	noise  float64
	events []int
	cuts   []int // days at which steps were found
	// Spreads of what it, and the lamps under its sensor together, do from any six weeks
	// to the next: a step beside a logged event stands out from those. Others need not: of
	// shade that grows and goes every few weeks they are made.
	usual, usualShared float64
}

// findSteps looks for steps that nothing logged explains and holds as-found gains
// against the readings.
func (m *model) findSteps() {
	m.steps, m.doubted, m.jumps, m.shaken = map[int][]Offset{}, map[recalKey]bool{}, map[recalKey]jump{}, map[int][]int{}
	found, gains := make([][]Step, len(m.groups)), make([][]weighed, len(m.groups))
	jumps := make([]map[recalKey]jump, len(m.groups))
	inParallel(len(m.groups), func(k int) {
		g := m.groups[k]
		tracks := make([]*track, len(g.lamps))
		for i, l := range g.lamps {
			tracks[i] = m.trackOf(g, l)
		}
		for s := range g.sensors {
			var under []*track
			for _, t := range tracks {
				if t.readBy(s) {
					under = append(under, t)
				}
			}
			found[k] = append(found[k], sharedSteps(g.sensors[s].in, s, under)...)
		}
		for _, t := range tracks {
			found[k] = append(found[k], t.ownSteps(g)...)
		}
		found[k] = append(found[k], m.stepsAtEvents(g, tracks)...)
		jumps[k] = map[recalKey]jump{}
		for s, u := range g.sensors {
			gains[k] = append(gains[k], m.weigh(s, u, tracks, jumps[k])...)
		}
	})
	var all []Step
	m.asked = doubt(slices.Concat(gains...))
	for k := range m.groups {
		all = append(all, found[k]...)
		for key, j := range jumps[k] {
			m.jumps[key] = j
		}
	}
	for _, s := range all {
		for _, i := range s.Lamps {
			m.steps[i] = append(m.steps[i], Offset{Day: (s.Before + s.After) / 2, Why: OffsetStep})
		}
	}
	for _, d := range m.asked {
		m.doubted[recalKey{d.Group, d.Day}] = true
		if d.UpsideDown {
			continue
		}
		// Something else may have happened near that day.
		for i := range m.in.Lamps {
			if l := &m.in.Lamps[i]; l.groupOn(d.Day) == d.Group {
				m.steps[i] = append(m.steps[i], Offset{Day: d.Day, Why: OffsetStep})
			}
		}
	}
	m.found = together(all)
	for _, s := range m.found {
		m.shake(s)
	}
	m.wiped = map[int][]int{}
	for _, s := range m.found {
		if s.Size <= 0 || s.Size > cleanedMost || len(s.Lamps) < 2 {
			continue
		}
		for _, i := range s.Lamps {
			m.wiped[i] = append(m.wiped[i], (s.Before+s.After)/2)
		}
	}
	m.found = append(m.found, m.late...)
	for k := range m.found {
		m.found[k].Under, m.found[k].Sensors = len(m.found[k].Lamps), len(m.found[k].Groups)
	}
}

// shake lets the gain of a sensor under which several lamps stepped together have
// stepped itself. Where most of them did, the others may have too: one alone that may
// not would tell all the rest how they age.
func (m *model) shake(s Step) {
	day := (s.Before + s.After) / 2
	n, others := map[int]int{}, map[int][]int{}
	for _, i := range s.Lamps {
		n[m.in.Lamps[i].groupOn(s.After)]++
	}
	for _, l := range m.lamps {
		if !contains(s.Lamps, l.in) {
			g := m.in.Lamps[l.in].groupOn(s.After)
			others[g] = append(others[g], l.in)
		}
	}
	for _, g := range s.Groups {
		if n[g] < 2 {
			continue
		}
		m.shaken[g] = append(m.shaken[g], day)
		if len(others[g]) < n[g] {
			for _, i := range others[g] {
				m.steps[i] = append(m.steps[i], Offset{Day: day, Why: OffsetStep})
			}
		}
	}
}

// together makes one step of those under several sensors on the same days.
func together(all []Step) []Step {
	sort.SliceStable(all, func(i, j int) bool { return all[i].After < all[j].After })
	var out []Step
	for _, s := range all {
		k := len(out) - 1
		for k >= 0 && !(s.Before <= out[k].After+binDays && s.After+binDays >= out[k].Before && s.Size*out[k].Size > 0) {
			k--
		}
		if k < 0 || s.After-out[k].Before > 35 {
			out = append(out, s)
			continue
		}
		o := &out[k]
		n, b := float64(len(o.Lamps)), float64(len(s.Lamps))
		o.Size = (n*o.Size + b*s.Size) / (n + b)
		o.SD = math.Min(o.SD, s.SD)
		o.Lamps = append(o.Lamps, s.Lamps...)
		for _, g := range s.Groups {
			if !contains(o.Groups, g) {
				o.Groups = append(o.Groups, g)
			}
		}
		o.Before, o.After = max(o.Before, s.Before), min(o.After, s.After)
		if o.After <= o.Before {
			o.After = o.Before + 1
		}
	}
	return out
}

func contains(s []int, x int) bool { return indexOf(s, x) >= 0 }

// trackOf lays out a lamp's weeks and cuts them where something is known to have
// happened.
func (m *model) trackOf(g *groupState, l *lampState) *track {
	in := &m.in.Lamps[l.in]
	t := &track{l: l, parts: g.partsOf(in)}
	volt, warm := m.kinds[l.kind].supply.Mean-in.Corrected.Supply, m.law[l.class].Ambient.Mean-in.Corrected.Ambient
	t.events = m.eventsOf(g, l, t.parts)
	run := 0
	for k := range l.bins {
		b := &l.bins[k]
		y := b.LnOut
		if b.HasSupply {
			y -= volt * b.Supply
		}
		if b.HasAmbient {
			y -= warm * (b.Ambient - 25)
		}
		at := -1
		if k > 0 && t.breaks(&l.bins[k-1], b) {
			run++
		}
		if !nearAny(t.events, b.Day) {
			at = run
		}
		t.days, t.y, t.run = append(t.days, b.Day), append(t.y, y), append(t.run, at)
	}
	t.noise = noiseOf(t.y, t.run)
	var sizes []float64
	for k := range t.y {
		if j, ok := t.jumpAt(k); ok {
			sizes = append(sizes, j.size)
		}
	}
	t.usual = spreadAbout0(sizes)
	return t
}

// breaks says whether something known changed between two weeks.
func (t *track) breaks(a, b *Bin) bool {
	for _, e := range t.events {
		if e > a.Day && e <= b.Day {
			return true
		}
	}
	return a.HasSupply != b.HasSupply || b.HasSupply && math.Abs(a.Supply-b.Supply) > supplyJump ||
		math.Abs(a.Dim-b.Dim) > dimJump
}

func (m *model) eventsOf(g *groupState, l *lampState, parts []part) []int {
	in := &m.in.Lamps[l.in]
	var out []int
	for _, c := range in.Cleanings {
		out = append(out, c.Day)
	}
	for _, o := range in.Offsets {
		out = append(out, o.Day)
	}
	for k, p := range parts {
		if k > 0 {
			out = append(out, p.from)
		}
		if p.sensor < 0 {
			continue
		}
		for _, r := range m.in.Groups[g.sensors[p.sensor].in].Recals {
			if r.Day >= p.from && (k+1 == len(parts) || r.Day < parts[k+1].from) {
				out = append(out, r.Day)
			}
		}
	}
	sort.Ints(out)
	return out
}

func nearAny(days []int, day int) bool {
	for _, d := range days {
		if abs(d-day) <= binDays/2 {
			return true
		}
	}
	return false
}

// noiseOf is the spread of one week, from how each differs from the mean of
// its neighbours.
func noiseOf(y []float64, run []int) float64 {
	var d []float64
	for k := 1; k+1 < len(y); k++ {
		if run[k] >= 0 && run[k-1] == run[k] && run[k+1] == run[k] {
			d = append(d, math.Abs(y[k]-(y[k-1]+y[k+1])/2))
		}
	}
	if len(d) < 3 {
		return .01
	}
	return max(1.4826*robust.Sort(d)/math.Sqrt(1.5), .0015)
}

// spreadAbout0 is the spread of jumps by their lower quartile, since each step throws off
// those of all weeks about it; 0 where there are few.
func spreadAbout0(sizes []float64) float64 {
	if len(sizes) < 2*stepWeeks {
		return 0
	}
	abs := make([]float64, len(sizes))
	for i, x := range sizes {
		abs[i] = math.Abs(x)
	}
	return robust.Nth(abs, len(abs)/4) / normalQuantile(.25)
}

func (t *track) readBy(sensor int) bool {
	for _, p := range t.parts {
		if p.sensor == sensor {
			return true
		}
	}
	return false
}

// jump is a step in one lamp's readings with its error, ln.
type jump struct{ size, sd float64 }

// jumpAt measures a step in week k against the weeks about it in its stretch.
func (t *track) jumpAt(k int) (jump, bool) {
	if t.run[k] < 0 {
		return jump{}, false
	}
	lo, hi := k, k
	for lo > 0 && k-lo < stepWeeks && t.run[lo-1] == t.run[k] && t.days[k]-t.days[lo-1] <= stepReach {
		lo--
	}
	for hi+1 < len(t.y) && hi-k < stepWeeks && t.run[hi+1] == t.run[k] && t.days[hi+1]-t.days[k] <= stepReach {
		hi++
	}
	return t.jumpBetween(lo, k, k+1, hi+1)
}

// jumpBetween fits one slope and a step to the weeks lo to mid and from to hi,
// ends not included.
func (t *track) jumpBetween(lo, mid, from, hi int) (jump, bool) {
	na, nb := mid-lo, hi-from
	if na < stepLeast || nb < stepLeast {
		return jump{}, false
	}
	mean := func(a, b int) (x, y float64) {
		for i := a; i < b; i++ {
			x, y = x+float64(t.days[i])/float64(b-a), y+t.y[i]/float64(b-a)
		}
		return x, y
	}
	xa, ya := mean(lo, mid)
	xb, yb := mean(from, hi)
	sxx, sxy := 0.0, 0.0
	for i := lo; i < hi; i++ {
		if i >= mid && i < from {
			continue
		}
		mx, my := xa, ya
		if i >= from {
			mx, my = xb, yb
		}
		sxx += (float64(t.days[i]) - mx) * (float64(t.days[i]) - mx)
		sxy += (float64(t.days[i]) - mx) * (t.y[i] - my)
	}
	if sxx == 0 {
		return jump{}, false
	}
	slope := sxy / sxx
	v := 1/float64(na) + 1/float64(nb) + (xb-xa)*(xb-xa)/sxx
	return jump{yb - ya - slope*(xb-xa), stepFollow * t.noise * math.Sqrt(v)}, true
}

// ownSteps finds the steps of one lamp alone, the surest first.
func (t *track) ownSteps(g *groupState) []Step {
	var out []Step
	for len(out) < mostSteps {
		best, at := 0.0, -1
		var size jump
		for k := range t.y {
			j, ok := t.jumpAt(k)
			if z := math.Abs(j.size) / j.sd; ok && math.Abs(j.size) >= stepAlone && z >= stepSure && z > best {
				best, at, size = z, k, j
			}
		}
		if at < 0 {
			return out
		}
		out = append(out, t.cut(at, size, g.sensors[partAt(t.parts, t.days[at])].in))
	}
	return out
}

// cut notes a step in week k and parts the stretch there.
func (t *track) cut(k int, j jump, group int) Step {
	s := Step{Before: t.days[k] - binDays/2, After: t.days[k] + binDays/2, Lamps: []int{t.l.in}, Groups: []int{group},
		Size: j.size, SD: j.sd}
	was := t.run[k]
	for i := range t.run {
		if t.run[i] >= 0 && (t.run[i] > was || t.run[i] == was && i > k) {
			t.run[i]++
		}
	}
	t.run[k] = -1
	t.cuts = append(t.cuts, t.days[k])
	return s
}

// Steps gives the steps that nothing logged explains, the latest first.
func (f *Fit) Steps() []Step {
	out := append([]Step(nil), f.m.found...)
	sort.SliceStable(out, func(i, j int) bool { return out[i].After > out[j].After })
	return out
}
