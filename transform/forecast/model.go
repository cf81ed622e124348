package forecast

import (
	"math"
	"sort"
)

// Columns of a lamp: baseline, slope, shape, early term, dirt amplitude, set
// point, then the knots of its irregular ageing.
const (
	colA = iota
	colS
	colQ
	colE
	colDirt
	colDim
	colU
)

// Columns of a group: dirt amplitude, mean drift, yearly swing, departures of
// the dirt's time constant (ln) and of what a cleaning leaves, then voltage
// by lamp type and gear, temperature by lamp type, rate and offset of each
// interval between recalibrations, knots of the wander.
const (
	gcolDirt = iota
	gcolDrift
	gcolSin
	gcolCos
	gcolDays
	gcolLeft
	gcolFirst
)

// wanderDays is the knot spacing of a group's wander. It must be short against
// the wander's memory: what the knots do not follow is shared by the lamps of
// a bay, and would be taken for independent evidence of each.
const wanderDays = 45

// maxLots is how many lots get effects of their own; further ones, smallest
// first, are treated as cohorts of one. It keeps the fleet's matrix small.
const maxLots = 300

// lampState is what the fit knows of one lamp life.
type lampState struct {
	in      int // index into Input.Lamps
	class   int
	kind    int // lamp type and gear, index into model.kinds
	lot     int // -1: none
	blocks  []Block
	ages    []age   // of the blocks
	offset  float64 // taken from LnOut before fitting
	kn      knots
	p       int     // columns
	hasDim  bool    // set point varies
	sigma   float64 // of one block's residual, before n and inflation
	slope   float64 // last estimate of S, for the scale of its wander
	fit     []float64
	factor  []float64  // Cholesky factor of Sl, p x p
	border  []float64  // L^-1 [group | lot | right side], p x (q+4)
	prec    []float64  // precision of the unit wander at the knots
	cov     []float64  // posterior covariance, p x p (last pass)
	lotCov  [3]float64 // of S, Q, E with their means
	dirtCov float64    // of the dirt with the bay's
	k       []float64  // Sl^-1 border (last pass)
	batch   float64    // sums for the inflation
	batches int
	square  float64
	squares int
	first   float64 // hours of the first and last block
	last    float64
}

// groupState is what the fit knows of one group.
type groupState struct {
	in       int
	room     int
	lamps    []*lampState
	kinds    []int // voltage columns
	classes  []int // temperature columns
	from     []int // first day of each interval
	q        int
	colRate  int
	colOff   int
	colW     int
	day0     int // first knot
	nW       int
	seasonSD float64
	dirt     float64 // last estimates: dirt amplitude,
	roomDirt float64 // its room's and its own as scales of spreads, never nil,
	bayDirt  float64
	lnDays   float64 // ln of the time constant over the declared one,
	left     float64 // share left by a cleaning above the declared one
	local    []int   // fleet columns it touches
	factor   []float64
	border   []float64 // Lb^-1 [local | right side]
	schur    []float64 // what it adds to the fleet
	fit      []float64
	cov      []float64 // q x q
	covT     []float64 // q x local
	asOf     int
}

// hyper is the spreads, learnt from the fleet and leaning on the defaults.
type hyper struct {
	scale    []float64    // by class: slope now over default slope
	lamp     [][3]float64 // by class: spreads of S, Q (shares of the slope), E (ln) of lamps about their lot
	lot      [][3]float64 // of lots about their type
	power    []float64    // by class: where the bend is linearised
	rate     []float64    // by class: wander of the ageing rate, share of the slope
	inflate  []float64
	dirtBay  float64 // shares of the dirt that is there
	dirtLamp float64
	wander   float64
	sensor   float64
	interval float64
}

type model struct {
	d       Defaults
	asOf    int
	classes []string
	law     []ClassDefaults
	kinds   []kind
	rooms   []string
	lots    []lotState
	groups  []*groupState
	lamps   []*lampState
	h       hyper

	// fleet columns
	nt                                     int
	tClass, tLot, tKind, tTemp, tRoom, tRf int
	t, ct                                  []float64 // estimate, covariance
	opt                                    Options
	in                                     *Input
}

type kind struct {
	class  int
	gear   string
	supply Prior
}

type lotState struct {
	class int
	n     int
	slope float64 // present slope, for the scale of its lamps' spreads
}

func newModel(in *Input, opt Options) *model {
	m := &model{d: in.defaults(), asOf: in.AsOf, opt: opt, in: in}
	m.index()
	m.build()
	m.startHyper()
	return m
}

// index numbers types, gears, rooms and lots in an order that does not depend
// on maps.
func (m *model) index() {
	in := m.in
	classes, kinds, rooms, lots := map[string]int{}, map[string]int{}, map[string]int{}, map[string]int{}
	for i := range in.Lamps {
		l := &in.Lamps[i]
		if l.StartDay > m.asOf {
			continue
		}
		classes[l.Class]++
		kinds[kindKey(l)]++
		rooms[l.Room]++
		if l.Lot != "" {
			lots[lotKey(l)]++
		}
	}
	m.classes = sortedKeys(classes)
	for k, c := range m.classes {
		classes[c] = k
		m.law = append(m.law, m.d.Classes[c])
	}
	for k, key := range sortedKeys(kinds) {
		kinds[key] = k
		class, gear := splitKey(key)
		sup, ok := m.d.Supply[gear]
		if !ok {
			sup = m.d.Supply[UnknownGear]
		}
		m.kinds = append(m.kinds, kind{class: classes[class], gear: gear, supply: sup})
	}
	m.rooms = sortedKeys(rooms)
	for k, r := range m.rooms {
		rooms[r] = k
	}
	names := sortedKeys(lots)
	sort.SliceStable(names, func(i, j int) bool { return lots[names[i]] > lots[names[j]] })
	index := map[string]int{}
	for _, n := range names {
		if lots[n] < 2 || len(m.lots) == maxLots || m.opt.noLots {
			break
		}
		class, _ := splitKey(n)
		index[n] = len(m.lots)
		m.lots = append(m.lots, lotState{class: classes[class], n: lots[n], slope: m.law[classes[class]].Slope.Mean})
	}
	for g := range in.Groups {
		m.groups = append(m.groups, &groupState{in: g, room: -1, asOf: m.asOf})
	}
	for i := range in.Lamps {
		l := &in.Lamps[i]
		if l.StartDay > m.asOf {
			continue
		}
		s := &lampState{in: i, class: classes[l.Class], kind: kinds[kindKey(l)], lot: -1}
		if k, ok := index[lotKey(l)]; ok && l.Lot != "" {
			s.lot = k
		}
		s.blocks = usableBlocks(l.Blocks, m.asOf)
		if len(s.blocks) == 0 {
			continue
		}
		m.lamps = append(m.lamps, s)
		g := m.groups[l.Group]
		g.lamps = append(g.lamps, s)
		if g.room < 0 {
			g.room = rooms[l.Room]
		}
	}
	m.tClass = 0
	m.tLot = 3 * len(m.classes)
	m.tKind = m.tLot + 3*len(m.lots)
	m.tTemp = m.tKind + len(m.kinds)
	m.tRoom = m.tTemp + len(m.classes)
	m.tRf = m.tRoom + len(m.rooms)
	m.nt = m.tRf + 1
}

// usableBlocks gives the blocks whose week was over as of a day: a night's
// partial week would otherwise be forgotten by a rebuild.
func usableBlocks(b []Block, asOf int) []Block {
	n := sort.Search(len(b), func(i int) bool { return b[i].Day+blockDays/2 > asOf })
	return b[:n]
}

func kindKey(l *Lamp) string { return l.Class + "\x00" + l.Gear }
func lotKey(l *Lamp) string  { return l.Class + "\x00" + l.Lot }

func splitKey(s string) (a, b string) {
	for i := 0; i < len(s); i++ {
		if s[i] == 0 {
			return s[:i], s[i+1:]
		}
	}
	return s, ""
}

func sortedKeys(m map[string]int) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	sort.Strings(out)
	return out
}

// build lays out the columns of every lamp and group.
func (m *model) build() {
	kept := m.groups[:0]
	for _, g := range m.groups {
		if len(g.lamps) > 0 {
			kept = append(kept, g)
		}
	}
	m.groups = kept
	for _, g := range m.groups {
		m.layout(g)
	}
}

func (m *model) layout(g *groupState) {
	grp := &m.in.Groups[g.in]
	lo, hi := math.MaxInt, math.MinInt
	seen := map[int]bool{}
	local := map[int]bool{m.tRf: true, m.tRoom + g.room: true}
	magneticBlind, perKelvin := false, 0.0
	for _, l := range g.lamps {
		b := l.blocks
		lo, hi = min(lo, b[0].Day), max(hi, b[len(b)-1].Day)
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
		at := m.tClass + 3*l.class
		if l.lot >= 0 {
			at = m.tLot + 3*l.lot
		}
		local[at], local[at+1], local[at+2] = true, true, true
		m.layLamp(l)
		withV, withT := 0, 0
		for k := range b {
			if b[k].HasSupply {
				withV++
			}
			if b[k].HasAmbient {
				withT++
			}
		}
		if a := m.law[l.class].Ambient; withT*2 < len(b) {
			perKelvin = max(perKelvin, math.Hypot(a.Mean, a.SD))
		}
		if gear := m.kinds[l.kind].gear; withV*2 < len(b) && gear != Electronic && gear != Driver {
			magneticBlind = true
		}
	}
	g.dirt = m.d.Dirt.Amplitude.Mean
	g.roomDirt, g.bayDirt = max(g.dirt, 1e-6), max(g.dirt, 1e-6)
	g.seasonSD = m.d.Sensor.Season
	if magneticBlind {
		g.seasonSD = m.d.Sensor.SeasonNoVolt
	}
	g.seasonSD = math.Hypot(g.seasonSD, perKelvin*m.d.Sensor.SeasonAmbient)
	g.from = []int{grp.Start}
	for _, r := range grp.Recals {
		if r.Day <= m.asOf && r.Day > grp.Start {
			g.from = append(g.from, r.Day)
		}
	}
	g.day0 = lo
	g.nW = (hi-lo)/wanderDays + 2
	j := len(g.from)
	g.colRate = gcolFirst + len(g.kinds) + len(g.classes)
	g.colOff = g.colRate + j
	g.colW = g.colOff + j
	g.q = g.colW + g.nW
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

func (m *model) layLamp(l *lampState) {
	b := l.blocks
	l.first, l.last = b[0].Hours, b[len(b)-1].Hours
	ys := make([]float64, len(b))
	lo, hi := b[0].Dim, b[0].Dim
	l.ages = make([]age, len(b))
	for k := range b {
		l.ages[k] = ageOf(b[k].Hours, m.law[l.class].Tau)
		ys[k] = b[k].LnOut
		lo, hi = min(lo, b[k].Dim), max(hi, b[k].Dim)
	}
	l.offset = median(ys)
	l.hasDim = hi-lo > .005
	l.kn = placeKnots(l.first, l.last)
	l.p = colU + len(l.kn.x)
	l.sigma = m.d.Sensor.Noise
	l.slope = m.law[l.class].Slope.Mean
	l.fit = make([]float64, l.p)
	l.factor = make([]float64, l.p*l.p)
	n := len(l.kn.x)
	l.prec = make([]float64, n*n)
	k := make([]float64, n*n)
	mem := m.law[l.class].WanderMem / 1e4
	for i := 0; i < n; i++ {
		for j := 0; j <= i; j++ {
			k[i*n+j] = wanderCov(l.kn.x[i], l.kn.x[j], mem)
		}
		k[i*n+i] *= 1 + 1e-9
	}
	cholesky(k, n)
	invert(k, n, l.prec)
}

func (m *model) startHyper() {
	n := len(m.classes)
	h := &m.h
	*h = hyper{dirtBay: m.d.Dirt.Bay, dirtLamp: m.d.Dirt.Fixture,
		wander: m.d.Sensor.Wander, sensor: m.d.Sensor.Sensor, interval: m.d.Sensor.Interval}
	for k := 0; k < n; k++ {
		c := m.law[k]
		h.scale = append(h.scale, 1)
		h.lamp = append(h.lamp, [3]float64{c.SlopeLamp, c.ShapeLamp, c.EarlyLamp})
		h.lot = append(h.lot, [3]float64{c.SlopeLot, c.ShapeLot, c.EarlyLot})
		h.power = append(h.power, c.Shape.Mean)
		h.rate = append(h.rate, c.Wander)
		h.inflate = append(h.inflate, 2)
	}
}
