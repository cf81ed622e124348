package demo

import (
	"math"
	"math/rand/v2"
	"time"
)

// weather is what a bay's circuit and air do: voltage that sags in the evening
// and on working days, air that is warm while the lamps burn and in summer.
type weather struct {
	r               *rand.Rand
	nominal         float64
	litC, darkC     float64
	slow, fast      float64 // of the voltage: relative, by the day and by the slot
	air             float64 // slow part of the air's temperature, degC
	volts, celsius  float64 // last given
	approachingWarm float64 // 0 dark to 1 lit: air follows the lamps
	season          float64 // 1 in mid-January, -1 in July
	weekend         bool
}

func newWeather(r *rand.Rand, rm *room) *weather {
	return &weather{r: r, nominal: rm.suppliedV, litC: rm.warm, darkC: 18.5, volts: rm.suppliedV, celsius: 18.5}
}

func (w *weather) newDay(date time.Time) {
	w.slow = 0.7*w.slow + 0.0012*w.r.NormFloat64()
	w.season = math.Cos(2 * math.Pi * float64(date.YearDay()-15) / 365.25)
	w.weekend = date.Weekday() == time.Saturday || date.Weekday() == time.Sunday
}

// at gives the voltage and the temperature of the next slot; slots are asked
// for in order.
func (w *weather) at(c *calendar, s int, on bool) (volts, celsius float64) {
	if s%4 == 0 {
		w.fast = 0.8*w.fast + 0.0008*w.r.NormFloat64()
		w.air = 0.97*w.air + 0.12*w.r.NormFloat64()
	}
	hour := float64(c.minute[s]) / 60
	swing := -0.007*math.Exp(-(hour-18.5)*(hour-18.5)/8) + 0.003*math.Cos(2*math.Pi*(hour-3)/24) - 0.003*w.season
	if w.weekend {
		swing += 0.004
	}
	w.volts = w.nominal * (1 + swing + w.slow + w.fast)
	target := 0.0
	if on {
		target = 1
	}
	w.approachingWarm += 0.3 * (target - w.approachingWarm)
	w.celsius = w.darkC + (w.litC-w.darkC)*w.approachingWarm - 1.5*w.season + w.air
	return w.volts, w.celsius
}

// now is what at gave last.
func (w *weather) now() (volts, celsius float64) { return w.volts, w.celsius }
