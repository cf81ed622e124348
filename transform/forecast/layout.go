package forecast

import (
	"math"
	"sort"
)

// maxGroupColumns bounds what the sensors of one group may take together; past
// it a fixture that came from elsewhere counts from its coming only.
const maxGroupColumns = 600

// joinGroups makes one group of the sensors that watched the same lamp one after
// the other.
func (m *model) joinGroups() {
	in := m.in
	n := len(in.Groups)
	root, columns := make([]int, n), make([]int, n)
	span := m.spans()
	for g := range root {
		root[g] = g
		columns[g] = 10 + 2*(1+len(in.Groups[g].Recals)) + (span[g][1]-span[g][0])/wanderDays + 2
	}
	find := func(g int) int {
		for root[g] != g {
			g = root[g]
		}
		return g
	}
	for i := range in.Lamps {
		l := &in.Lamps[i]
		if l.StartDay > m.asOf {
			continue
		}
		for _, w := range l.Watched {
			if w.From > m.asOf {
				break
			}
			a, b := find(l.groupOn(m.asOf)), find(w.Group)
			if a != b && columns[a]+columns[b] <= maxGroupColumns {
				a, b = min(a, b), max(a, b)
				root[b], columns[a] = a, columns[a]+columns[b]
			}
		}
	}
	m.groupOf = make([]*groupState, n)
	for k := range in.Groups {
		r := find(k)
		if m.groupOf[r] == nil {
			m.groupOf[r] = &groupState{in: r, asOf: m.asOf}
			m.groups = append(m.groups, m.groupOf[r])
		}
		g := m.groupOf[r]
		m.groupOf[k] = g
		g.sensors = append(g.sensors, &sensorState{in: k, lo: math.MaxInt, hi: math.MinInt, first: m.d.Sensor.Offset})
	}
}

// groupOn gives the group that watches a lamp on a day.
func (l *Lamp) groupOn(day int) int {
	g := l.Group
	for k, w := range l.Watched {
		if k == 0 || w.From <= day {
			g = w.Group
		}
	}
	return g
}

// groups gives all that ever watch it.
func (l *Lamp) groups() []int {
	out := []int{l.Group}
	for _, w := range l.Watched {
		out = append(out, w.Group)
	}
	return out
}

// spans gives the days between which each group of the input watches anything.
func (m *model) spans() [][2]int {
	out := make([][2]int, len(m.in.Groups))
	for g := range out {
		out[g] = [2]int{math.MaxInt32, 0}
	}
	for i := range m.in.Lamps {
		l := &m.in.Lamps[i]
		if n := len(l.Bins); n > 0 {
			for _, g := range l.groups() {
				s := &out[g]
				s[0], s[1] = min(s[0], l.Bins[0].Day), max(s[1], l.Bins[n-1].Day)
			}
		}
	}
	for g := range out {
		out[g][0] = min(out[g][0], out[g][1])
	}
	return out
}

// sensor gives the group's state of an Input.Group, -1 where it is not its own.
func (g *groupState) sensor(in int) int {
	for k, u := range g.sensors {
		if u.in == in {
			return k
		}
	}
	return -1
}

// partsOf says which sensors of the group watched a lamp, from when on. A sensor
// that is not the group's is -1.
func (g *groupState) partsOf(l *Lamp) []part {
	if len(l.Watched) == 0 {
		return []part{{math.MinInt32, g.sensor(l.Group)}}
	}
	out := make([]part, 0, len(l.Watched))
	for k, w := range l.Watched {
		from := w.From
		if k > 0 && from > g.asOf {
			break
		}
		if k == 0 {
			from = math.MinInt32
		}
		if s := g.sensor(w.Group); k == 0 || out[len(out)-1].sensor != s {
			out = append(out, part{from, s})
		}
	}
	return out
}

// watched says whether a sensor of the group read any of the lamp's bins.
func (g *groupState) watched(l *lampState, sensor int) bool {
	for _, p := range l.parts {
		if p.sensor == sensor {
			return true
		}
	}
	return false
}

func partAt(parts []part, day int) int {
	k := 0
	for k+1 < len(parts) && parts[k+1].from <= day {
		k++
	}
	return parts[k].sensor
}

// readIn gives the bins of a lamp that the group's sensors read.
func (m *model) readIn(g *groupState, l *Lamp) []Bin {
	b := usableBins(l.Bins, m.asOf)
	if len(l.Watched) == 0 {
		return b
	}
	parts := g.partsOf(l)
	whole := true
	for _, p := range parts {
		whole = whole && p.sensor >= 0
	}
	if whole {
		return b
	}
	var out []Bin
	for k := range b {
		if partAt(parts, b[k].Day) >= 0 {
			out = append(out, b[k])
		}
	}
	return out
}

// segmentsOf lays out where a lamp's light begins to stand otherwise to what is
// read of it.
func (m *model) segmentsOf(g *groupState, l *lampState) {
	in := &m.in.Lamps[l.in]
	first, last := l.bins[0].Day, l.bins[len(l.bins)-1].Day
	for _, o := range in.Offsets {
		m.addSegment(l, o, first, last)
	}
	for _, o := range m.steps[l.in] {
		m.addSegment(l, o, first, last)
	}
	if gear := m.kinds[l.kind].gear; gear != Electronic && gear != Driver {
		for _, day := range loggerTurns(l.bins) {
			m.addSegment(l, Offset{day, offsetSupply}, first, last)
		}
	}
	sort.SliceStable(l.segs, func(i, j int) bool { return l.segs[i].from < l.segs[j].from })
}

// offsetSupply is where a voltage logger begins or stops: what it would have
// corrected is not known on one side.
const offsetSupply = "voltage logger began or stopped"

// supplySpread is how far light may stand off for a supply that nobody reads, ln:
// 3 % of voltage at 1.5 % a per cent (common practice, no source).
const supplySpread = .045

// loggerTurns gives the days on which a voltage logger began or stopped for good:
// for at least a month of weeks to either side.
func loggerTurns(b []Bin) []int {
	const least = 4
	var out []int
	for k := least; k+least <= len(b); k++ {
		turn := true
		for i := 0; i < least; i++ {
			turn = turn && b[k-1-i].HasSupply == b[k-1].HasSupply && b[k+i].HasSupply == b[k].HasSupply
		}
		if turn && b[k-1].HasSupply != b[k].HasSupply {
			out = append(out, (b[k-1].Day+b[k].Day+1)/2)
		}
	}
	return out
}

func (m *model) addSegment(l *lampState, o Offset, first, last int) {
	if o.Day <= first || o.Day > last {
		return
	}
	sd := m.d.Sensor.Place
	switch o.Why {
	case OffsetGear:
		sd = m.d.Sensor.Gear
	case OffsetStep:
		sd = stepSpread
	case offsetSupply:
		sd = supplySpread
	}
	l.segs = append(l.segs, segment{o.Day, sd})
}

// layout lays out the columns of a group.
func (m *model) layout(g *groupState) {
	seen := map[int]bool{}
	local := map[int]bool{m.tRf: true}
	for _, l := range g.lamps {
		if !seen[l.kind] {
			seen[l.kind] = true
			g.kinds = append(g.kinds, l.kind)
			local[m.tKind+l.kind] = true
		}
		if !seen[-1-l.class] {
			seen[-1-l.class] = true
			g.classes = append(g.classes, l.class)
			local[m.tTemp+l.class] = true
		}
		at := m.meanColumn(l)
		local[at], local[at+1], local[at+2] = true, true, true
		l.parts = g.partsOf(&m.in.Lamps[l.in])
		m.see(g, l)
	}
	m.laySensors(g)
	for _, u := range g.sensors {
		local[m.tRoom+u.room], local[m.tTrend+u.room] = true, true
	}
	for _, l := range g.lamps {
		l.bay = g.sensors[g.lastSensor(l)]
		m.layLamp(g, l)
	}
	g.local = make([]int, 0, len(local))
	for c := range local {
		g.local = append(g.local, c)
	}
	sort.Ints(g.local)
	nl := len(g.local)
	g.fit = make([]float64, g.q)
	g.factor = make([]float64, g.q*g.q)
	g.border = make([]float64, g.q*(nl+1))
	g.schur = make([]float64, (nl+1)*(nl+1))
	for _, l := range g.lamps {
		l.border = make([]float64, l.p*(g.q+4))
	}
}

// see takes from a lamp's bins when its sensors read, what was logged beside
// them, and which of them took over from another.
func (m *model) see(g *groupState, l *lampState) {
	in := &m.in.Lamps[l.in]
	withT := make([]int, len(g.sensors))
	count := make([]int, len(g.sensors))
	before := -1
	for k := range l.bins {
		b := &l.bins[k]
		s := partAt(l.parts, b.Day)
		u := g.sensors[s]
		if before >= 0 && before != s && !moved(in, l.bins[k-1].Day, b.Day) {
			u.first = m.d.Sensor.Another
		}
		before = s
		u.room = l.room
		u.lo, u.hi = min(u.lo, b.Day), max(u.hi, b.Day)
		count[s]++
		if b.HasAmbient {
			withT[s]++
		}
	}
	for s, u := range g.sensors {
		if count[s] == 0 {
			continue
		}
		if a := m.law[l.class].Ambient; withT[s]*2 < count[s] {
			u.perKelvin = max(u.perKelvin, math.Hypot(a.Mean, a.SD))
		}
	}
}

// moved says whether the lamp's place changed between two days.
func moved(in *Lamp, from, to int) bool {
	for _, o := range in.Offsets {
		if o.Why == OffsetPlace && o.Day > from && o.Day <= to {
			return true
		}
	}
	return false
}

// laySensors lays out the columns of the group's sensors; those that read no
// bin of it are dropped.
func (m *model) laySensors(g *groupState) {
	kept := g.sensors[:0]
	renamed := make([]int, len(g.sensors))
	at := len(g.kinds) + len(g.classes)
	for k, u := range g.sensors {
		renamed[k] = len(kept)
		if u.hi < u.lo {
			continue
		}
		grp := &m.in.Groups[u.in]
		u.seasonSD = math.Hypot(m.d.Sensor.Season, u.perKelvin*m.d.Sensor.SeasonAmbient)
		u.from = []int{grp.Start}
		u.recal = map[int]Recal{}
		for _, r := range grp.Recals {
			if r.Day <= m.asOf && r.Day > grp.Start {
				u.from = append(u.from, r.Day)
				u.recal[r.Day] = r
			}
		}
		// A step that its lamps share may be its own.
		for _, day := range m.shaken[u.in] {
			if _, ok := u.recal[day]; !ok && day > grp.Start {
				u.from = append(u.from, day)
				u.recal[day] = Recal{Day: day, shaken: true}
			}
		}
		sort.Ints(u.from)
		u.day0 = u.lo
		u.nW = (u.hi-u.lo)/wanderDays + 2
		j := len(u.from)
		u.dirt = m.roomPrior(u.room).Mean
		u.roomDirt, u.bayDirt = max(u.dirt, 1e-6), max(u.dirt, 1e-6)
		u.wiped, u.shared = stepWiped.Mean, 1
		u.colDirt, u.colDrift = at, at+4
		u.colRate = at + 10
		u.colOff = u.colRate + j
		u.colW = u.colOff + j
		at = u.colW + u.nW
		kept = append(kept, u)
	}
	g.sensors, g.q = kept, at
	for _, l := range g.lamps {
		for k := range l.parts {
			if s := l.parts[k].sensor; s >= 0 {
				l.parts[k].sensor = renamed[s]
			}
		}
	}
}
