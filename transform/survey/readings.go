package survey

import (
	"math"

	"wane/transform/estimate"
)

// readings is a survey ready for arithmetic, in order of spot number.
type readings struct {
	plan           plan
	u              Uncertainty
	y              []float64
	row, col       []int
	number         []int
	sensor         []string
	names          []string // sensors, sorted
	argmin, argmax int
	mean           float64
}

func newReadings(s Survey, u Uncertainty) *readings {
	r := &readings{plan: s.plan(), u: u, names: s.Sensors()}
	at := map[int]Spot{}
	for _, p := range s.Spots {
		at[Number(p.Row, p.Col, r.plan.cols)] = p
	}
	for k := 1; k <= r.plan.rows*r.plan.cols; k++ {
		p, ok := at[k]
		if !ok {
			continue
		}
		r.y = append(r.y, p.PPFD)
		r.row, r.col = append(r.row, p.Row), append(r.col, p.Col)
		r.number = append(r.number, k)
		r.sensor = append(r.sensor, s.sensorOf(p))
		r.mean += p.PPFD
	}
	r.mean /= float64(len(r.y))
	for i, v := range r.y {
		if v < r.y[r.argmin] {
			r.argmin = i
		}
		if v > r.y[r.argmax] {
			r.argmax = i
		}
	}
	return r
}

// even gives every spot the same weight, summing to 1.
func (r *readings) even() []float64 {
	w := make([]float64, len(r.y))
	for i := range w {
		w[i] = 1 / float64(len(w))
	}
	return w
}

// repeatSD is the standard deviation, from repeats alone, of a quantity whose
// derivative by each reading is g (first-order propagation, JCGM 100 "GUM" 5.1.2).
func (r *readings) repeatSD(g []float64) float64 {
	s := 0.0
	for i, y := range r.y {
		s += g[i] * y * g[i] * y
	}
	return r.u.rep() * math.Sqrt(s)
}

// commonSD is the same from what readings have in common: each sensor's
// calibration, the hang, the occasion. It is nil for a ratio under one sensor.
func (r *readings) commonSD(g []float64) float64 {
	all, v := 0.0, 0.0
	for _, name := range r.names {
		part := 0.0
		for i, y := range r.y {
			if r.sensor[i] == name {
				part += g[i] * y
			}
		}
		v += part * part
		all += part
	}
	return math.Sqrt(v*r.u.sens()*r.u.sens() + all*all*(r.u.hang()*r.u.hang()+r.u.occ()*r.u.occ()))
}

func (r *readings) sd(g []float64) float64 { return hypot(r.repeatSD(g), r.commonSD(g)) }

func (r *readings) linear(w []float64, method string) estimate.Estimate {
	v := 0.0
	for i := range w {
		v += w[i] * r.y[i]
	}
	return atLeast(r.u.around(v, r.sd(w), len(r.y), method+"; sensor, rig and repeat propagated"), 0)
}
