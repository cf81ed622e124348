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
	Lamps         []int   // indices into Input.Lamps: those that made it, and then those that may have, see everywhere
	Days          []int   // on which each of them stepped, to within three
	Groups        []int   // indices into Input.Groups
	Size, SD      float64 // ln
	Under         int     // lamps that made it
	Sensors       int     // sensors under which they hang
	Relamp        bool    // it lies shortly before a relamp: weeks of the lamp before show this one
}

// Made gives the lamps that were seen to make it.
func (s Step) Made() []int { return s.Lamps[:s.Under] }

// How steps are sought; choices, tried on simulated fleets.
const (
	stepWeeks = 6   // weeks looked at to either side
	stepReach = 120 // days that these may take where readings are sparse
	stepLeast = 3   // weeks needed to either side
	stepNews  = 5   // days needed after it at the end of the readings: what is new can't wait
	// Days within which too little dirt gathers for its cleaning to be seen, let alone hide a
	// step; and for lamps to differ in it.
	stepRoutine, besideRoutine = 35, 100
	stepAlone                  = .03  // least step of one lamp, ln
	stepShared                 = .018 // and of the lamps under one sensor
	stepSure                   = 5.0  // errors that a lamp's own step must be large
	sharedSure                 = 4.0
	stepFollow                 = 1.5          // by how much the errors of successive weeks that go together widen a step's
	stepSlope                  = .06 / 365.25 // spread of what a lamp loses a day beside others, ln
	stepSpread                 = .3           // spread of a step's size before it is seen, ln
	supplyJump                 = .02          // change of ln voltage from week to week that may step the light
	dimJump                    = .01
	mostSteps                  = 6    // of one lamp
	leastUsual                 = .4   // of a step's error, which the spread of weeks gives, the least that is believed
	sharedNoise                = .003 // what lamps under one sensor share from one six weeks to the next, ln
)

// track is one lamp's weeks as steps are sought in them.
type track struct {
	l      *lampState
	parts  []part // of the lamp, by the group's sensors
	days   []int
	y      []float64 // corrected for supply and temperature
	runs   [2][]int  // by how the slope is taken: number of the stretch that a week lies in; -1: an event falls into it
	run    []int     // with any slope
	noise  float64
	events []int
	cuts   []int           // days at which steps were found
	jumps  [2][]jump       // in each week, by how the slope is taken; sd 0: none
	beside map[int]float64 // by day: how far the other lamps under its sensor jumped
	// Spreads of what it, and the lamps under its sensor together, do from any six weeks
	// to the next: a step beside a logged event stands out from those. Others need not: of
	// shade that grows and goes every few weeks they are made.
	usual, usualShared float64
}

// Found is what readings did that nothing logged explains. It is sought once: the fit
// takes it as it is, each time that it lays the site out, and people are asked about it.
// It is plain data.
type Found struct {
	Steps  []Step // by day
	Doubts []Doubt
	Jumps  []Jump
	Dusty  []Dusty
}

// Jump is how the readings under a sensor jumped at its recalibration, ln.
type Jump struct {
	Group, Day int
	Size, SD   float64
}

// seek looks for steps that nothing logged explains and holds as-found gains
// against the readings.
func (m *model) seek() *Found {
	found, gains := make([][]Step, len(m.groups)), make([][]weighed, len(m.groups))
	jumps, dusty := make([][]Jump, len(m.groups)), make([][]Dusty, len(m.groups))
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
			dusty[k] = append(dusty[k], m.dustyBefore(s, g.sensors[s].in, under)...)
			found[k] = append(found[k], sharedSteps(g.sensors[s].in, s, under)...)
			setBeside(jumpsUnder(s, under, smallSlope))
		}
		usual := besideUsual(tracks)
		for _, t := range tracks {
			found[k] = append(found[k], t.ownSteps(g, usual)...)
		}
		found[k] = append(found[k], m.stepsAtEvents(g, tracks)...)
		for s, u := range g.sensors {
			seen, of := m.weigh(s, u, tracks)
			jumps[k], gains[k] = append(jumps[k], seen...), append(gains[k], of...)
		}
	})
	f := &Found{Steps: append(m.together(slices.Concat(found...)), m.late...), Doubts: doubt(slices.Concat(gains...)),
		Jumps: slices.Concat(jumps...), Dusty: slices.Concat(dusty...)}
	for k := range f.Steps {
		f.Steps[k].Under, f.Steps[k].Sensors = len(f.Steps[k].Lamps), len(f.Steps[k].Groups)
		m.everywhere(&f.Steps[k])
	}
	return f
}

// heed lays out what was found: each step is an unknown of the lamps that made it.
func (m *model) heed() {
	f := m.found
	m.steps, m.wiped, m.shaken = map[int][]Offset{}, map[int][]int{}, map[int][]int{}
	m.doubted, m.jumps = map[recalKey]bool{}, map[recalKey]jump{}
	for _, j := range f.Jumps {
		m.jumps[recalKey{j.Group, j.Day}] = jump{j.Size, j.SD}
	}
	open := func(i, day int) { m.steps[i] = append(m.steps[i], Offset{Day: day, Why: OffsetStep}) }
	for _, s := range f.Steps {
		if s.Relamp {
			continue
		}
		for k, i := range s.Lamps {
			open(i, s.Days[k])
			if s.Size > 0 && s.Size <= cleanedMost && len(s.Lamps) >= 2 {
				m.wiped[i] = append(m.wiped[i], s.Days[k])
			}
		}
		m.shake(s, open)
	}
	for _, d := range f.Doubts {
		m.doubted[recalKey{d.Group, d.Day}] = true
		if d.UpsideDown {
			continue
		}
		// Something else may have happened near that day.
		for i := range m.in.Lamps {
			if l := &m.in.Lamps[i]; l.groupOn(d.Day) == d.Group {
				open(i, d.Day)
			}
		}
	}
}

// shake lets the gain of a sensor under which several lamps stepped together have
// stepped itself. Where most of them did, the others may have too: one alone that may
// not would tell all the rest how they age.
func (m *model) shake(s Step, open func(lamp, day int)) {
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
				open(i, day)
			}
		}
	}
}

func contains(s []int, x int) bool { return indexOf(s, x) >= 0 }

// trackOf lays out a lamp's weeks and cuts them where something is known to have
// happened.
func (m *model) trackOf(g *groupState, l *lampState) *track {
	in := &m.in.Lamps[l.in]
	t := &track{l: l, parts: g.partsOf(in), beside: map[int]float64{}}
	volt, warm := m.kinds[l.kind].supply.Mean-in.Corrected.Supply, m.law[l.class].Ambient.Mean-in.Corrected.Ambient
	t.events = m.eventsOf(g, l, t.parts, 0)
	for slope, routine := range [2]int{anySlope: stepRoutine, smallSlope: besideRoutine} {
		t.runs[slope] = runsOf(l.bins, m.eventsOf(g, l, t.parts, routine))
		t.jumps[slope] = make([]jump, len(l.bins))
	}
	t.run = t.runs[anySlope]
	for k := range l.bins {
		b := &l.bins[k]
		y := b.LnOut
		if b.HasSupply {
			y -= volt * b.Supply
		}
		if b.HasAmbient {
			y -= warm * (b.Ambient - 25)
		}
		t.days, t.y = append(t.days, b.Day), append(t.y, y)
	}
	t.noise = noiseOf(t.y, t.run)
	t.leaveWild()
	t.measure(0, len(t.y))
	var sizes []float64
	for k := range t.y {
		if j, ok := t.jumpAt(k, anySlope); ok {
			sizes = append(sizes, j.size)
		}
	}
	t.usual = spreadAbout0(sizes)
	return t
}

// leaveWild takes out weeks that stand off by themselves: those of a few odd days.
func (t *track) leaveWild() {
	most := max(stepAlone, stepSure*t.noise)
	n := len(t.y)
	for k := range t.y {
		near := robust.Median(t.y[max(0, k-2):min(n, k+3)])
		if math.Abs(t.y[k]-near) > most && (k+2 < n || t.l.bins[k].N < stepNews) {
			t.runs[anySlope][k], t.runs[smallSlope][k] = -1, -1
		}
	}
}

// runsOf numbers the stretches between events; a week into which one falls has -1.
func runsOf(bins []Bin, events []int) []int {
	out, run := make([]int, len(bins)), 0
	for k := range bins {
		if k > 0 && breaks(events, &bins[k-1], &bins[k]) {
			run++
		}
		if out[k] = run; nearAny(events, bins[k].Day) {
			out[k] = -1
		}
	}
	return out
}

// breaks says whether something known changed between two weeks.
func breaks(events []int, a, b *Bin) bool {
	for _, e := range events {
		if e > a.Day && e <= b.Day {
			return true
		}
	}
	return a.HasSupply != b.HasSupply || b.HasSupply && math.Abs(a.Supply-b.Supply) > supplyJump ||
		math.Abs(a.Dim-b.Dim) > dimJump
}

// eventsOf gives what happened to a lamp and its sensors, but for cleanings so many days
// after another.
func (m *model) eventsOf(g *groupState, l *lampState, parts []part, routine int) (out []int) {
	in := &m.in.Lamps[l.in]
	for k, c := range in.Cleanings {
		if k == 0 || c.Day-in.Cleanings[k-1].Day > routine {
			out = append(out, c.Day)
		}
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

// jumpAt is a step in week k against the weeks about it in its stretch.
func (t *track) jumpAt(k, slope int) (jump, bool) {
	j := t.jumps[slope][k]
	return j, j.sd > 0
}

// measure measures the steps in the weeks from from to to, end not included.
func (t *track) measure(from, to int) {
	for slope := range t.jumps {
		for k := max(from, 0); k < min(to, len(t.y)); k++ {
			t.jumps[slope][k], _ = t.jumpIn(k, slope)
		}
	}
}

func (t *track) jumpIn(k, slope int) (jump, bool) {
	run := t.runs[slope]
	if run[k] < 0 {
		return jump{}, false
	}
	lo, hi := k, k
	for lo > 0 && k-lo < stepWeeks && run[lo-1] == run[k] && t.days[k]-t.days[lo-1] <= stepReach {
		lo--
	}
	for hi+1 < len(t.y) && hi-k < stepWeeks && run[hi+1] == run[k] && t.days[hi+1]-t.days[k] <= stepReach {
		hi++
	}
	return t.jumpBetween(lo, k, k+1, hi+1, slope)
}

// isNews says whether weeks are the last, and hold days enough for what is new to be seen.
func (t *track) isNews(from, hi int) bool {
	n := 0
	for k := from; k < hi; k++ {
		n += t.l.bins[k].N
	}
	return hi == len(t.y) && n >= stepNews
}

// How the slope is taken beside a step: any, since lamps under a sensor may all gather dirt or
// follow a supply that nobody reads; or small, as it is of a lamp beside the others.
const (
	anySlope = iota
	smallSlope
)

var slopeSpread = [2]float64{anySlope: math.Inf(1), smallSlope: stepSlope}

// jumpBetween fits one slope, nil but for a spread, and a step to the weeks lo to mid and from to hi,
// ends not included.
func (t *track) jumpBetween(lo, mid, from, hi, slope int) (jump, bool) {
	na, nb := mid-lo, hi-from
	if na < stepLeast || nb < stepLeast && !t.isNews(from, hi) {
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
	sxx += math.Pow(stepFollow*t.noise/slopeSpread[slope], 2)
	perDay := sxy / sxx
	v := 1/float64(na) + 1/float64(nb) + (xb-xa)*(xb-xa)/sxx
	return jump{yb - ya - perDay*(xb-xa), stepFollow * t.noise * math.Sqrt(v)}, true
}

// between gives the days between which the step of week k lies: in it, or on either side of
// it where the week is like those before it or after it.
func (t *track) between(k int) (before, after int) {
	was, is := robust.Median(t.y[max(0, k-stepLeast):k]), robust.Median(t.y[k+1:min(len(t.y), k+1+stepLeast)])
	switch share := (t.y[k] - was) / (is - was); {
	case share < .3:
		return t.days[k], t.days[k+1]
	case share > .7:
		return t.days[k-1], t.days[k]
	}
	return t.days[k] - binDays/2, t.days[k] + binDays/2
}

// cut notes a step in week k and parts the stretch there.
func (t *track) cut(k int, j jump, group int) Step {
	before, after := t.between(k)
	s := Step{Before: before, After: after, Lamps: []int{t.l.in}, Days: []int{t.days[k]},
		Groups: []int{group}, Size: j.size, SD: j.sd}
	for _, run := range t.runs {
		was := run[k]
		for i := range run {
			if run[i] >= 0 && (run[i] > was || run[i] == was && i > k) {
				run[i]++
			}
		}
		run[k] = -1
	}
	t.measure(k-stepWeeks, k+stepWeeks+1)
	t.cuts = append(t.cuts, t.days[k])
	return s
}

// Found gives what the readings did that nothing logged explains.
func (f *Fit) Found() *Found { return f.m.found }
