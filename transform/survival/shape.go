package survival

import "math"

// Range of log beta that is searched at first: shapes from 0.05 to 55. Real
// lamps lie between 0.5 and 10; the search goes on upwards for failures that
// nearly coincide.
const (
	logShapeLo  = -3.0
	logShapeHi  = 4.0
	logShapeTop = 14.0
	scanStep    = 0.25
)

// bestShape finds log beta at the top of the likelihood, or says why there is
// none.
func (a ages) bestShape() (float64, string) {
	best, at := math.Inf(-1), 0.0
	hi := logShapeHi
	for b := logShapeLo; b <= hi; b += scanStep {
		l, d1, _ := a.shapeProfile(b)
		if l > best {
			best, at = l, b
		}
		if b+scanStep > hi && d1 > 0 && hi < logShapeTop {
			hi += 1
		}
	}
	lo, up := at-scanStep, at+scanStep
	_, dlo, _ := a.shapeProfile(lo)
	_, dup, _ := a.shapeProfile(up)
	if !(dlo > 0) && at == logShapeLo {
		return 0, "the likelihood grows as the shape goes to 0: with these entry ages the hazard cannot be told from one that falls as 1/age; failures of units watched from a younger age are needed"
	}
	if !(dup < 0) {
		return 0, "the likelihood grows with the shape without end: no unit outlived the failures, which nearly coincide; failures at different ages are needed"
	}
	return newton(at, lo, up, func(b float64) (float64, float64) {
		_, d1, d2 := a.shapeProfile(b)
		return d1, d2
	}), ""
}

// newton finds where the falling slope d1 is nought, between lo and up; a step
// that leaves the bracket is replaced by halving it.
func newton(x, lo, up float64, slope func(float64) (d1, d2 float64)) float64 {
	for i := 0; i < 100; i++ {
		d1, d2 := slope(x)
		if d1 > 0 {
			lo = x
		} else {
			up = x
		}
		step := d1 / d2
		if d2 < 0 && math.Abs(step) < 1e-12*(1+math.Abs(x)) {
			return x - step
		}
		next := x - step
		if !(d2 < 0) || !(next > lo && next < up) {
			next = (lo + up) / 2
			if next == lo || next == up {
				return next
			}
		}
		x = next
	}
	return x
}
