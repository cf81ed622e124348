package plan

import (
	"math"

	"wane/transform/estimate"
)

// light is what a lamp's output is worth.
type light struct {
	perHour  float64 // money for each burning hour at 100 % loss; 0 = unknown
	lo, hi   float64 // the same at the ends of the yield response
	molHour  float64 // mol at the canopy per burning hour at 100 %; 0 = unknown
	response float64 // % yield per 1 % light, middle of the range; 0 = not valued by the crop
	share    float64 // the lamps' share of the crop's light, 1 where not given
	missing  []string
	byEnergy bool // valued by the electricity that makes it, for want of a crop value
}

// valueLight turns one lamp's output into money.
//
//	per m2 and year: value * area * share * response / burning hours a year
//	per mol:         value * mol an hour * response
//
// where response is % yield per 1 % light (Marcelis et al. 2006). The first
// holds since 1 % of the lamp's output is share % of the crop's light. Where
// neither is given the light is valued by the electricity that makes it, which
// is less than any crop that pays for its lamps.
func valueLight(l Lamp, t terms) light {
	v := light{share: or(t.share, 1)}
	if l.PPFD > 0 && l.Area > 0 {
		v.molHour = l.PPFD * l.Area * 3600 / 1e6
	}
	full := math.NaN() // money per hour at response 1
	switch {
	case !math.IsNaN(t.cropM2) && !math.IsNaN(t.share) && l.Area > 0 && l.BurnPerDay > 0:
		full = t.cropM2 * l.Area * t.share / (l.BurnPerDay * daysPerYear)
	case !math.IsNaN(t.cropMol) && v.molHour > 0:
		full = t.cropMol * v.molHour
	}
	if !math.IsNaN(full) {
		v.response = (t.response.Min + t.response.Max) / 2
		v.lo, v.hi, v.perHour = full*t.response.Min, full*t.response.Max, full*v.response
		return v
	}
	switch {
	case math.IsNaN(t.cropM2) && math.IsNaN(t.cropMol):
		v.missing = append(v.missing, "crop_value_per_mol or crop_value_per_m2_year")
	case !math.IsNaN(t.cropM2) && math.IsNaN(t.share):
		v.missing = append(v.missing, "lamp_share")
	default:
		v.missing = append(v.missing, "the fixture's PPFD or area")
	}
	if !math.IsNaN(t.energy) && l.PowerW > 0 {
		v.perHour = t.energy * l.PowerW / 1000
		v.lo, v.hi, v.byEnergy = v.perHour, v.perHour, true
	}
	return v
}

// spread is the money an hour lost when lamps' levels have coefficient of
// variation cv about their mean. If yield goes with light to the power e, e
// being the response at the mean, then a spread of light of cv costs
// e(1-e)/2 cv^2 of the yield; the lamps' spread is diluted by their share of
// the crop's light. Neighbouring fixtures blend at the canopy, so this is the
// most the spread can cost.
func (v light) spread(cv float64) float64 {
	if v.response <= 0 || v.response >= 1 {
		return 0
	}
	return v.perHour * v.share * (1 - v.response) / 2 * cv * cv
}

// lossYear is the money a year lost at the given level.
func (v light) lossYear(level, burn float64) estimate.Estimate {
	if v.perHour == 0 {
		return estimate.None("light lost valued by the crop", "no value of light: see notes")
	}
	k := math.Max(0, 1-level) * burn * daysPerYear
	e := estimate.Estimate{
		Centre: v.perHour * k, Lo: math.Min(v.lo*k, v.hi*k), Hi: math.Max(v.lo*k, v.hi*k), Level: 1, N: 1,
		Method: "light lost x value x yield response; the interval is the published range of the response",
	}
	if v.byEnergy {
		e.Method = "light lost valued by the electricity that makes it"
	}
	return e
}

// efficacy is the useful efficacy at the canopy, umol/J, and the energy for one
// mol there, kWh. Both are 0 where power, PPFD, area or level is unknown.
func (l Lamp) efficacy() (umolPerJ, kWhPerMol float64) {
	if !(l.PowerW > 0) || !(l.PPFD > 0) || !(l.Area > 0) || !l.Level.Known() || l.Level.Centre <= 0 {
		return 0, 0
	}
	umolPerJ = l.PPFD * l.Area * l.Level.Centre / l.PowerW
	return umolPerJ, 1e6 / umolPerJ / 3.6e6
}
