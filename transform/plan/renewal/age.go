package renewal

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/integrate/quad"
)

// Knots of the age curve: log-spaced from Max*ageFirst to Max, dense enough
// that a cost curve with one least is bracketed between neighbours.
const (
	ageKnots = 100
	ageFirst = 1e-5
	nodes    = 8 // Gauss-Legendre nodes per piece; exact for polynomials up to degree 15
)

// age holds the running integrals of survival and of expected loss up to each
// knot, so that a rate costs one short quadrature.
type age struct {
	m        Model
	t, s, l  []float64 // knots; integral of S; integral of S*Loss
	gx, gw   [nodes]float64
	lossless bool
}

func newAge(m Model) *age {
	a := &age{m: m, lossless: m.Loss == nil}
	quad.Legendre{}.FixedLocations(a.gx[:], a.gw[:], 0, 1)
	a.t, a.s, a.l = []float64{0}, []float64{0}, []float64{0}
	for i := 0; i < ageKnots; i++ {
		t := m.Max * math.Pow(ageFirst, 1-float64(i)/(ageKnots-1))
		ds, dl := a.piece(a.t[i], t)
		a.t = append(a.t, t)
		a.s = append(a.s, a.s[i]+ds)
		a.l = append(a.l, a.l[i]+dl)
	}
	return a
}

// piece integrates survival and expected loss over [from, to].
func (a *age) piece(from, to float64) (s, l float64) {
	w := to - from
	for i := range a.gx {
		h := from + w*a.gx[i]
		sh := a.m.survive(h)
		s += a.gw[i] * sh
		if !a.lossless {
			l += a.gw[i] * sh * a.m.loss(h)
		}
	}
	return s * w, l * w
}

func (a *age) rate(t float64) float64 {
	i := sort.SearchFloat64s(a.t, t)
	if i > 0 {
		i--
	}
	ds, dl := a.piece(a.t[i], t)
	surv := a.m.survive(t)
	return (a.m.Planned*surv + a.m.Failure*(1-surv) + a.l[i] + dl) / (a.s[i] + ds)
}

// AgeRate is the long-run cost rate of replacing at age t or on failure:
//
//	[ Cp S(t) + Cf F(t) + int_0^t S(h) Loss(h) dh ] / int_0^t S(h) dh
//
// (Barlow & Proschan 1965, ch. 4, with a running loss added). 0 < t <= Max.
func (m Model) AgeRate(t float64) float64 { return newAge(m).rate(t) }

// BestAge is the replacement age of least AgeRate.
func (m Model) BestAge() Optimum {
	if err := m.check(); err != nil {
		return Optimum{Why: err.Error()}
	}
	a := newAge(m)
	return minimise(a.t[1:], a.rate)
}
