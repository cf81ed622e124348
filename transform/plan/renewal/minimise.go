package renewal

import (
	"fmt"
	"math"
)

// minimise looks for the least of rate on the rising knots, then refines
// between the neighbours of the best knot. rate must be continuous.
func minimise(knots []float64, rate func(t float64) float64) Optimum {
	curve := make([]Point, len(knots))
	best := 0
	for i, t := range knots {
		curve[i] = Point{t, rate(t)}
		if curve[i].Rate < curve[best].Rate {
			best = i
		}
	}
	last := len(knots) - 1
	if best == last {
		return Optimum{Curve: curve, Why: fmt.Sprintf("the cost rate still falls at %.4g, the longest age searched: replacing ahead of failure does not pay up to there", knots[last])}
	}
	if best == 0 {
		return Optimum{Curve: curve, Why: fmt.Sprintf("the cost rate is least below %.4g, the shortest age searched: the price is too small beside the value of the loss to be meant", knots[0])}
	}
	t := golden(rate, knots[best-1], knots[best+1])
	o := Optimum{Known: true, T: t, Rate: rate(t), Curve: curve}
	limit := o.Rate * (1 + Tolerance)
	o.Lo = knots[0]
	for i := best - 1; i >= 0; i-- {
		if curve[i].Rate > limit {
			o.Lo = crossing(rate, limit, knots[i], math.Min(knots[i+1], t))
			break
		}
	}
	o.Hi, o.HiOpen = knots[last], true
	for i := best + 1; i <= last; i++ {
		if curve[i].Rate > limit {
			o.Hi, o.HiOpen = crossing(rate, limit, knots[i], math.Max(knots[i-1], t)), false
			break
		}
	}
	return o
}

// golden is the golden-section search for the least of f in [a, b]. gonum has
// no minimiser in one dimension.
func golden(f func(float64) float64, a, b float64) float64 {
	const invPhi = 0.6180339887498949
	c, d := b-invPhi*(b-a), a+invPhi*(b-a)
	fc, fd := f(c), f(d)
	for i := 0; i < 120 && b-a > 1e-9*(math.Abs(a)+math.Abs(b)); i++ {
		if fc <= fd {
			b, d, fd = d, c, fc
			c = b - invPhi*(b-a)
			fc = f(c)
		} else {
			a, c, fc = c, d, fd
			d = a + invPhi*(b-a)
			fd = f(d)
		}
	}
	return (a + b) / 2
}

// crossing bisects for f = limit between out, where f is above, and in, where
// it is not.
func crossing(f func(float64) float64, limit, out, in float64) float64 {
	for i := 0; i < 30; i++ {
		mid := (out + in) / 2
		if f(mid) > limit {
			out = mid
		} else {
			in = mid
		}
	}
	return in
}
