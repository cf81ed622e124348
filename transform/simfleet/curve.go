package simfleet

import (
	"math"
	"math/rand/v2"
)

// curveStep and curveEnd are the grid, in run-hours, on which a lamp's true
// relative output is kept.
const (
	curveStep = 100
	curveEnd  = 120000
)

// form of an ageing curve.
type form int

const (
	powerForm  form = iota // loss grows as a power of hours
	linearForm             // output falls along a straight line
	kneeForm               // exponential, faster after a knee
	expForm                // exponential
)

// ageing is what one lamp does when nothing disturbs it.
type ageing struct {
	form       form
	slope      float64 // ln loss over the first 10^4 h
	power      float64 // for powerForm: loss ~ hours^(1+power)
	knee, kick float64 // for kneeForm: hours, and factor on the rate after it
	early, tau float64
	wander     float64 // relative spread of the rate
	memory     float64 // h
}

// curve gives ln(relative output) at 100, 200, … h; it is 0 at 100 h.
func (a ageing) curve(rng *rand.Rand) []float64 {
	n := curveEnd / curveStep
	out := make([]float64, n)
	rho := math.Exp(-curveStep / a.memory)
	z := rng.NormFloat64()
	loss := 0.0
	for k := 1; k < n; k++ {
		h0, h1 := float64(k)*curveStep, float64(k+1)*curveStep
		rate := a.base(h1) - a.base(h0)
		loss += rate * math.Max(0, 1+a.wander*z)
		z = rho*z + math.Sqrt(1-rho*rho)*rng.NormFloat64()
		out[k] = -loss + a.early*(math.Exp(-100/a.tau)-math.Exp(-h1/a.tau))
	}
	return out
}

// base is the loss in ln output at h run-hours, without early term and wander.
func (a ageing) base(h float64) float64 {
	x := h / 1e4
	switch a.form {
	case powerForm:
		return a.slope * math.Pow(x, 1+a.power)
	case linearForm:
		// Straight in output, so faster and faster in ln; held at 5 % output.
		return -math.Log(math.Max(.05, 1-x*(1-math.Exp(-a.slope))))
	case kneeForm:
		k := a.knee / 1e4
		return a.slope * (math.Min(x, k) + a.kick*math.Max(0, x-k))
	default:
		return a.slope * x
	}
}

// at reads a curve at h run-hours.
func at(curve []float64, h float64) float64 {
	t := h/curveStep - 1
	if t <= 0 {
		return curve[0]
	}
	k := int(t)
	if k >= len(curve)-1 {
		return curve[len(curve)-1]
	}
	f := t - float64(k)
	return curve[k]*(1-f) + curve[k+1]*f
}

// crossing is the first hour at which the curve falls under ln level, +Inf
// where it does not before curveEnd.
func crossing(curve []float64, level float64) float64 {
	t := math.Log(level)
	for k := 1; k < len(curve); k++ {
		if curve[k] <= t {
			f := (curve[k-1] - t) / (curve[k-1] - curve[k])
			return curveStep * (float64(k) + f)
		}
	}
	return math.Inf(1)
}
