package forecast

import (
	"fmt"
	"maps"
	"slices"
	"sort"
)

// Pool fits the lamps of several sites as one: lamp, bay, room, site, group. What only
// one site knows (its rooms, its sensors' drift, its coefficients, lots that hang
// nowhere else) is eliminated there as lamps and bays are; lamp types, makes and lots
// that hang at several sites stay, and are solved for once. A pass of the fit:
//
//	site   Reduce  its equations -> what they say of the group's columns, a Sum
//	group  Solve   the sites' Sums added up, in any order
//	site   Follow  the group's answer put back -> what its lamps say of spreads, a Sum
//	group  Update  the same of those
//
// and after the last Solve Fit gives the site's fit. Nothing of a site is held between
// the calls but a SiteState, small numbers for each lamp; the sites' inputs are read
// again each time. A pool of one site gives what the site alone gives.
type Pool struct {
	m     *model // the group's columns alone: no lamp, no bay, no room
	types map[string]int
	makes map[string]among
	lots  map[string]among
	most  []float64        // by type: most hours seen of it,
	read  []bool           // and whether any hangs where supply swings it not, or is read
	lamps map[string]among // by type, those at one site too
}

// among is what several sites have: how many lamps, at how many sites, and which
// number it has in the pool.
type among struct{ n, sites, at int }

// Census counts the lamps of a site by type, make and lot, and names the rooms in
// which nobody ever cleaned. Found is the site's own: its group has no need of it.
type Census struct {
	Types, Makes, Lots map[string]int
	NeverCleaned       []string
	Found              *Found
}

// CensusOf counts an input, as of its day.
func CensusOf(in *Input) (Census, error) {
	if err := in.Validate(); err != nil {
		return Census{}, err
	}
	c := count(in)
	m := &model{d: in.defaults(), asOf: in.AsOf, in: in}
	m.index()
	c.NeverCleaned, c.Found = m.neverCleaned(), m.seek()
	return c, nil
}

// count counts types, makes and lots. A lot whose lamps hang in several makes is the
// site's own.
func count(in *Input) Census {
	c := Census{Types: map[string]int{}, Makes: map[string]int{}, Lots: map[string]int{}}
	for i := range in.Lamps {
		l := &in.Lamps[i]
		if l.StartDay > in.AsOf {
			continue
		}
		c.Types[l.Class]++
		if l.Make != "" {
			c.Makes[makeKey(l)]++
		}
	}
	for key, lot := range lotsOf(in, in.AsOf) {
		if lot.model != "" {
			c.Lots[key+"\x00"+lot.model] = lot.n
		}
	}
	return c
}

// NewPool begins the fit of a group. d is what is assumed of lamp types; a lot is the
// same at several sites where type, make and name are.
func NewPool(d Defaults, sites []Census) *Pool {
	p := &Pool{types: map[string]int{}, lamps: counted(sites, func(c Census) map[string]int { return c.Types })}
	m := &model{d: d}
	m.classes = slices.Sorted(maps.Keys(p.lamps))
	for k, c := range m.classes {
		p.types[c] = k
		m.law = append(m.law, d.Classes[c])
	}
	p.most, p.read = make([]float64, len(m.classes)), make([]bool, len(m.classes))
	p.makes = several(counted(sites, func(c Census) map[string]int { return c.Makes }))
	p.lots = several(counted(sites, func(c Census) map[string]int { return c.Lots }))
	m.makes, m.lots = make([]makeState, len(p.makes)), make([]lotState, len(p.lots))
	m.tMake = 3 * len(m.classes)
	m.tLot = m.tMake + 3*len(m.makes)
	m.nt = m.tLot + 3*len(m.lots)
	for key, x := range p.makes {
		class, _ := splitKey(key)
		m.makes[x.at] = makeState{p.types[class], m.tMake + 3*x.at}
	}
	for key, x := range p.lots {
		class, rest := splitKey(key)
		_, model := splitKey(rest)
		lot := lotState{class: p.types[class], make: -1, n: x.n, slope: d.Classes[class].Slope.Mean, column: -1}
		if of, ok := p.makes[class+"\x00"+model]; ok {
			lot.make = of.at
		}
		m.lots[x.at] = lot
	}
	m.startHyper()
	p.m = m
	return p
}

// counted adds up one count of all sites.
func counted(sites []Census, of func(Census) map[string]int) map[string]among {
	out := map[string]among{}
	for _, c := range sites {
		for key, n := range of(c) {
			s := out[key]
			out[key] = among{n: s.n + n, sites: s.sites + 1}
		}
	}
	return out
}

// several keeps and numbers what hangs at more than one site, the most first; maxLots
// of them, which keeps the group's matrix small.
func several(all map[string]among) map[string]among {
	keys := slices.Sorted(maps.Keys(all))
	keys = slices.DeleteFunc(keys, func(k string) bool { return all[k].sites < 2 })
	sort.SliceStable(keys, func(i, j int) bool { return all[keys[i]].n > all[keys[j]].n })
	out := map[string]among{}
	for at, k := range keys[:min(len(keys), maxLots)] {
		out[k] = among{all[k].n, all[k].sites, at}
	}
	return out
}

// make gives the first column of a make that several sites have; lot that of a lot,
// and how many lamps of it there are. A site alone has no pool.
func (p *Pool) make(key string) (column int, ok bool) {
	if p == nil {
		return 0, false
	}
	x, ok := p.makes[key]
	return p.m.tMake + 3*x.at, ok
}

func (p *Pool) lot(key, model string) (column, lamps int, ok bool) {
	if p == nil || model == "" {
		return 0, 0, false
	}
	x, ok := p.lots[key+"\x00"+model]
	return p.m.tLot + 3*x.at, x.n, ok
}

// SiteState is what a site's fit keeps from one pass to the next. It is plain data.
type SiteState struct {
	Lamps  []LampState
	Bays   []BayState
	Lots   []float64  // their present slopes
	Spread [6]float64 // of dirt, wander and drift
	Seen   Seen
}

// LampState is what it keeps of a lamp, BayState of the lamps under some sensors.
type LampState struct {
	Sigma, Slope float64
	Fit          []float64
}

// BayState: see LampState.
type BayState struct {
	Fit     []float64
	Sensors [][7]float64
}

// site lays a site out as it stood after its last pass; nil before the first.
func (p *Pool) site(in *Input, s *SiteState) (*model, error) {
	if err := in.Validate(); err != nil {
		return nil, err
	}
	cut := *in
	cut.Defaults = p.adopted(in.defaults())
	m := newModel(&cut, Options{pool: p})
	for k, c := range m.classes {
		at, ok := p.types[c]
		if !ok {
			return nil, fmt.Errorf("lamp type %s was not counted: take the census again", c)
		}
		h, g := &m.h, &p.m.h
		h.scale[k], h.tail[k], h.power[k] = g.scale[at], g.tail[at], g.power[at]
		h.rate[k], h.inflate[k] = g.rate[at], g.inflate[at]
		h.lamp[k], h.lot[k] = g.lamp[at], g.lot[at]
	}
	if s == nil {
		return m, nil
	}
	return m, m.restore(s)
}

// adopted is a site's table with what the group assumes of lamp types; how light
// follows the air is the site's own.
func (p *Pool) adopted(d Defaults) Defaults {
	d.Classes = maps.Clone(d.Classes)
	for k, name := range p.m.classes {
		if own, ok := d.Classes[name]; ok {
			c := p.m.law[k]
			c.Ambient = own.Ambient
			d.Classes[name] = c
		}
	}
	return d
}

func (m *model) state() *SiteState {
	h := &m.h
	s := &SiteState{Seen: Seen{map[string]float64{}, map[string]bool{}},
		Spread: [6]float64{h.dirtBay, h.dirtLamp, h.wander, h.sensor, h.interval, h.driftTail}}
	for _, l := range m.lamps {
		s.Lamps = append(s.Lamps, LampState{l.sigma, l.slope, l.fit})
		name := m.classes[l.class]
		s.Seen.Most[name] = max(s.Seen.Most[name], l.last)
		s.Seen.Read[name] = s.Seen.Read[name] || !m.swings(l, &l.bins[len(l.bins)-1])
	}
	for _, g := range m.groups {
		b := BayState{Fit: g.fit}
		for _, u := range g.sensors {
			b.Sensors = append(b.Sensors, [7]float64{u.dirt, u.roomDirt, u.bayDirt, u.lnDays, u.left, u.wiped, u.shared})
		}
		s.Bays = append(s.Bays, b)
	}
	for _, lot := range m.lots {
		s.Lots = append(s.Lots, lot.slope)
	}
	return s
}

func (m *model) restore(s *SiteState) error {
	if len(s.Lamps) != len(m.lamps) || len(s.Bays) != len(m.groups) || len(s.Lots) != len(m.lots) {
		return fmt.Errorf("the site is not as it was when the fit began: %d lamps, then %d; begin again",
			len(s.Lamps), len(m.lamps))
	}
	h := &m.h
	for k, to := range []*float64{&h.dirtBay, &h.dirtLamp, &h.wander, &h.sensor, &h.interval, &h.driftTail} {
		*to = s.Spread[k]
	}
	for k, l := range m.lamps {
		l.sigma, l.slope = s.Lamps[k].Sigma, s.Lamps[k].Slope
		copy(l.fit, s.Lamps[k].Fit)
	}
	for k, g := range m.groups {
		copy(g.fit, s.Bays[k].Fit)
		for i, u := range g.sensors {
			x := s.Bays[k].Sensors[i]
			u.dirt, u.roomDirt, u.bayDirt, u.lnDays, u.left, u.wiped, u.shared = x[0], x[1], x[2], x[3], x[4], x[5], x[6]
		}
	}
	for i := range m.lots {
		m.lots[i].slope = s.Lots[i]
	}
	return nil
}

// Reduce gives what a site says of the group's columns, nil where none of its lamps
// has a week yet. s is nil on the first pass.
func (p *Pool) Reduce(in *Input, s *SiteState) (Sum, error) {
	m, err := p.site(in, s)
	if err != nil || len(m.lamps) == 0 {
		return nil, err
	}
	f, err := m.reduce(s != nil)
	if err != nil {
		return nil, err
	}
	n, ns := p.m.nt, len(f.shared)
	out := make(Sum, n*(n+1)/2+n)
	for i, ci := range f.shared {
		a := f.column[ci]
		for j, cj := range f.shared[:i+1] {
			b := f.column[cj]
			if err := out.put(max(a, b)*(max(a, b)+1)/2+min(a, b), f.schur[i*(ns+1)+j]); err != nil {
				return nil, err
			}
		}
		if err := out.put(n*(n+1)/2+a, f.schur[ns*(ns+1)+i]); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func (s Sum) put(at int, v float64) error {
	x, ok := fixedOf(v)
	if !ok {
		return fmt.Errorf("%g is out of all proportion: look for readings or spreads that are", v)
	}
	s[at] = x
	return nil
}

// Solve takes what all sites said and solves for the group's columns.
func (p *Pool) Solve(s Sum) error {
	m := p.m
	n := m.nt
	a, r := make([]float64, n*n), make([]float64, n)
	m.typePriors(a, r)
	m.lotPriors(a)
	if len(s) > 0 {
		for i := range n {
			for j := 0; j <= i; j++ {
				a[i*n+j] += s[i*(i+1)/2+j].float()
			}
			r[i] += s[n*(n+1)/2+i].float()
		}
	}
	return m.solved(a, r)
}

// Follow puts the group's answer back into a site. It gives what the site keeps for
// the next pass, and what its lamps say of the spreads.
func (p *Pool) Follow(in *Input, s *SiteState) (*SiteState, Sum, error) {
	m, err := p.put(in, s, false)
	if err != nil || len(m.lamps) == 0 {
		return nil, nil, err
	}
	m.allResiduals()
	sums := make([]learnt, len(m.law))
	m.learn(sums)
	m.moveExpansion()
	m.updateGroups()
	out := make(Sum, 2*nLearnt*len(p.m.law))
	for k, c := range m.classes {
		for i, x := range sums[k] {
			at := 2 * (nLearnt*p.types[c] + i)
			if err := out.put(at, x.sum); err != nil {
				return nil, nil, err
			}
			if err := out.put(at+1, x.n); err != nil {
				return nil, nil, err
			}
		}
	}
	return m.state(), out, nil
}

// Update takes what all sites said of the spreads.
func (p *Pool) Update(s Sum) {
	m := p.m
	sums := make([]learnt, len(m.law))
	for k := range sums {
		sums[k] = declared(&m.law[k])
		for i := range sums[k] {
			if len(s) > 0 {
				at := 2 * (nLearnt*k + i)
				sums[k][i].sum += s[at].float()
				sums[k][i].n += s[at+1].float()
			}
		}
	}
	m.learn(sums)
	m.setSpreads(sums)
	m.moveTypes()
	m.moveLots()
}

// See keeps what of the sites' states speaks of all.
func (p *Pool) See(s Seen) {
	for c, h := range s.Most {
		k := p.types[c]
		p.most[k] = max(p.most[k], h)
		p.read[k] = p.read[k] || s.Read[c]
	}
}

// Fit is the site's fit after the last Solve; s is nil where it had no week.
func (p *Pool) Fit(in *Input, s *SiteState) (*Fit, error) {
	m, err := p.put(in, s, true)
	if err != nil {
		return nil, err
	}
	return &Fit{m: m, d: m.d}, nil
}

// put solves a site with the group's columns as the pool has them.
func (p *Pool) put(in *Input, s *SiteState, last bool) (*model, error) {
	m, err := p.site(in, s)
	if err != nil || len(m.lamps) == 0 {
		return m, err
	}
	f, err := m.reduce(s != nil)
	if err != nil {
		return nil, err
	}
	m.follow(f, p.m)
	m.each(func(g *groupState, s *scratch) { m.substitute(g, s, last) })
	return m, nil
}

// Named is a lamp type, or a make of it: how many lamps there are, at how many sites.
type Named struct {
	Type, Make   string // Make "": all of the type
	Lamps, Sites int
}

// Named lists the types of the pool and the makes that hang at several sites, by name.
func (p *Pool) Named() (types, makes []Named) {
	for _, c := range p.m.classes {
		types = append(types, Named{Type: c, Lamps: p.lamps[c].n, Sites: p.lamps[c].sites})
	}
	for _, key := range slices.Sorted(maps.Keys(p.makes)) {
		class, model := splitKey(key)
		makes = append(makes, Named{Type: class, Make: model, Lamps: p.makes[key].n, Sites: p.makes[key].sites})
	}
	return types, makes
}
