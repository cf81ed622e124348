package simfleet

import (
	"math"
	"math/rand/v2"

	"wane/transform/forecast"
)

// classLaw is what one fleet's lamps of one type are drawn from.
type classLaw struct {
	slope, lotSD, lampSD   float64
	power, powerLot        float64
	early, earlyLot        float64
	tau, wander, memory    float64
	threshold, ambient     float64
	failShape, failScale   float64 // Weibull, h
	relampHours            float64 // group relamp
	forms                  []form
	supply, supplyGroupDev float64
	model                  string // of the fixtures, in a group of sites
}

func uniform(rng *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*rng.Float64() }

// drawClass draws a fleet's law for one lamp type. Typical values follow the
// trade; lamp types spread wider about them than the forecast's defaults assume.
func drawClass(rng *rand.Rand, class, gear string) classLaw {
	l := classLaw{
		lotSD: uniform(rng, .10, .30), lampSD: uniform(rng, .08, .22), powerLot: uniform(rng, .05, .20),
		wander: uniform(rng, .10, .30), memory: uniform(rng, 600, 2000),
		failShape: uniform(rng, 2, 4), forms: []form{powerForm, powerForm, linearForm, expForm},
	}
	slope := 0.0
	switch class {
	case forecast.HPSDE:
		slope, l.power, l.early, l.tau = .085, uniform(rng, -.25, .45), uniform(rng, -.02, .008), uniform(rng, 1000, 3000)
		l.threshold, l.failScale, l.relampHours = uniform(rng, .87, .92), uniform(rng, 16000, 28000),
			uniform(rng, 10000, 18000)
		l.ambient = .0005 * rng.NormFloat64()
	case forecast.HPSSE:
		slope, l.power, l.early, l.tau = .125, uniform(rng, -.25, .45), uniform(rng, -.03, .008), uniform(rng, 800, 2500)
		l.threshold, l.failScale, l.relampHours = uniform(rng, .85, .91), uniform(rng, 14000, 26000),
			uniform(rng, 9000, 16000)
		l.ambient = .0005 * rng.NormFloat64()
	case forecast.CMH:
		slope, l.power, l.early, l.tau = .120, uniform(rng, -.40, .30), uniform(rng, -.06, 0), uniform(rng, 400, 1200)
		l.threshold, l.failScale, l.relampHours = uniform(rng, .80, .88), uniform(rng, 12000, 22000),
			uniform(rng, 9000, 16000)
		l.ambient = .0005 * rng.NormFloat64()
	default:
		slope, l.power, l.early, l.tau = .028, uniform(rng, -.2, .25), uniform(rng, -.006, .02), uniform(rng, 250, 800)
		l.threshold, l.failScale, l.relampHours = uniform(rng, .88, .93), uniform(rng, 60000, 150000), 1e9
		l.lotSD, l.powerLot = uniform(rng, .15, .40), uniform(rng, .03, .10)
		l.ambient = -.003 + .0012*rng.NormFloat64()
		l.forms = []form{powerForm, powerForm, kneeForm, expForm}
	}
	l.slope = slope * math.Exp(clip(.45*rng.NormFloat64(), -.9, .9))
	l.earlyLot = .006
	switch gear {
	case forecast.Magnetic:
		l.supply, l.supplyGroupDev = 1.5+.5*rng.NormFloat64(), .15
	case forecast.Electronic:
		l.supply, l.supplyGroupDev = .05+.06*rng.NormFloat64(), .02
	default:
		l.supply, l.supplyGroupDev = .04*rng.NormFloat64(), .02
	}
	return l
}

// lotLaw is one lot's departure from its type.
type lotLaw struct {
	name         string
	slope, power float64
	early        float64
	form         form
	knee, kick   float64
}

func drawLot(rng *rand.Rand, c classLaw, name string) lotLaw {
	return lotLaw{
		name: name, slope: c.slope * math.Exp(c.lotSD*clip(rng.NormFloat64(), -2.5, 2.5)),
		power: math.Max(-.6, c.power+c.powerLot*rng.NormFloat64()),
		early: c.early + c.earlyLot*rng.NormFloat64(),
		form:  c.forms[rng.IntN(len(c.forms))],
		knee:  uniform(rng, 8000, 30000), kick: uniform(rng, 1, 1.3),
	}
}

func (l lotLaw) lamp(rng *rand.Rand, c classLaw) ageing {
	return ageing{
		form: l.form, slope: l.slope * math.Exp(c.lampSD*clip(rng.NormFloat64(), -2.5, 2.5)),
		power: math.Max(-.7, l.power+.06*rng.NormFloat64()), knee: l.knee, kick: l.kick,
		early: l.early + .003*rng.NormFloat64(), tau: c.tau * math.Exp(.15*rng.NormFloat64()),
		wander: c.wander, memory: c.memory,
	}
}

// siteLaw is what a fleet's sensors, dirt and loggers are drawn from.
type siteLaw struct {
	drift, driftSensor, driftInterval, offset, asFound float64
	noFactor                                           float64 // share of recalibrations without as-found gain
	recalEvery                                         float64 // days
	wander, wanderMem                                  float64
	dirtBay, dirtFixture                               float64
	noise, slow, slowMem                               float64
	spikes, missing, stuck                             float64
}

func drawSite(rng *rand.Rand) siteLaw {
	return siteLaw{
		drift: uniform(rng, -.022, -.003), driftSensor: uniform(rng, .002, .008), driftInterval: uniform(rng, .001, .005),
		offset: uniform(rng, .002, .007), asFound: uniform(rng, .003, .010), noFactor: uniform(rng, 0, .35),
		recalEvery: uniform(rng, 330, 900), wander: uniform(rng, .002, .008), wanderMem: uniform(rng, 40, 160),
		dirtBay: uniform(rng, .15, .40), dirtFixture: uniform(rng, .15, .40),
		noise: uniform(rng, .004, .016), slow: uniform(rng, .001, .006), slowMem: uniform(rng, 7, 30),
		spikes: uniform(rng, .002, .02), missing: uniform(rng, .03, .15), stuck: uniform(rng, 0, .01),
	}
}

func clip(x, lo, hi float64) float64 { return math.Max(lo, math.Min(hi, x)) }
