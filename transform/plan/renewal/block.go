package renewal

import (
	"math"

	"gonum.org/v1/gonum/interp"
)

// blockSteps is the number of steps of the renewal equation over the interval
// searched. The discretisation error falls as 1/steps^2.
const blockSteps = 500

// coarseSteps is enough to find the neighbourhood of the least.
const coarseSteps = 250

// block holds the renewal function M(t) and the integral of expected loss on
// an even grid over [0, max].
type block struct {
	m    Model
	t    []float64
	mean *interp.AkimaSpline // M(t): expected failures in (0, t]
	lost *interp.AkimaSpline // expected loss in (0, t]
}

// newBlock solves the renewal equation by the midpoint method of Xie (1989,
// "On the solution of renewal-type integral equations", from memory):
//
//	M_i = [ F_i + sum_{j<i} (M_j - M_{j-1}) F(t_i - t_{j-1/2}) - M_{i-1} F(d/2) ] / (1 - F(d/2))
func newBlock(m Model, max float64, steps int) *block {
	d := max / float64(steps)
	t := make([]float64, steps+1)
	whole := make([]float64, steps+1) // F at i*d
	half := make([]float64, steps+1)  // F at (i+1/2)*d
	lossHalf := make([]float64, steps+1)
	lossWhole := make([]float64, steps+1)
	for i := range t {
		t[i] = float64(i) * d
		h := t[i] + d/2
		whole[i], half[i] = 1-m.survive(t[i]), 1-m.survive(h)
		lossWhole[i], lossHalf[i] = m.survive(t[i])*m.loss(t[i]), m.survive(h)*m.loss(h)
	}
	mean := make([]float64, steps+1)
	inc := make([]float64, steps+1)
	lost := make([]float64, steps+1)
	before := lossWhole[0]
	for i := 1; i <= steps; i++ {
		now := lossWhole[i]
		if m.Survive != nil {
			sum := whole[i] - mean[i-1]*half[0]
			for j := 1; j < i; j++ {
				sum += inc[j] * half[i-j]
			}
			mean[i] = sum / (1 - half[0])
			inc[i] = mean[i] - mean[i-1]
			for j := 1; j <= i; j++ {
				now += inc[j] * lossHalf[i-j]
			}
		}
		lost[i] = lost[i-1] + d*(before+now)/2
		before = now
	}
	b := &block{m: m, t: t, mean: new(interp.AkimaSpline), lost: new(interp.AkimaSpline)}
	// The grid is rising and longer than two points, so Fit cannot fail.
	if err := b.mean.Fit(t, mean); err != nil {
		panic("renewal: grid of the renewal function: " + err.Error())
	}
	if err := b.lost.Fit(t, lost); err != nil {
		panic("renewal: grid of the loss: " + err.Error())
	}
	return b
}

func (b *block) rate(t float64) float64 {
	return (b.m.Planned + b.m.Failure*b.mean.Predict(t) + b.lost.Predict(t)) / t
}

// Renewals is M(t), the expected number of failures in (0, t] of a part that
// is replaced at each failure. 0 < t.
func (m Model) Renewals(t float64) float64 { return newBlock(m, t, blockSteps).mean.Predict(t) }

// BlockRate is the long-run cost rate of replacing every t:
//
//	[ Cp + Cf M(t) + expected loss in (0, t] ] / t
//
// (Barlow & Proschan 1965, ch. 4, with a running loss added). 0 < t.
func (m Model) BlockRate(t float64) float64 { return newBlock(m, t, blockSteps).rate(t) }

// BestBlock is the interval of least BlockRate. It searches Max coarsely, then
// again with the whole grid over the neighbourhood of the least.
func (m Model) BestBlock() Optimum {
	if err := m.check(); err != nil {
		return Optimum{Why: err.Error()}
	}
	wide := newBlock(m, m.Max, coarseSteps)
	o := minimise(wide.t[1:], wide.rate)
	if !o.Known && o.Curve[0].Rate < o.Curve[1].Rate {
		// The least lies within the first steps: look there before saying there is none.
		near := newBlock(m, 4*wide.t[1], blockSteps)
		o = minimise(near.t[1:], near.rate)
	}
	if !o.Known {
		return thin(o)
	}
	if reach := math.Min(1.5*o.Hi, m.Max); reach > 0 {
		fine := newBlock(m, reach, blockSteps)
		if f := minimise(fine.t[1:], fine.rate); f.Known {
			beyond := thin(o).Curve
			o = thin(f)
			for _, pt := range beyond {
				if pt.T > reach {
					o.Curve = append(o.Curve, pt)
				}
			}
			return o
		}
	}
	return thin(o)
}

// thin keeps every third point of a curve: it is drawn, not read.
func thin(o Optimum) Optimum {
	kept := make([]Point, 0, len(o.Curve)/8+1)
	for i := 0; i < len(o.Curve); i += 3 {
		kept = append(kept, o.Curve[i])
	}
	o.Curve = kept
	return o
}
