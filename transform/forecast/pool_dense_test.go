package forecast

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// makesOf gives the toy fleet's lamps makes, and one lot a name that only this site has.
func makesOf(in *Input, own string) *Input {
	for i := range in.Lamps {
		l := &in.Lamps[i]
		l.Make = "make " + l.Class
		if l.Lot == "y" {
			l.Lot = own
		}
	}
	in.Lamps[5].Make = ""
	return in
}

// TestPoolEqualsDenseSolve writes the fleet equations of three sites and what the
// group declares into one matrix, and solves them at once.
func TestPoolEqualsDenseSolve(t *testing.T) {
	sites := []*Input{makesOf(toy(), "y1"), makesOf(toy(), "y2"), makesOf(toy(), "y3")}
	for i := range sites[1].Lamps {
		for k := range sites[1].Lamps[i].Bins {
			sites[1].Lamps[i].Bins[k].LnOut *= 1.01
		}
	}
	sites[2].Lamps = sites[2].Lamps[:5] // fewer kinds, no lot z
	census := make([]Census, len(sites))
	for i, in := range sites {
		var err error
		if census[i], err = CensusOf(in); err != nil {
			t.Fatal(err)
		}
	}
	p := NewPool(DefaultTable(), census)
	if len(p.makes) != 2 || len(p.lots) != 2 {
		t.Fatalf("makes %v, lots %v", p.makes, p.lots)
	}
	states := make([]*SiteState, len(sites))
	for range 2 { // the second with spreads learnt
		var sum, learnt Sum
		for i, in := range sites {
			s, err := p.Reduce(in, states[i])
			if err != nil {
				t.Fatal(err)
			}
			sum = sum.Add(s)
		}
		if err := p.Solve(sum); err != nil {
			t.Fatal(err)
		}
		densePool(t, p, sites, states)
		for i, in := range sites {
			var s Sum
			var err error
			if states[i], s, err = p.Follow(in, states[i]); err != nil {
				t.Fatal(err)
			}
			learnt = learnt.Add(s)
		}
		p.Update(learnt)
	}
}

// densePool holds the sites' fleet columns against one dense solve.
func densePool(t *testing.T, p *Pool, sites []*Input, states []*SiteState) {
	t.Helper()
	n := p.m.nt
	models, columns := make([]*model, len(sites)), make([][]int, len(sites))
	for i, in := range sites {
		var err error
		if models[i], err = p.put(in, states[i], false); err != nil {
			t.Fatal(err)
		}
		for _, c := range models[i].poolColumns() {
			if c < 0 {
				c = n
				n++
			}
			columns[i] = append(columns[i], c)
		}
	}
	a, r := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	add := func(nt int, x, y []float64, at func(int) int) {
		for i := range nt {
			for j := 0; j <= i; j++ {
				a.SetSym(at(i), at(j), a.At(at(i), at(j))+x[i*nt+j])
			}
			r.SetVec(at(i), r.AtVec(at(i))+y[i])
		}
	}
	x, y := make([]float64, p.m.nt*p.m.nt), make([]float64, p.m.nt)
	p.m.typePriors(x, y)
	p.m.lotPriors(x)
	add(p.m.nt, x, y, func(c int) int { return c })
	for i, m := range models {
		x, y := make([]float64, m.nt*m.nt), make([]float64, m.nt)
		m.lotPriors(x)
		m.sitePriors(x, y)
		m.addGroups(x, y)
		add(m.nt, x, y, func(c int) int { return columns[i][c] })
	}
	var chol mat.Cholesky
	if !chol.Factorize(a) {
		t.Fatal("not positive definite")
	}
	var want mat.VecDense
	var cov mat.SymDense
	if err := chol.SolveVecTo(&want, r); err != nil {
		t.Fatal(err)
	}
	if err := chol.InverseTo(&cov); err != nil {
		t.Fatal(err)
	}
	for i, m := range models {
		for c, at := range columns[i] {
			if math.Abs(m.t[c]-want.AtVec(at)) > 1e-9 {
				t.Errorf("site %d, column %d: %v, dense %v", i, c, m.t[c], want.AtVec(at))
			}
			for d, to := range columns[i] {
				if math.Abs(m.ct[c*m.nt+d]-cov.At(at, to)) > 1e-9 {
					t.Errorf("site %d, covariance of %d and %d: %v, dense %v", i, c, d, m.ct[c*m.nt+d], cov.At(at, to))
				}
			}
		}
	}
}
