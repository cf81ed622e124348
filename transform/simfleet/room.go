package simfleet

import (
	"fmt"
	"math"
	"math/rand/v2"

	"wane/transform/forecast"
)

// room is one room's fixed facts and its daily series over the whole run.
type room struct {
	name, class, gear string
	start             int
	law               classLaw
	hours             []float64 // burnt on each day
	supply            []float64 // ln(v/vref)
	ambient           []float64
	dim               []float64
	hasSupply         bool
	hasAmbient        bool
	cleanings         []int
	dirt, dirtDays    float64
	dirtLeft          float64
	dirtSeason        float64
	dimError          float64
}

func drawRoom(rng *rand.Rand, name, class, gear string, law classLaw, opt Options) *room {
	r := &room{name: name, class: class, gear: gear, law: law,
		hasSupply: rng.Float64() < .8, hasAmbient: rng.Float64() < .85,
		dirt: uniform(rng, .005, .08), dirtDays: 220 * math.Exp(.4*rng.NormFloat64()),
		dirtLeft: uniform(rng, .05, .35), dirtSeason: uniform(rng, 0, .4), dimError: .08 * rng.NormFloat64()}
	if opt.start > 0 {
		r.start = opt.start
	} else if !opt.AllNew {
		r.start = int(uniform(rng, 0, .55*float64(opt.Days)))
	}
	r.hours, r.supply = make([]float64, opt.Days), make([]float64, opt.Days)
	r.ambient, r.dim = make([]float64, opt.Days), make([]float64, opt.Days)
	base, swing := uniform(rng, 9, 18), 0.0
	if rng.Float64() < .4 {
		base, swing = uniform(rng, 8, 13), uniform(rng, 2, 6) // greenhouse: long in winter
	}
	vSwing, tSwing, vNoise := uniform(rng, .003, .015), uniform(rng, 2, 7), uniform(rng, .002, .006)
	vStep, vStepAt := .015*rng.NormFloat64(), rng.IntN(opt.Days)
	var outage, dimLeft int
	dims, dim := rng.Float64() < .35, 1.0
	vPhase := uniform(rng, -.5, .5)
	for d := range r.hours {
		season := math.Cos(2 * math.Pi * float64(d) / 365.25)
		h := clip(base+swing*season+.5*rng.NormFloat64(), 0, 24)
		if outage > 0 {
			outage--
			h = 0
		} else if rng.Float64() < .001 {
			outage = 3 + rng.IntN(25)
		}
		r.hours[d] = math.Round(h*100) / 100
		r.supply[d] = vSwing*math.Cos(2*math.Pi*(float64(d)/365.25)+vPhase) + vNoise*rng.NormFloat64()
		if d > vStepAt {
			r.supply[d] += vStep
		}
		r.ambient[d] = 25 - tSwing*season + rng.NormFloat64()
		if dims {
			if dimLeft--; dimLeft < 0 {
				dimLeft = 30 + rng.IntN(200)
				dim = []float64{1, 1, .9, .8, .7}[rng.IntN(5)]
			}
		}
		r.dim[d] = dim
	}
	if rng.Float64() < .85 {
		every := uniform(rng, 90, 500)
		for d := float64(r.start) + every*uniform(rng, .5, 1.2); d < float64(opt.Days); d += every * uniform(rng, .7, 1.3) {
			r.cleanings = append(r.cleanings, int(d))
		}
	}
	return r
}

// lotOf names a lot of the room's lamps: in a group of sites those of one make are the
// same at all sites.
func (r *room) lotOf(room string, k int) string {
	switch {
	case r.law.model != "":
		return fmt.Sprintf("%s-%d", r.law.model, k)
	case room != "":
		return fmt.Sprintf("%s-%s-%d", r.class, room, k)
	}
	return fmt.Sprintf("%s-%d", r.class, k)
}

// bay is the fixtures under one sensor.
type bay struct {
	id     string
	gain   []float64 // ln sensor gain a day
	wander []float64
	dirt   float64
	supply float64 // its own voltage coefficient
	recals []forecast.Recal
	dead   []bool // logger silent
}

func drawBay(rng *rand.Rand, site siteLaw, r *room, id string, opt Options) *bay {
	n := opt.Days
	b := &bay{id: id, gain: make([]float64, n), wander: make([]float64, n), dead: make([]bool, n),
		dirt:   r.dirt * math.Max(.1, 1+site.dirtBay*rng.NormFloat64()),
		supply: r.law.supply + r.law.supplyGroupDev*rng.NormFloat64()}
	own := site.drift + site.driftSensor*rng.NormFloat64()
	rate := own + site.driftInterval*rng.NormFloat64()
	next := r.start + int(site.recalEvery*uniform(rng, .4, 1.3))
	gain := 0.0
	rho := math.Exp(-1 / site.wanderMem)
	w := site.wander * rng.NormFloat64()
	silent := 0
	for d := 0; d < n; d++ {
		if d > r.start {
			gain += rate/365.25 + .0001*rng.NormFloat64()
		}
		if d == next {
			if !opt.NeverRecalibrated {
				rc := forecast.Recal{Day: opt.Day0 + d}
				if rng.Float64() >= site.noFactor {
					rc.AsFound = math.Exp(gain + site.asFound*rng.NormFloat64())
				}
				b.recals = append(b.recals, rc)
				gain = site.offset * rng.NormFloat64()
				rate = own + site.driftInterval*rng.NormFloat64()
			}
			next = d + int(site.recalEvery*uniform(rng, .7, 1.4))
		}
		w = rho*w + site.wander*math.Sqrt(1-rho*rho)*rng.NormFloat64()
		b.gain[d], b.wander[d] = gain, w
		if silent > 0 {
			silent--
			b.dead[d] = true
		} else if rng.Float64() < .0015 {
			silent = rng.IntN(45)
		}
	}
	return b
}

func roomName(k int) string { return fmt.Sprintf("room-%d", k+1) }
