package forecast

// How much an answer leans on the assumed drift of its sensor: the equations
// are solved again with the assumption moved by 1 % a year. Only right sides
// change, so the factors serve.

// driftStep is 1 %/year in ln gain per year.
const driftStep = .01

// shifted is the change of a group's estimate and of the fleet's.
type shifted struct {
	b []float64 // group columns
	t []float64 // fleet columns
}

// siteShift moves the mean drift of all sensors of the site. It gives the
// change by Group index.
func (m *model) siteShift() map[int]shifted {
	p := 1 / (m.driftSD() * m.driftSD())
	t := make([]float64, m.nt)
	for c := range t {
		t[c] = m.ct[c*m.nt+m.tRf] * p * driftStep
	}
	out := make(map[int]shifted, len(m.groups))
	for _, g := range m.groups {
		out[g.in] = shifted{b: g.follow(t, nil), t: t}
	}
	return out
}

// ownShift moves one sensor's drift against the site's mean.
func (m *model) ownShift(g *groupState, u *sensorState) shifted {
	p := driftStep / (m.h.sensor * m.h.sensor)
	// right side +p at the sensor's drift, -p at the site's
	rb := make([]float64, g.q)
	rb[u.colDrift] = p
	forward(g.factor, g.q, rb, 1)
	nl := len(g.local)
	rt := make([]float64, nl)
	rt[indexOf(g.local, m.tRf)] = -p
	for i := 0; i < g.q; i++ {
		for k := range rt {
			rt[k] -= g.border[i*(nl+1)+k] * rb[i]
		}
	}
	t := make([]float64, m.nt)
	for _, c := range g.local {
		for k, cj := range g.local {
			t[c] += m.ct[c*m.nt+cj] * rt[k]
		}
	}
	return shifted{b: g.follow(t, rb), t: t}
}

// goesWith is the change that goes with each unit by which a column of the fleet, such as
// a room's dirt, is more than the fit has it.
func (m *model) goesWith(g *groupState, c int) shifted {
	t := make([]float64, m.nt)
	for k := range t {
		t[k] = m.ct[k*m.nt+c] / m.ct[c*m.nt+c]
	}
	return shifted{b: g.follow(t, nil), t: t}
}

// follow gives the group's change that goes with the fleet's change t, where
// rb (forward-solved, or nil) is the change of its own right side.
func (g *groupState) follow(t, rb []float64) []float64 {
	nl := len(g.local)
	b := make([]float64, g.q)
	for i := range b {
		if rb != nil {
			b[i] = rb[i]
		}
		for k, c := range g.local {
			b[i] -= g.border[i*(nl+1)+k] * t[c]
		}
	}
	backward(g.factor, g.q, b, 1)
	return b
}

// shiftOf gives the change of a lamp's five numbers and of its tabulated past.
func (m *model) shiftOf(g *groupState, l *lampState, p *Posterior, s shifted) (out [5]float64, past []float64) {
	n, bw := l.p, g.q+4
	d := make([]float64, n)
	at := m.meanColumn(l)
	for i := range d {
		r := l.k[i*bw : i*bw+bw]
		for a, b := range s.b {
			d[i] -= r[a] * b
		}
		for c := 0; c < 3; c++ {
			d[i] -= r[g.q+c] * s.t[at+c]
		}
	}
	out[0], out[1], out[2] = d[colS], d[colQ], d[colE]
	nk := len(l.kn.x)
	cv, vv := knotWeights(l.kn, p.Memory)
	u := matVec(l.prec, d[colU:], nk)
	out[3], out[4] = -dot(cv, u), -dot(vv, u)
	z := make([]float64, n)
	for _, q := range p.Past {
		m.outputRow(l, q.Hours, z)
		past = append(past, dot(z, d))
	}
	return out, past
}
