package forecast

import "math"

// Crossing is when a lamp's output falls under a level, in run-hours of its
// life. Lo and Hi are where the lower and upper edge of its predictive band
// do; +Inf where an edge does not before horizon.
type Crossing struct{ Centre, Lo, Hi float64 }

// horizon is the last hour looked at.
const horizon = 120000

// Cross inverts the predictive band with half-width z spreads at a level.
func (p *Posterior) Cross(level, z float64) Crossing {
	return p.cross(math.Log(level), z, nil, nil)
}

func (p *Posterior) cross(target, z float64, shift *[5]float64, past []float64) Crossing {
	c := Crossing{math.Inf(1), math.Inf(1), math.Inf(1)}
	out := [3]*float64{&c.Lo, &c.Centre, &c.Hi}
	sign := [3]float64{-z, 0, z}
	var before [3]float64
	h0 := 0.0
	for k := 0; ; k++ {
		h := p.grid(k)
		if h > horizon {
			return c
		}
		m, s := p.output(h, shift, past)
		open := false
		for i := range out {
			v := m + sign[i]*s
			if math.IsInf(*out[i], 1) {
				if v <= target {
					if k == 0 || before[i] <= v {
						*out[i] = h
					} else {
						*out[i] = h0 + (h-h0)*(before[i]-target)/(before[i]-v)
					}
				} else {
					open = true
				}
			}
			before[i] = v
		}
		if !open {
			return c
		}
		h0 = h
	}
}

// grid gives the hours at which the band is looked at: every 100 h for the
// first 20,000 h, every 500 h from there.
func (p *Posterior) grid(k int) float64 {
	if k <= 199 {
		return Seasoning + 100*float64(k)
	}
	return 20000 + 500*float64(k-199)
}

// Band gives the lamp's own relative output with its interval on a grid of
// run-hours, for charts.
func (p *Posterior) Band(hours []float64, interval float64) []BandPoint {
	z := normalQuantile(interval)
	out := make([]BandPoint, len(hours))
	for k, h := range hours {
		m, s := p.Output(max(h, Seasoning))
		out[k] = BandPoint{h, math.Exp(m), math.Exp(m - z*s), math.Exp(m + z*s)}
	}
	return out
}

// normalQuantile gives the half-width, in spreads, of a central interval.
func normalQuantile(interval float64) float64 { return math.Sqrt2 * math.Erfinv(interval) }
