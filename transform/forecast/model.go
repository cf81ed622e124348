package forecast

import (
	"math"
	"slices"
	"sort"
	"wane/transform/robust"
)

// Columns of a lamp: baseline, slope, shape, early term, dirt amplitude, set
// point, then the knots of its irregular ageing, then the baselines of its later
// segments (see segment).
const (
	colA = iota
	colS
	colQ
	colE
	colDirt
	colDim
	colU
)

// Columns of a group: voltage by lamp type and gear, temperature by lamp type,
// then those of each sensor, see sensorState.

// wanderDays is the knot spacing of a group's wander. It must be short against
// the wander's memory: what the knots do not follow is shared by the lamps of
// a bay, and would be taken for independent evidence of each.
const wanderDays = 45

// maxLots is how many lots get effects of their own; further ones, smallest
// first, are treated as cohorts of one. It keeps the fleet's matrix small.
const maxLots = 300

// lampState is what the fit knows of one lamp life.
type lampState struct {
	room    int
	bay     *sensorState // the sensor that watches it last: its dirt is of that bay
	in      int          // index into Input.Lamps
	class   int
	kind    int // lamp type and gear, index into model.kinds
	lot     int // -1: none
	make    int // -1: none
	bins    []Bin
	ages    []age   // of the bins
	offset  float64 // taken from LnOut before fitting
	kn      knots
	p       int     // columns
	hasDim  bool    // set point varies
	sigma   float64 // of one bin's residual, before n and inflation
	slope   float64 // last estimate of S, for the scale of its wander
	fit     []float64
	factor  []float64  // Cholesky factor of Sl, p x p
	border  []float64  // L^-1 [group | lot | right side], p x (q+4)
	prec    []float64  // precision of the unit wander at the knots
	cov     []float64  // posterior covariance, p x p (last pass)
	lotCov  [3]float64 // of S, Q, E with their means
	dirtCov float64    // of the dirt with the bay's
	k       []float64  // Sl^-1 border (last pass)
	segs    []segment  // from the second on; the first has colA
	parts   []part     // what watched it from when on
	batch   float64    // sums for the inflation
	batches int
	square  float64
	squares int
	first   float64 // hours of the first and last bin
	last    float64
}

// segment of a lamp's record: from its day on its light stands otherwise to what
// is read of it, by a spread.
type segment struct {
	from int
	sd   float64
}

// part of a lamp's record that one sensor of its group read.
type part struct {
	from   int
	sensor int // index into groupState.sensors
}

// sensorState is what the fit knows of one sensor in one bay: an Input.Group.
// Its columns: dirt amplitude of the bay, departures of the dirt's time constant (ln)
// and of what a cleaning leaves, how much of a cleaning steps are, mean drift, yearly swing with and without the
// supply read, trend of what is not read, rate and offset of each interval between
// recalibrations, knots of the wander.
type sensorState struct {
	room      int
	colDirt   int
	dirt      float64 // last estimates: dirt amplitude,
	roomDirt  float64 // its room's and its own as scales of spreads, never nil,
	bayDirt   float64
	lnDays    float64       // ln of the time constant over the declared one,
	left      float64       // share left by a cleaning above the declared one,
	shared    float64       // by how much its lamps' weeks stray together, see sharedBy
	wiped     float64       // as how much of a cleaning a step counts that may be one
	in        int           // index into Input.Groups
	from      []int         // first day of each interval
	recal     map[int]Recal // what began it, but for the first
	colDrift  int
	colRate   int
	colOff    int
	colW      int
	day0      int // first knot
	nW        int
	first     float64 // spread of the first interval's offset
	seasonSD  float64
	lo, hi    int // first and last day read
	perKelvin float64
}

func (u *sensorState) colDays() int { return u.colDirt + 1 }
func (u *sensorState) colLeft() int { return u.colDirt + 2 }

// colWiped is how much of a cleaning the steps are that may be one.
func (u *sensorState) colWiped() int { return u.colDirt + 3 }

// colSeason is the first of the yearly swing's two columns: of weeks whose supply
// was read, and of blind ones, in which it swings the light of magnetic gear.
func (u *sensorState) colSeason(blind bool) int {
	if blind {
		return u.colDrift + 3
	}
	return u.colDrift + 1
}

// colTrend is by how much of what is usual the conditions that nobody reads change from
// year to year.
func (u *sensorState) colTrend() int { return u.colDrift + 5 }

// unread is how far conditions that nobody read may change a week's light from year to
// year, ln.
func (m *model) unread(l *lampState, b *Bin) float64 {
	var supply, air float64
	if m.swings(l, b) {
		supply = m.d.Sensor.TrendNoVolt
	}
	if a := m.law[l.class].Ambient; !b.HasAmbient {
		air = math.Hypot(a.Mean, a.SD) * m.d.Sensor.TrendAmbient
	}
	return math.Hypot(supply, air)
}

// swings says whether a week's light swings with a supply that nobody read.
func (m *model) swings(l *lampState, b *Bin) bool {
	gear := m.kinds[l.kind].gear
	return !b.HasSupply && gear != Electronic && gear != Driver
}

// interval gives the one that a day lies in.
func (u *sensorState) interval(day int) int {
	j := 0
	for j+1 < len(u.from) && u.from[j+1] <= day {
		j++
	}
	return j
}

// groupState is what the fit knows of one group: the lamps under one sensor in
// one bay, with all sensors that watched any of them before.
type groupState struct {
	in      int // of the sensor that watches last
	sensors []*sensorState
	lamps   []*lampState
	kinds   []int // voltage columns
	classes []int // temperature columns
	q       int
	local   []int // fleet columns it touches
	factor  []float64
	border  []float64 // Lb^-1 [local | right side]
	schur   []float64 // what it adds to the fleet
	fit     []float64
	cov     []float64 // q x q
	covT    []float64 // q x local
	asOf    int
}

// hyper is the spreads, learnt from the fleet and leaning on the defaults.
type hyper struct {
	scale     []float64    // by class: slope now over default slope
	tail      []float64    // by class: how much wider than declared the slope may lie, see typeTail
	lamp      [][3]float64 // by class: spreads of S, Q (shares of the slope), E (ln) of lamps about their lot
	lot       [][3]float64 // of lots about their type
	power     []float64    // by class: where the bend is linearised
	rate      []float64    // by class: wander of the ageing rate, share of the slope
	inflate   []float64
	dirtBay   float64 // shares of the dirt that is there
	dirtLamp  float64
	wander    float64
	sensor    float64
	driftTail float64 // how much wider than declared the site's drift may lie, see typeTail
	interval  float64
}

type model struct {
	d       Defaults
	asOf    int
	classes []string
	law     []ClassDefaults
	kinds   []kind
	rooms   []string
	makes   []makeState // of a group of sites only
	lots    []lotState
	groups  []*groupState
	groupOf []*groupState // by index into Input.Groups
	lamps   []*lampState
	h       hyper

	// fleet columns
	nt                                                    int
	tClass, tMake, tLot, tKind, tTemp, tRoom, tTrend, tRf int
	t, ct                                                 []float64 // estimate, covariance
	opt                                                   Options
	in                                                    *Input

	wiped   map[int][]int     // by Input.Lamps: days of steps that may have been cleanings
	steps   map[int][]Offset  // by Input.Lamps: steps that nothing logged explains
	doubted map[recalKey]bool // as-found gains that the readings contradict
	found   *Found
	late    []Step            // shortly before relamps
	shaken  map[int][]int     // by Input.Groups: days of steps that its lamps share
	jumps   map[recalKey]jump // how the readings jumped at recalibrations
}

// recalKey is one recalibration of one group of the input.
type recalKey struct{ group, day int }

type kind struct {
	class  int
	gear   string
	supply Prior
}

type lotState struct {
	class  int
	make   int // -1: it leans on its type
	n      int
	slope  float64 // present slope, for the scale of its lamps' spreads
	column int     // the first of the pool, -1: it hangs at this site alone
}

// makeState is a model of fixtures that hangs at several sites of a group.
type makeState struct{ class, column int }

func newModel(in *Input, opt Options) *model {
	m := &model{d: in.defaults(), asOf: in.AsOf, opt: opt, in: in}
	m.index()
	if m.found = in.Found; m.found == nil {
		m.found = m.seek()
	}
	m.heed()
	for _, g := range m.groups {
		m.layout(g)
	}
	m.startHyper()
	return m
}

// index numbers types, gears, rooms and lots in an order that does not depend
// on maps.
func (m *model) index() {
	in := m.in
	classes, kinds, rooms := map[string]int{}, map[string]int{}, map[string]int{}
	for i := range in.Lamps {
		l := &in.Lamps[i]
		if l.StartDay > m.asOf {
			continue
		}
		classes[l.Class]++
		kinds[kindKey(l)]++
		rooms[l.Room]++
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
	makes := m.indexMakes(classes)
	index := m.indexLots(classes, makes)
	m.joinGroups()
	for i := range in.Lamps {
		l := &in.Lamps[i]
		if l.StartDay > m.asOf {
			continue
		}
		s := &lampState{in: i, class: classes[l.Class], kind: kinds[kindKey(l)], lot: -1, make: -1}
		if k, ok := index[lotKey(l)]; ok && l.Lot != "" {
			s.lot = k
		}
		if k, ok := makes[makeKey(l)]; ok {
			s.make = k
		}
		g := m.groupOf[l.groupOn(m.asOf)]
		s.bins = m.readIn(g, l)
		if len(s.bins) == 0 {
			continue
		}
		m.lamps = append(m.lamps, s)
		g.lamps = append(g.lamps, s)
		s.room = rooms[l.Room]
	}
	m.groups = slices.DeleteFunc(m.groups, func(g *groupState) bool { return len(g.lamps) == 0 })
	m.trimRelamps()
	m.tClass = 0
	m.tMake = 3 * len(m.classes)
	m.tLot = m.tMake + 3*len(m.makes)
	m.tKind = m.tLot + 3*len(m.lots)
	m.tTemp = m.tKind + len(m.kinds)
	m.tRoom = m.tTemp + len(m.classes)
	m.tTrend = m.tRoom + len(m.rooms)
	m.tRf = m.tTrend + len(m.rooms)
	m.nt = m.tRf + 1
}

// indexLots numbers the lots that get effects of their own, the greatest first, and
// those that a group of sites shares.
func (m *model) indexLots(classes, makes map[string]int) map[string]int {
	lots := lotsOf(m.in, m.asOf)
	names := make([]string, 0, len(lots))
	for n := range lots {
		names = append(names, n)
	}
	sort.Strings(names)
	sort.SliceStable(names, func(i, j int) bool { return lots[names[i]].n > lots[names[j]].n })
	index := map[string]int{}
	own := 0
	for _, n := range names {
		class, _ := splitKey(n)
		lot := lotState{class: classes[class], make: -1, n: lots[n].n, slope: m.law[classes[class]].Slope.Mean, column: -1}
		if k, ok := makes[class+"\x00"+lots[n].model]; ok {
			lot.make = k
		}
		if at, all, ok := m.opt.pool.lot(n, lots[n].model); ok {
			lot.column, lot.n = at, all
		} else if lot.n < 2 || own == maxLots || m.opt.noLots {
			continue
		} else {
			own++
		}
		index[n] = len(m.lots)
		m.lots = append(m.lots, lot)
	}
	return index
}

// indexMakes numbers the makes that a group of sites shares.
func (m *model) indexMakes(classes map[string]int) map[string]int {
	n := map[string]int{}
	for i := range m.in.Lamps {
		if l := &m.in.Lamps[i]; l.StartDay <= m.asOf && l.Make != "" {
			n[makeKey(l)]++
		}
	}
	index := map[string]int{}
	for _, name := range sortedKeys(n) {
		if at, ok := m.opt.pool.make(name); ok {
			class, _ := splitKey(name)
			index[name] = len(m.makes)
			m.makes = append(m.makes, makeState{classes[class], at})
		}
	}
	return index
}

// lotCount is how many lamps of a lot there are, and of which model; "" where they
// are of several.
type lotCount struct {
	n     int
	model string
}

// lotsOf counts the lots of an input.
func lotsOf(in *Input, asOf int) map[string]lotCount {
	out := map[string]lotCount{}
	for i := range in.Lamps {
		l := &in.Lamps[i]
		if l.StartDay > asOf || l.Lot == "" {
			continue
		}
		c, ok := out[lotKey(l)]
		if ok && c.model != l.Make {
			c.model = ""
		} else {
			c.model = l.Make
		}
		c.n++
		out[lotKey(l)] = c
	}
	return out
}

// usableBins gives the bins whose week was over as of a day: a night's
// partial week would otherwise be forgotten by a rebuild.
func usableBins(b []Bin, asOf int) []Bin {
	n := sort.Search(len(b), func(i int) bool { return b[i].Day+binDays/2 > asOf })
	return b[:n]
}

func kindKey(l *Lamp) string { return l.Class + "\x00" + l.Gear }
func lotKey(l *Lamp) string  { return l.Class + "\x00" + l.Lot }
func makeKey(l *Lamp) string { return l.Class + "\x00" + l.Make }

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

func (m *model) layLamp(g *groupState, l *lampState) {
	b := l.bins
	l.first, l.last = b[0].Hours, b[len(b)-1].Hours
	ys := make([]float64, len(b))
	lo, hi := b[0].Dim, b[0].Dim
	l.ages = make([]age, len(b))
	for k := range b {
		l.ages[k] = ageOf(b[k].Hours, m.law[l.class].Tau)
		ys[k] = b[k].LnOut
		lo, hi = min(lo, b[k].Dim), max(hi, b[k].Dim)
	}
	l.offset = robust.Sort(ys)
	l.hasDim = hi-lo > .005
	l.kn = placeKnots(l.first, l.last)
	m.segmentsOf(g, l)
	l.p = colU + len(l.kn.x) + len(l.segs)
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
		driftTail: 1, wander: m.d.Sensor.Wander, sensor: m.d.Sensor.Sensor, interval: m.d.Sensor.Interval}
	for k := 0; k < n; k++ {
		c := m.law[k]
		h.scale = append(h.scale, 1)
		h.tail = append(h.tail, 1)
		h.lamp = append(h.lamp, [3]float64{c.SlopeLamp, c.ShapeLamp, c.EarlyLamp})
		h.lot = append(h.lot, [3]float64{c.SlopeLot, c.ShapeLot, c.EarlyLot})
		h.power = append(h.power, c.Shape.Mean)
		h.rate = append(h.rate, c.Wander)
		h.inflate = append(h.inflate, 2)
	}
}
