package forecast

import "fmt"

// siteFactor is a site's own columns taken out of its equations, what is left of the
// columns that it shares with others, and what is needed to put their answer back.
type siteFactor struct {
	own, shared []int     // fleet columns of the site
	column      []int     // of the pool, for each fleet column; -1: its own
	factor      []float64 // Cholesky factor of the own columns
	border      []float64 // L^-1 [shared | right side]
	schur       []float64 // what the site says of [shared | right side], lower triangle
}

// poolColumns gives the pool's column for each of the fleet's; -1 for the site's own.
func (m *model) poolColumns() []int {
	out := make([]int, m.nt)
	for c := range out {
		out[c] = -1
	}
	three := func(c, pool int) {
		for j := range 3 {
			out[c+j] = pool + j
		}
	}
	for k, name := range m.classes {
		three(m.tClass+3*k, 3*m.opt.pool.types[name])
	}
	for k, x := range m.makes {
		three(m.tMake+3*k, x.column)
	}
	for k, lot := range m.lots {
		if lot.column >= 0 {
			three(m.tLot+3*k, lot.column)
		}
	}
	return out
}

// reduce assembles a site and eliminates its lamps, groups and own columns.
func (m *model) reduce(robust bool) (*siteFactor, error) {
	if err := m.eliminateAll(robust); err != nil {
		return nil, err
	}
	n := m.nt
	a, r := make([]float64, n*n), make([]float64, n)
	m.lotPriors(a)
	m.sitePriors(a, r)
	m.addGroups(a, r)
	f := &siteFactor{column: m.poolColumns()}
	for c, pool := range f.column {
		if pool < 0 {
			f.own = append(f.own, c)
		} else {
			f.shared = append(f.shared, c)
		}
	}
	at := func(i, j int) float64 { return a[max(i, j)*n+min(i, j)] }
	no, ns := len(f.own), len(f.shared)
	w := ns + 1
	f.factor, f.border, f.schur = make([]float64, no*no), make([]float64, no*w), make([]float64, w*w)
	for i, c := range f.own {
		for j, d := range f.own[:i+1] {
			f.factor[i*no+j] = at(c, d)
		}
		for j, d := range f.shared {
			f.border[i*w+j] = at(c, d)
		}
		f.border[i*w+ns] = r[c]
	}
	for i, c := range f.shared {
		for j, d := range f.shared[:i+1] {
			f.schur[i*w+j] = at(c, d)
		}
		f.schur[ns*w+i] = r[c]
	}
	if !cholesky(f.factor, no) {
		return nil, fmt.Errorf("the site's normal matrix is not positive definite: look for spreads out of all proportion")
	}
	forward(f.factor, no, f.border, w)
	minusGram(f.schur, f.border, no, w)
	return f, nil
}

// follow gives all the site's fleet columns and their covariance, where those that it
// shares are as the pool has them: with G = A_oo^-1 A_os
//
//	t_o = A_oo^-1 r_o - G t_s,  C_os = -G C_ss,  C_oo = A_oo^-1 + G C_ss G'
func (m *model) follow(f *siteFactor, pool *model) {
	n, no, ns := m.nt, len(f.own), len(f.shared)
	w := ns + 1
	m.t, m.ct = make([]float64, n), make([]float64, n*n)
	for _, c := range f.shared {
		m.t[c] = pool.t[f.column[c]]
		for _, d := range f.shared {
			m.ct[c*n+d] = pool.ct[f.column[c]*pool.nt+f.column[d]]
		}
	}
	fit, g := make([]float64, no), make([]float64, no*ns)
	for i := range fit {
		fit[i] = f.border[i*w+ns]
		for j, c := range f.shared {
			fit[i] -= f.border[i*w+j] * m.t[c]
		}
		copy(g[i*ns:], f.border[i*w:i*w+ns])
	}
	backward(f.factor, no, fit, 1)
	backward(f.factor, no, g, ns)
	for i, c := range f.own {
		m.t[c] = fit[i]
		for _, d := range f.shared {
			x := 0.0
			for k, e := range f.shared {
				x -= g[i*ns+k] * m.ct[e*n+d]
			}
			m.ct[c*n+d] = x
			m.ct[d*n+c] = x
		}
	}
	inv := make([]float64, no*no)
	invert(f.factor, no, inv)
	for i, c := range f.own {
		for j, d := range f.own[:i+1] {
			x := inv[i*no+j]
			for k, e := range f.shared {
				x -= m.ct[c*n+e] * g[j*ns+k]
			}
			m.ct[c*n+d], m.ct[d*n+c] = x, x
		}
	}
}
