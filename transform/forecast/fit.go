package forecast

import (
	"maps"
	"math"
	"slices"
)

// Options of a fit. The zero value is the method; others are for measuring
// what a part of it is worth.
type Options struct {
	Passes int // 0: 4
	noLots bool
	pool   *Pool // of which the site is one; nil for a site alone
}

// passes of the fit: weights, noise and spreads settle within them. On the
// simulated fleets the fourth takes .001 off the median errors and adds a
// point to what the intervals hold; a fifth changes neither.
const passes = 4

// Fit is a fitted fleet.
type Fit struct {
	m *model
	d Defaults
	// clean is the fit with the rooms that nobody ever cleaned taken for clean; nil
	// where there are none.
	clean *Fit
}

// Run fits the fleet as of in.AsOf, and again without dirt where nothing tells how much
// there is: what is then said of the lamps' types and lots is another, and the due hours
// with it.
func Run(in *Input, opt Options) (*Fit, error) {
	if err := in.Validate(); err != nil {
		return nil, err
	}
	f, err := fit(in, opt)
	if rooms := f.m.neverCleaned(); err == nil && len(rooms) > 0 {
		clean := *in
		clean.Clean, clean.Found = append(slices.Clone(in.Clean), rooms...), f.m.found
		f.clean, err = fit(&clean, opt)
	}
	if err != nil {
		return nil, err
	}
	return f, nil
}

func fit(in *Input, opt Options) (*Fit, error) {
	m := newModel(in, opt)
	n := opt.Passes
	if n == 0 {
		n = passes
	}
	if len(m.lamps) == 0 {
		return &Fit{m: m, d: m.d}, nil
	}
	for k := 0; k < n; k++ {
		if err := m.solve(k > 0, k == n-1); err != nil {
			return &Fit{m: m}, err
		}
		if k < n-1 {
			m.update()
		}
	}
	return &Fit{m: m, d: m.d}, nil
}

// update re-estimates noise and spreads from the last solution: EM steps with
// pseudo-observations of the declared spreads, so that few lamps change
// little.
func (m *model) update() {
	m.allResiduals()
	sums := make([]learnt, len(m.law))
	for k := range sums {
		sums[k] = declared(&m.law[k])
	}
	m.learn(sums)
	m.setSpreads(sums)
	m.moveExpansion()
	m.updateGroups()
}

// allResiduals updates the noise of every lamp.
func (m *model) allResiduals() {
	m.each(func(g *groupState, s *scratch) {
		weeks := make([]map[int]*common, len(g.sensors))
		for k := range weeks {
			weeks[k] = map[int]*common{}
		}
		for _, l := range g.lamps {
			s.rows = m.rows(g, l, s.rows[:0])
			s.res = m.residuals(g, l, s.rows, s.res)
			for k := range s.rows {
				of, day := weeks[s.rows[k].sensor], s.rows[k].day
				if of[day] == nil {
					of[day] = new(common)
				}
				of[day].add(min(max(s.res[k]/l.sigma, -3), 3))
			}
		}
		for k, u := range g.sensors {
			u.shared = sharedBy(weeks[k])
		}
	})
}

// common is the residuals of the lamps under one sensor in a week: their sum, that of
// their squares, and how many.
type common struct{ sum, square, n float64 }

func (c *common) add(e float64) { c.sum, c.square, c.n = c.sum+e, c.square+e*e, c.n+1 }

// pseudoWeeks lean towards residuals that lamps do not share.
const pseudoWeeks = 10

// sharedBy is by how much more the mean of the lamps under a sensor strays from week to week
// than that of as many by themselves. What they share, such as mist on its heads, is seen
// by each of them and is no evidence of each: 1 where they share nothing, their number
// where they share all.
func sharedBy(weeks map[int]*common) float64 {
	sum, all := float64(pseudoWeeks), float64(pseudoWeeks)
	for _, day := range slices.Sorted(maps.Keys(weeks)) {
		if c := weeks[day]; c.n >= 2 {
			sum, all = sum+c.sum*c.sum/c.n, all+c.square/c.n
		}
	}
	return max(sum/all, 1)
}

// Pseudo-observations behind the declared spreads.
const (
	pseudoLamps   = 10
	pseudoLots    = 6
	pseudoRates   = 40
	pseudoBays    = 8
	pseudoSensors = 12
	pseudoKnots   = 30
)

// learnt is what lamps and lots say of the spreads of their type: sums of squares and
// how many went into them. Sums of several sites add up.
type learnt [nLearnt]spread

// Its parts. The first two are of residuals: of means over groups of weeks, and of all.
const (
	ofBatches = iota
	ofWeeks
	ofLamps // slope, shape, early term
	_
	_
	ofLots
	_
	_
	ofRate
	nLearnt
)

// declared is the spreads of a lamp type by what is declared of them.
func declared(c *ClassDefaults) (s learnt) {
	for j, sd := range [3]float64{c.SlopeLamp, c.ShapeLamp, c.EarlyLamp} {
		s[ofLamps+j] = newSpread(sd, pseudoLamps)
	}
	for j, sd := range [3]float64{c.SlopeLot, c.ShapeLot, c.EarlyLot} {
		s[ofLots+j] = newSpread(sd, pseudoLots)
	}
	s[ofRate] = newSpread(c.Wander, pseudoRates)
	return s
}

// learn adds what the last solution says of the spreads of each lamp type. Lots of a
// pool are counted there.
func (m *model) learn(sums []learnt) {
	for _, l := range m.lamps {
		s := &sums[l.class]
		s[ofBatches].sum += l.batch
		s[ofBatches].n += float64(l.batches)
		s[ofWeeks].sum += l.square
		s[ofWeeks].n += float64(l.squares)
		m.addRate(l, &s[ofRate])
		if l.lot < 0 {
			continue
		}
		at, scale := m.meanColumn(l), [3]float64{m.lotSlope(l.lot), m.lotSlope(l.lot), 1}
		for j := range scale {
			a, b := colS+j, at+j
			v := l.cov[a*l.p+a] + m.ct[b*m.nt+b] - 2*l.lotCov[j]
			s[ofLamps+j].add((l.fit[a]-m.t[b])/scale[j], v/(scale[j]*scale[j]), m.h.lamp[l.class][j])
		}
	}
	about := func(class, at, on int, share float64) {
		scale := [3]float64{m.classSlope(class), m.classSlope(class), 1}
		for j := range scale {
			a, b, sd := at+j, on+j, share*scale[j]
			v := m.ct[a*m.nt+a] + m.ct[b*m.nt+b] - 2*m.ct[a*m.nt+b]
			sums[class][ofLots+j].add((m.t[a]-m.t[b])/sd, v/(sd*sd), m.h.lot[class][j])
		}
	}
	for k, x := range m.makes {
		if m.opt.pool == nil { // the pool itself
			about(x.class, m.tMake+3*k, m.tClass+3*x.class, math.Sqrt(makeShare))
		}
	}
	for i, lot := range m.lots {
		if lot.column < 0 {
			about(lot.class, m.tLot+3*i, m.lotMean(lot), aboutMake(lot.make))
		}
	}
}

// setSpreads takes the spreads of lamp types from the sums.
func (m *model) setSpreads(sums []learnt) {
	for k, c := range m.law {
		s := &sums[k]
		m.h.inflate[k] = 2
		if b, w := s[ofBatches], s[ofWeeks]; b.n >= 20 && w.sum > 0 {
			m.h.inflate[k] = min(max(1.3*(b.sum/b.n)/(w.sum/w.n), 1), 8)
		}
		for j := range 3 {
			m.h.lamp[k][j], m.h.lot[k][j] = s[ofLamps+j].sd(), s[ofLots+j].sd()
		}
		m.h.rate[k] = min(max(s[ofRate].sd(), .4*c.Wander), 2.5*c.Wander)
	}
}

// A type whose readings contradict the assumed fade is followed early: the
// assumption then weighs as one of Student's t with so many degrees of freedom would.
const typeTail, mostTail = 1.5, 4

// tailOf is by how much an assumption's spread widens that lies off by so much squared.
func tailOf(off2, sd float64) float64 { return min(widening(off2, sd, typeTail), mostTail) }

// offPace is how far a type's slope lies off the assumed one, squared, for one of so much
// variance. A fade is a pace, see pacePrior: half as fast is as far off as twice as fast, so
// that below the assumed slope both are counted in units of the slope found, and above it by
// its logarithm.
func offPace(slope, variance, assumed float64) float64 {
	times := slope / assumed
	if times > 1 {
		off := assumed * math.Log(times)
		return off*off + variance/(times*times)
	}
	unit := max(times, .3)
	off := slope - assumed
	return (off*off + variance) / (unit * unit)
}

// widening is the EM scale of a spread that counts as Student's t's of so many degrees of
// freedom, for a squared deviation expected of it; it never narrows.
func widening(square, sd, freedom float64) float64 {
	return math.Sqrt(max((freedom+square/(sd*sd))/(freedom+1), 1))
}

// moveExpansion sets the scales of spreads and the point where the bend is
// linearised to the present estimates, and restates the lamps' Q there.
func (m *model) moveExpansion() {
	off := m.t[m.tRf] - m.d.Sensor.Drift.Mean
	m.h.driftTail = tailOf(off*off+m.ct[m.tRf*m.nt+m.tRf], m.d.Sensor.Drift.SD)
	step := m.moveTypes()
	m.moveLots()
	for _, l := range m.lamps {
		l.slope = l.fit[colS]
		l.fit[colQ] -= step[l.class] * l.fit[colS]
	}
}

// moveTypes does so for the lamp types; it gives by how much their bends moved.
func (m *model) moveTypes() []float64 {
	step := make([]float64, len(m.law))
	for k, c := range m.law {
		at := m.tClass + 3*k
		m.h.tail[k] = tailOf(offPace(m.t[at], m.ct[at*m.nt+at], c.Slope.Mean), c.Slope.SD)
		m.h.scale[k] = min(max(m.t[at]/c.Slope.Mean, .3), 3)
		step[k] = min(max(m.t[at+1]/m.classSlope(k), -.3), .3)
		step[k] = min(max(m.h.power[k]+step[k], -.7), 1.5) - m.h.power[k]
		m.h.power[k] += step[k]
	}
	return step
}

// moveLots does so for the lots.
func (m *model) moveLots() {
	for i := range m.lots {
		lot := &m.lots[i]
		s := m.classSlope(lot.class)
		lot.slope = min(max(m.t[m.tLot+3*i], .3*s), 3*s)
	}
}

// addRate adds what one lamp's irregularity says about the wander of ageing
// rates: u'Pu over the number of knots, in units of its slope.
func (m *model) addRate(l *lampState, r *spread) {
	n := len(l.kn.x)
	scale, own := m.wanderScale(l)/m.h.rate[l.class], m.wanderScale(l)
	square, left := 0.0, 0.0
	for i := 0; i < n; i++ {
		for j := 0; j < n; j++ {
			square += l.prec[i*n+j] * l.fit[colU+i] * l.fit[colU+j]
			left += l.prec[i*n+j] * l.cov[(colU+i)*l.p+colU+j]
		}
	}
	r.sum += square / (scale * scale)
	r.n += max(float64(n)-left/(own*own), 0)
}

func (m *model) updateGroups() {
	for _, g := range m.groups {
		for _, u := range g.sensors {
			u.dirt = min(max(g.fit[u.colDirt], 0), .15)
			u.lnDays = min(max(u.lnDays+g.fit[u.colDays()], -1), 1)
			u.left = min(max(u.left+g.fit[u.colLeft()], .02-m.d.Dirt.LeftAll), .5)
			u.wiped = min(max(u.wiped+g.fit[u.colWiped()], 0), 1)
			g.fit[u.colDays()], g.fit[u.colLeft()], g.fit[u.colWiped()] = 0, 0, 0
		}
	}
	if m.d.Dirt.Amplitude.Mean <= 0 {
		return
	}
	bay := newSpread(m.d.Dirt.Bay, pseudoBays)
	lamp := newSpread(m.d.Dirt.Fixture, pseudoLamps)
	sensor := newSpread(m.d.Sensor.Sensor, pseudoSensors)
	interval := newSpread(m.d.Sensor.Interval, pseudoSensors)
	wander := newSpread(m.d.Sensor.Wander, pseudoKnots)
	for _, g := range m.groups {
		q, nl := g.q, len(g.local)
		rf := indexOf(g.local, m.tRf)
		lean := func(s *spread, c, f, local int, scale, sd float64) {
			v := g.cov[c*q+c] + m.ct[f*m.nt+f] - 2*g.covT[c*nl+local]
			s.add((g.fit[c]-m.t[f])/scale, v/(scale*scale), sd)
		}
		for _, u := range g.sensors {
			room := m.tRoom + u.room
			lean(&bay, u.colDirt, room, indexOf(g.local, room), u.roomDirt, m.h.dirtBay)
			lean(&sensor, u.colDrift, m.tRf, rf, 1, m.h.sensor)
			g.addIntervals(u, &interval, m.h.interval)
			m.addWander(g, u, &wander)
		}
		for _, l := range g.lamps {
			c := l.bay.colDirt
			v := l.cov[colDirt*l.p+colDirt] + g.cov[c*q+c] - 2*l.dirtCov
			lamp.add((l.fit[colDirt]-g.fit[c])/l.bay.bayDirt, v/(l.bay.bayDirt*l.bay.bayDirt), m.h.dirtLamp)
		}
	}
	for _, g := range m.groups {
		for _, u := range g.sensors {
			u.roomDirt = min(max(m.t[m.tRoom+u.room], leastDirt), mostDirt)
			u.bayDirt = min(max(g.fit[u.colDirt], leastDirt), mostDirt)
		}
	}
	m.h.dirtBay, m.h.dirtLamp, m.h.sensor, m.h.interval, m.h.wander = bay.sd(), lamp.sd(), sensor.sd(), interval.sd(),
		wander.sd()
}

// addIntervals adds what a sensor says of how its rate differs from one
// recalibration to the next.
func (g *groupState) addIntervals(u *sensorState, s *spread, sd float64) {
	q := g.q
	for j := range u.from {
		c := u.colRate + j
		s.add(g.fit[c]-g.fit[u.colDrift], g.cov[c*q+c]+g.cov[u.colDrift*q+u.colDrift]-2*g.cov[c*q+u.colDrift], sd)
	}
}

// addWander adds what a sensor says of the wander's spread.
func (m *model) addWander(g *groupState, u *sensorState, s *spread) {
	q := g.q
	for k := 0; k < u.nW; k++ {
		c := u.colW + k
		on, off := m.wanderPrec(u, k)
		square, left := on*g.fit[c]*g.fit[c], on*g.cov[c*q+c]
		if k > 0 {
			square += 2 * off * g.fit[c] * g.fit[c-1]
			left += 2 * off * g.cov[c*q+c-1]
		}
		s.sum += square
		s.n += 1 - left/(m.h.wander*m.h.wander)
	}
}

// Between these the dirt found scales the spreads of dirt, ln.
const leastDirt, mostDirt = .01, .12

// spread is the running EM estimate of one standard deviation.
type spread struct{ sum, n float64 }

func newSpread(sd float64, pseudo float64) spread { return spread{pseudo * sd * sd, pseudo} }

// add counts a difference that was fitted under a spread, with its variance. It tells of
// the spread as far as the readings settled it: counted so, a few steps come to where the
// plain EM step goes (a whole count, with the variance in the sum), which where readings
// settle little takes many.
func (s *spread) add(diff, variance, sd float64) {
	s.sum += diff * diff
	s.n += max(1-variance/(sd*sd), 0)
}

func (s *spread) sd() float64 { return math.Sqrt(s.sum / s.n) }

// Defaults gives the table the fit was made with.
func (f *Fit) Defaults() Defaults { return f.d }
