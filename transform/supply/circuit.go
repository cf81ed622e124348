package supply

import (
	"cmp"
	"math"
	"slices"
	"time"
)

// Registered takes the voltage for which most fixtures of a circuit are
// registered, the lower of equals; others are the further ones, most common
// first. Voltages of 0 are not known; v is 0 where none is.
func Registered(ratedV []float64) (v float64, others []float64) {
	n := map[float64]int{}
	var vs []float64
	for _, r := range ratedV {
		if r > 0 {
			if n[r] == 0 {
				vs = append(vs, r)
			}
			n[r]++
		}
	}
	if len(vs) == 0 {
		return 0, nil
	}
	slices.SortFunc(vs, func(a, b float64) int { return cmp.Or(n[b]-n[a], cmp.Compare(a, b)) })
	return vs[0], vs[1:]
}

// Circuit is what one circuit's voltages say.
type Circuit struct {
	Why     string  // why nothing below is known; "" where it is
	Profile Profile // against the published range of the registered voltage
	// Seen is the profile against the range of the service found, where that is
	// not the registered one.
	Seen    *Profile
	Finding Finding
	Nominal float64 // V, what events are counted against
}

// Judge makes the profile of a circuit and names its service. registeredV is 0
// where the register gives none; south is below the equator.
func Judge(name string, registeredV float64, h Histogram, south bool) (c Circuit, err error) {
	opt := Options{South: south}
	within, published := RangeOf(registeredV)
	if c.Profile, err = Profiled(h, within, opt); err != nil {
		return c, err
	}
	whole, ok := c.Profile.Whole()
	if !ok || whole.Median.Centre <= 1 {
		c.Why = "it reads 0 V at the median: the circuit was dead, or the logger is not connected"
		return c, nil
	}
	if c.Finding, err = Identify(Input{Circuit: name, Registered: registeredV, Profile: c.Profile}); err != nil {
		return c, err
	}
	found := c.Finding.Confidence != "none"
	switch {
	case found:
		c.Nominal = c.Finding.Best.Nominal
	case registeredV > 0:
		c.Nominal = registeredV
	default:
		c.Nominal = whole.Median.Centre
	}
	if found && (!published || !c.Finding.Agrees) {
		seen, err := Profiled(h, c.Finding.Best.Range, opt)
		if err != nil {
			return c, err
		}
		c.Seen = &seen
		if !published {
			c.Profile = seen
		}
	}
	return c, nil
}

// RangeOf gives the published service range of a registered voltage; ok is
// false, and nothing lies outside, where none is known.
func RangeOf(v float64) (within Limit, ok bool) {
	if v > 0 {
		for _, k := range Connections() {
			if sameNominal(v, k.Nominal) {
				return k.Range, true
			}
		}
	}
	return Limit{Nominal: "not known", Kind: "no published range", Min: 0, Max: math.Inf(1), Source: "none"}, false
}

// UsualInterval is a logger's usual interval by the readings of its usual hour;
// ok is false where that holds one or none, which tells nothing.
func UsualInterval(readingsOfHours []int64) (every time.Duration, ok bool) {
	if len(readingsOfHours) == 0 {
		return 0, false
	}
	n := slices.Clone(readingsOfHours)
	slices.Sort(n)
	if k := n[len(n)/2]; k > 1 {
		return time.Duration(float64(time.Hour) / float64(k)).Round(time.Second), true
	}
	return 0, false
}
