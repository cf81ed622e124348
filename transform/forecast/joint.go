package forecast

import (
	"math"
)

// Joint asks a fit what readings that nobody has made yet would leave of its
// answers. In a linear Gaussian model that hangs on what would be read of what, not
// on the values: the covariance is brought down by each reading's row, with the
// factors that the fit left. Nothing is fitted again.
//
// What the fit learns beside its unknowns (noise, spreads of lots and sensors, the
// weights of odd weeks) is held as it is; so are the centres, which no reading is
// expected to move either way.
type Joint struct {
	m     *model
	at    map[int]place // by Input.Lamps
	drift linear        // the site's mean drift of sensors
	// perDrift turns a covariance with the site's drift into the change for 1 %/year.
	perDrift float64
}

// GroupOn gives the group that watches the lamp on a day.
func (l *Lamp) GroupOn(day int) int { return l.groupOn(day) }

// place is where the fit keeps a lamp.
type place struct {
	g *groupState
	l *lampState
}

// Joint opens the fit; it is to be read only, from any number of goroutines.
func (f *Fit) Joint() *Joint {
	j := &Joint{m: f.m, at: map[int]place{}, perDrift: driftStep / math.Pow(f.m.driftSD(), 2)}
	for _, g := range f.m.groups {
		for _, l := range g.lamps {
			j.at[l.in] = place{g, l}
		}
	}
	if len(f.m.groups) > 0 {
		g := f.m.groups[0] // every group touches the site's drift
		j.drift = linear{g: g, y: make([]float64, g.q), rt: make([]float64, len(g.local))}
		j.drift.rt[indexOf(g.local, f.m.tRf)] = 1
		j.drift.ut = f.m.fleetOf(j.drift)
	}
	return j
}

// linear is a linear combination of the unknowns, as the eliminations leave it: two
// of them are correlated by what is left in the lamp, in the group and in the fleet.
type linear struct {
	l  *lampState // nil: none of a lamp's unknowns
	f  []float64  // L^-1 of the lamp's entries
	g  *groupState
	y  []float64 // L^-1 of the group's entries with what the lamp left
	rt []float64 // what both left of the fleet's, by g.local
	ut []float64 // covariance of the fleet's unknowns with it; nil until asked for
}

// linearOf eliminates; zl and zb are the entries in the lamp's and the group's
// columns, zl nil without a lamp. Both are overwritten.
func (m *model) linearOf(g *groupState, l *lampState, zl, zb []float64) linear {
	q, nl := g.q, len(g.local)
	out := linear{l: l, g: g, rt: make([]float64, nl)}
	if l != nil {
		forward(l.factor, l.p, zl, 1)
		out.f = zl
		bw := q + 4
		first := indexOf(g.local, m.meanColumn(l))
		for i, f := range zl {
			if f == 0 {
				continue
			}
			r := l.border[i*bw : i*bw+bw]
			for a := range zb {
				zb[a] -= f * r[a]
			}
			for c := 0; c < 3; c++ {
				out.rt[first+c] -= f * r[q+c]
			}
		}
	}
	forward(g.factor, q, zb, 1)
	out.y = zb
	for i, y := range zb {
		if y == 0 {
			continue
		}
		for k, x := range g.border[i*(nl+1) : i*(nl+1)+nl] {
			out.rt[k] -= x * y
		}
	}
	return out
}

// fleetOf is the covariance of the fleet's unknowns with a linear combination.
func (m *model) fleetOf(a linear) []float64 {
	t := make([]float64, m.nt)
	for k, c := range a.g.local {
		r := a.rt[k]
		if r == 0 {
			continue
		}
		for i, x := range m.ct[c*m.nt : c*m.nt+m.nt] {
			t[i] += x * r
		}
	}
	return t
}

// cov is the posterior covariance of two; b's fleet part must have been asked for.
func (a *linear) cov(b *linear) float64 {
	s := 0.0
	if a.l != nil && a.l == b.l {
		s += dot(a.f, b.f)
	}
	if a.g == b.g {
		s += dot(a.y, b.y)
	}
	return s + a.fleet(b.ut)
}

// fleet is the part of a covariance that goes through the fleet's unknowns.
func (a *linear) fleet(ut []float64) float64 {
	s := 0.0
	rt := a.rt[:len(a.g.local)]
	for k, c := range a.g.local {
		s += rt[k] * ut[c]
	}
	return s
}

// Reading is one that could be made: a linear combination of what the model holds,
// read with some noise.
type Reading struct {
	linear
	SD float64 // of its noise, ln
}

func (j *Joint) reading(g *groupState, l *lampState, zl, zb []float64, sd float64) Reading {
	r := Reading{j.m.linearOf(g, l, zl, zb), sd}
	r.ut = j.m.fleetOf(r.linear)
	return r
}

// Gain is a reading, at the end of the fit's day, of the gain of one Input.Group's
// sensor: a recalibration with its as-found gain (sd 0: as declared for those), or a
// reference meter held beside it. ok is false where the group watches nothing.
func (j *Joint) Gain(group int, sd float64) (r Reading, ok bool) {
	g, u := j.sensor(group)
	if u == nil {
		return r, false
	}
	if sd == 0 {
		sd = j.m.d.Sensor.AsFound
	}
	zb := make([]float64, g.q)
	u.gainRow(j.m.asOf, zb, 1)
	return j.reading(g, nil, nil, zb, sd), true
}

func (j *Joint) sensor(group int) (*groupState, *sensorState) {
	if group < 0 || group >= len(j.m.groupOf) || j.m.groupOf[group] == nil {
		return nil, nil
	}
	g := j.m.groupOf[group]
	k := g.sensor(group)
	if k < 0 {
		return nil, nil
	}
	return g, g.sensors[k]
}

// Level is a reading of a lamp's own level, dirt included as lampReference has it,
// against what it gave when new: by a laboratory after its removal, or a reference
// meter with a reading from the beginning. sd 0: as of a reference reading.
func (j *Joint) Level(lamp int, sd float64) (r Reading, ok bool) {
	at, ok := j.at[lamp]
	if !ok {
		return r, false
	}
	h, ok := hoursOn(at.l.bins, j.m.asOf)
	if !ok {
		return r, false
	}
	if sd == 0 {
		sd = refSD(Reference{})
	}
	z := j.m.levelRow(at.l, h, j.m.asOf)
	return j.reading(at.g, at.l, z, make([]float64, at.g.q), sd), true
}

// settledWeeks is over how many weeks before a cleaning a lamp's course is straight
// enough for all of them to tell where it stood: a quarter of a year (a choice).
const settledWeeks = 13

// Cleaned is what some weeks of readings say of dirt after fixtures under one sensor
// were cleaned at the end of the fit's day, and others, the control, were not: how far
// each cleaned one rose. Their noises share the variance that is given.
func (j *Joint) Cleaned(lamps []int, control, weeks int) (rows []Reading, shared float64) {
	own := 0.0
	for _, i := range lamps {
		p, ok := j.at[i]
		if !ok {
			continue
		}
		in, u := &j.m.in.Lamps[i], p.l.bay
		soiled := j.m.soil(p.l)
		wiped := *in
		wiped.Cleanings = append(wiped.Cleanings[:len(wiped.Cleanings):len(wiped.Cleanings)], Clean{Day: j.m.asOf,
			Part: CleanAll})
		after := newSoil(&wiped, j.m.soilOf(u), j.m.asOf).perhaps(j.m.wiped[i], u.wiped)
		b, a := soiled.on(j.m.asOf), after.on(j.m.asOf)
		zl, zb := make([]float64, p.l.p), make([]float64, p.g.q)
		zl[colDirt] = b.level - a.level
		zb[u.colDays()] = u.dirt * (b.byDays - a.byDays)
		zb[u.colLeft()] = u.dirt * (b.byLeft - a.byLeft)
		zb[u.colWiped()] = u.dirt * (b.byWiped - a.byWiped)
		before := float64(min(len(p.l.bins), settledWeeks))
		v := (1/float64(weeks) + 1/before) / j.m.weight(u, p.l, binDays)
		own += v / float64(len(lamps))
		rows = append(rows, j.reading(p.g, p.l, zl, zb, math.Sqrt(v)))
	}
	if len(rows) == 0 {
		return nil, 0
	}
	// The bay's wander moves all alike; those left as they were tell how far.
	w := j.m.h.wander
	moves := 2 * w * w * -math.Expm1(-float64((weeks+1)*binDays)/j.m.d.Sensor.WanderMem)
	return rows, 1 / (1/moves + float64(control)/own)
}

// Swing is what a year of a voltage logger tells of the swing that it brought to the
// light of lamps under one sensor: the part by sine and by cosine. ok is false where
// no lamp's weeks went without.
func (j *Joint) Swing(group int) (rows []Reading, ok bool) {
	g, u := j.sensor(group)
	if u == nil {
		return nil, false
	}
	blind := false
	for _, l := range g.lamps {
		n := len(l.bins)
		blind = blind || j.m.swings(l, &l.bins[n-1])
	}
	if !blind {
		return nil, false
	}
	for k := range 2 {
		zb := make([]float64, g.q)
		zb[u.colSeason(true)+k] = 1
		rows = append(rows, j.reading(g, nil, nil, zb, u.seasonSD))
	}
	return rows, true
}

// Sight is a lamp's own ln output at some run-hours, as the joint posterior knows it.
type Sight struct {
	linear
	Lamp  int     // index into Input.Lamps
	Var   float64 // of it, as far as readings can bring it down
	Drift float64 // change of it, were the site's mean drift 1 %/year higher
}

// Sight looks at a lamp's output at h run-hours.
func (j *Joint) Sight(p *Posterior, h float64) (s Sight, ok bool) {
	at, ok := j.at[p.Lamp]
	if !ok {
		return s, false
	}
	z := make([]float64, at.l.p)
	if h < p.Last {
		j.m.outputRow(at.l, h, z)
	} else {
		g1, g2, g3 := basis(h, p.Tau, p.Power)
		e := math.Exp(-(h - p.Last) / (1e4 * p.Memory))
		far := farRows(at.l, p.Memory)
		for k, f := range [5]float64{-g1, -g2, g3, -1, e} {
			for i := range z {
				z[i] += f * far[k*at.l.p+i]
			}
		}
	}
	s = Sight{linear: j.m.linearOf(at.g, at.l, z, make([]float64, at.g.q)), Lamp: p.Lamp}
	whole := s.linear
	whole.ut = j.m.fleetOf(s.linear)
	s.Var = s.cov(&whole)
	s.Drift = s.cov(&j.drift) * j.perDrift
	return s, true
}
