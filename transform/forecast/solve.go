package forecast

import (
	"fmt"
	"runtime"
	"sync"
	"sync/atomic"
)

// scratch is one worker's memory.
type scratch struct {
	rows []row
	res  []float64
	sb   []float64
	rl   []float64
	ab   []float64
	rb   []float64
	tmp  []float64
	ctc  []float64
	k    []float64
	v    []float64
	d    []float64
	e    []float64
}

func grow(s []float64, n int) []float64 {
	if cap(s) < n {
		return make([]float64, n, n+n/4)
	}
	s = s[:n]
	for i := range s {
		s[i] = 0
	}
	return s
}

// each runs f for every group. Which worker takes a group does not matter:
// f writes only to its group, and sums over groups are made afterwards in
// order.
func (m *model) each(f func(*groupState, *scratch)) {
	pool := sync.Pool{New: func() any { return new(scratch) }}
	inParallel(len(m.groups), func(k int) {
		s := pool.Get().(*scratch)
		f(m.groups[k], s)
		pool.Put(s)
	})
}

// inParallel calls f for 0 to n-1, on all cores; f writes only what is its own.
func inParallel(n int, f func(k int)) {
	workers := min(runtime.GOMAXPROCS(0), n)
	var next atomic.Int64
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			for k := int(next.Add(1)) - 1; k < n; k = int(next.Add(1)) - 1 {
				f(k)
			}
		})
	}
	wg.Wait()
}

// solve makes one pass: assemble, eliminate lamps and groups, solve the
// fleet, substitute back. With last the lamps' covariances are kept.
func (m *model) solve(robust, last bool) error {
	if err := m.eliminateAll(robust); err != nil {
		return err
	}
	if err := m.solveFleet(); err != nil {
		return err
	}
	m.each(func(g *groupState, s *scratch) { m.substitute(g, s, last) })
	return nil
}

// eliminateAll takes lamps and groups out of the equations.
func (m *model) eliminateAll(robust bool) error {
	var bad atomic.Int64
	m.each(func(g *groupState, s *scratch) {
		if !m.eliminate(g, s, robust) {
			bad.Store(int64(g.in) + 1)
		}
	})
	if k := bad.Load(); k > 0 {
		return fmt.Errorf("group %s: the normal matrix is not positive definite: look for readings or spreads out of "+
			"all proportion", m.in.Groups[k-1].ID)
	}
	return nil
}

// eliminate assembles a group and takes its lamps, then the group itself, out
// of the equations, leaving what it says about the fleet in g.schur.
func (m *model) eliminate(g *groupState, s *scratch, robust bool) bool {
	q := g.q
	w := q + len(g.local) + 1 // group | fleet | right side
	s.ab, s.rb = grow(s.ab, q*q), grow(s.rb, q)
	s.tmp = grow(s.tmp, w*w)
	big := s.tmp
	for _, l := range g.lamps {
		if !m.eliminateLamp(g, l, s, robust, big, w) {
			return false
		}
	}
	m.groupPriors(g, s)
	for i := 0; i < q; i++ {
		for j := 0; j <= i; j++ {
			big[i*w+j] += s.ab[i*q+j]
		}
		big[(w-1)*w+i] += s.rb[i]
	}
	m.groupCoupling(g, big, w)
	return g.schurOfFleet(big, w)
}

// eliminateLamp adds a lamp's rows to the group's equations and takes the lamp out of them.
func (m *model) eliminateLamp(g *groupState, l *lampState, s *scratch, robust bool, big []float64, w int) bool {
	p, q := l.p, g.q
	s.rows = m.rows(g, l, s.rows[:0])
	s.sb, s.rl = grow(s.sb, p*q), grow(s.rl, p)
	for i := range l.factor {
		l.factor[i] = 0
	}
	m.accumulate(g, l, s.rows, robust, l.factor, s.sb, s.rl, s.ab, s.rb)
	m.lampPriors(g, l, s)
	// border: group columns, the three of the lot or type, right side
	b, bw := l.border, q+4
	for i := 0; i < p; i++ {
		copy(b[i*bw:], s.sb[i*q:i*q+q])
		b[i*bw+q], b[i*bw+q+1], b[i*bw+q+2] = 0, 0, 0
		b[i*bw+q+3] = s.rl[i]
	}
	ls, lq, le := m.lampSpread(l)
	prec := [3]float64{1 / (ls * ls), 1 / (lq * lq), 1 / (le * le)}
	b[colS*bw+q], b[colQ*bw+q+1], b[colE*bw+q+2] = -prec[0], -prec[1], -prec[2]
	if !cholesky(l.factor, p) {
		return false
	}
	forward(l.factor, p, b, bw)
	at := m.meanColumn(l)
	cols := [4]int{3: w - 1} // where the border's last four stand in big
	for k, x := range prec {
		cols[k] = q + indexOf(g.local, at+k)
		big[cols[k]*w+cols[k]] += x
	}
	for i := 0; i < p; i++ {
		minusRow(big, w, b[i*bw:i*bw+bw], cols)
	}
	return true
}

// minusRow takes a row's products with itself from the lower triangle of big: the
// row's first cells stand in big's first columns, its last four in cols.
func minusRow(big []float64, w int, r []float64, cols [4]int) {
	q := len(r) - len(cols)
	for a, f := range r[:q] {
		if f == 0 {
			continue
		}
		row := big[a*w : a*w+a+1]
		for c, x := range r[:a+1] {
			row[c] -= f * x
		}
	}
	for k, c := range cols {
		f := r[q+k]
		if f == 0 {
			continue
		}
		row := big[c*w : c*w+w]
		for a, x := range r[:q] {
			row[a] -= f * x
		}
		for j, cj := range cols[:k+1] {
			hi, lo := max(c, cj), min(c, cj)
			big[hi*w+lo] -= f * r[q+j]
		}
	}
}

// schurOfFleet takes the group out of its equations; false where they are not positive definite.
func (g *groupState) schurOfFleet(big []float64, w int) bool {
	q := g.q
	bw := w - q
	for i := 0; i < q; i++ {
		copy(g.factor[i*q:i*q+i+1], big[i*w:i*w+i+1])
		for k := 0; k < bw; k++ {
			g.border[i*bw+k] = big[(q+k)*w+i]
		}
	}
	if !cholesky(g.factor, q) {
		return false
	}
	forward(g.factor, q, g.border, bw)
	for a := 0; a < bw; a++ {
		for b := 0; b <= a; b++ {
			g.schur[a*bw+b] = big[(q+a)*w+q+b]
		}
	}
	minusGram(g.schur, g.border, q, bw)
	return true
}

// meanColumn is the fleet column of the mean a lamp's slope leans on; shape
// and early term follow it.
func (m *model) meanColumn(l *lampState) int {
	switch {
	case l.lot >= 0:
		return m.tLot + 3*l.lot
	case l.make >= 0:
		return m.tMake + 3*l.make
	}
	return m.tClass + 3*l.class
}

// solveFleet adds up the groups in order, solves for the fleet's columns and
// their covariance.
func (m *model) solveFleet() error {
	n := m.nt
	a, r := make([]float64, n*n), make([]float64, n)
	m.fleetPriors(a, r)
	m.addGroups(a, r)
	return m.solved(a, r)
}

// solved solves the fleet's equations; a and r are overwritten.
func (m *model) solved(a, r []float64) error {
	n := m.nt
	if !cholesky(a, n) {
		return fmt.Errorf("the fleet's normal matrix is not positive definite: look for spreads out of all proportion")
	}
	m.t = r
	forward(a, n, m.t, 1)
	backward(a, n, m.t, 1)
	if m.ct == nil {
		m.ct = make([]float64, n*n)
	}
	invert(a, n, m.ct)
	return nil
}

// addGroups adds what the groups say about the fleet.
func (m *model) addGroups(a, r []float64) {
	for _, g := range m.groups {
		bw := len(g.local) + 1
		for i, ci := range g.local {
			for j := 0; j <= i; j++ {
				a[ci*m.nt+g.local[j]] += g.schur[i*bw+j]
			}
			r[ci] += g.schur[(bw-1)*bw+i]
		}
	}
}

// substitute gives the group's and its lamps' estimates and covariances.
func (m *model) substitute(g *groupState, s *scratch, last bool) {
	q, nl := g.q, len(g.local)
	bw := nl + 1
	// g.fit = Lb'^-1 (border_r - border_t t)
	for i := 0; i < q; i++ {
		x := g.border[i*bw+nl]
		for k, c := range g.local {
			x -= g.border[i*bw+k] * m.t[c]
		}
		g.fit[i] = x
	}
	backward(g.factor, q, g.fit, 1)
	// G = A_bb^-1 A_bt and C_tt of the group stay for its lamps
	s.k = grow(s.k, q*nl)
	for i := 0; i < q; i++ {
		copy(s.k[i*nl:], g.border[i*bw:i*bw+nl])
	}
	backward(g.factor, q, s.k, nl)
	s.ctc = grow(s.ctc, nl*nl)
	for i, ci := range g.local {
		for j, cj := range g.local {
			s.ctc[i*nl+j] = m.ct[ci*m.nt+cj]
		}
	}
	if g.cov == nil {
		g.cov, g.covT = make([]float64, q*q), make([]float64, q*nl)
	}
	// C_bt = -G C_tt, C_bb = A_bb^-1 - C_bt G'
	for i := 0; i < q; i++ {
		for j := 0; j < nl; j++ {
			x := 0.0
			for k := 0; k < nl; k++ {
				x -= s.k[i*nl+k] * s.ctc[k*nl+j]
			}
			g.covT[i*nl+j] = x
		}
	}
	invert(g.factor, q, g.cov)
	for i := 0; i < q; i++ {
		for j := 0; j <= i; j++ {
			x := g.cov[i*q+j]
			for k := 0; k < nl; k++ {
				x -= g.covT[i*nl+k] * s.k[j*nl+k]
			}
			g.cov[i*q+j], g.cov[j*q+i] = x, x
		}
	}
	for _, l := range g.lamps {
		m.substituteLamp(g, l, s, last)
	}
}

// substituteLamp: l = kr - K x, C_ll = Sl^-1 + K C K' where x are the group's
// columns b and the three of its mean t, K = Sl^-1 border = (Kb, Kt). With
// C_bb = (Lb Lb')^-1 + G C_tt G' and C_bt = -G C_tt that is
//
//	K C K' = V V' + D C_tt D',  V = Kb Lb'^-1,  D = Kb G - Kt,
//
// half the work of multiplying C out, since Lb is a triangle.
func (m *model) substituteLamp(g *groupState, l *lampState, s *scratch, last bool) {
	p, q, nl := l.p, g.q, len(g.local)
	bw := q + 4
	s.tmp = grow(s.tmp, p*bw)
	k := s.tmp
	copy(k, l.border[:p*bw])
	backward(l.factor, p, k, bw)
	at := m.meanColumn(l)
	first := indexOf(g.local, at)
	for i := 0; i < p; i++ {
		r := k[i*bw : i*bw+bw]
		x := r[q+3]
		for a, b := range g.fit {
			x -= r[a] * b
		}
		for c := 0; c < 3; c++ {
			x -= r[q+c] * m.t[at+c]
		}
		l.fit[i] = x
	}
	if l.cov == nil {
		l.cov = make([]float64, p*p)
	}
	invert(l.factor, p, l.cov)

	s.v, s.d, s.e = grow(s.v, q*p), grow(s.d, p*nl), grow(s.e, p*nl)
	v, d, e := s.v, s.d, s.e // V', D, D C_tt
	for i := 0; i < p; i++ {
		r, di := k[i*bw:i*bw+bw], d[i*nl:i*nl+nl]
		for a, f := range r[:q] {
			v[a*p+i] = f
			if f == 0 {
				continue
			}
			for c, x := range s.k[a*nl : a*nl+nl] {
				di[c] += f * x
			}
		}
		for c := 0; c < 3; c++ {
			di[first+c] -= r[q+c]
		}
		ei := e[i*nl : i*nl+nl]
		for a, f := range di {
			for c, x := range s.ctc[a*nl : a*nl+nl] {
				ei[c] += f * x
			}
		}
	}
	forward(g.factor, q, v, p)
	plusGram(l.cov, v, q, p)
	for i := 0; i < p; i++ {
		ei := e[i*nl : i*nl+nl]
		for j := 0; j <= i; j++ {
			x := l.cov[i*p+j]
			for c, f := range d[j*nl : j*nl+nl] {
				x += f * ei[c]
			}
			l.cov[i*p+j], l.cov[j*p+i] = x, x
		}
	}
	for j := range l.lotCov { // covariance with its mean
		l.lotCov[j] = e[(colS+j)*nl+first+j]
	}
	l.dirtCov = 0 // with the group's
	r := k[colDirt*bw : colDirt*bw+bw]
	for a, f := range r[:q] {
		l.dirtCov -= f * g.cov[l.bay.colDirt*q+a]
	}
	for c := 0; c < 3; c++ {
		l.dirtCov -= r[q+c] * g.covT[l.bay.colDirt*nl+first+c]
	}
	l.k = nil
	if last {
		l.k = append([]float64(nil), k[:p*bw]...)
	}
}
