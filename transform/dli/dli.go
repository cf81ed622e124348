// Package dli turns a photon flux density into the light a plant gets in a
// day, and names the photometric quantities that canopy surveys speak of.
//
// The daily light integral is the PPFD summed over the photoperiod:
//
//	DLI [mol/m2/d] = PPFD [umol/m2/s] x photoperiod [h] x 3600 / 1e6
//
// (definition: ANSI/ASABE S640). Under a lamp of constant output it is exact;
// daylight is not part of it.
package dli

import (
	"fmt"
	"math"

	"wane/transform/estimate"
)

// molPerHour is what one umol/m2/s gives in one hour, in mol/m2.
const molPerHour = 3600 / 1e6

// FromPPFD gives the daily light integral in mol/m2/d of a constant PPFD in
// umol/m2/s over a photoperiod in hours. A PPFD that is negative or not
// finite, or a photoperiod outside 0 to 24 h, is an error.
func FromPPFD(ppfd, hours float64) (float64, error) {
	if err := check("PPFD", "umol/m2/s", ppfd); err != nil {
		return 0, err
	}
	if err := checkHours(hours); err != nil {
		return 0, err
	}
	return ppfd * hours * molPerHour, nil
}

// PPFDFor gives the PPFD in umol/m2/s that reaches a daily light integral in
// mol/m2/d within a photoperiod in hours, which must be above 0.
func PPFDFor(dli, hours float64) (float64, error) {
	if err := check("daily light integral", "mol/m2/d", dli); err != nil {
		return 0, err
	}
	if err := checkHours(hours); err != nil {
		return 0, err
	}
	if hours == 0 {
		return 0, fmt.Errorf("photoperiod is 0 h: no PPFD gives a daily light integral without lit hours; give the lit hours of a day")
	}
	return dli / (hours * molPerHour), nil
}

// Of carries an estimate of PPFD over to the daily light integral. The
// photoperiod is taken as known: its error is that of a timer.
func Of(ppfd estimate.Estimate, hours float64) estimate.Estimate {
	const method = "DLI = PPFD x h x 3600 / 1e6 (ANSI/ASABE S640)"
	if err := checkHours(hours); err != nil {
		return estimate.None(method, err.Error())
	}
	if !ppfd.Known() {
		e := ppfd
		e.Method = method
		return e
	}
	e := ppfd.Scale(hours * molPerHour)
	e.Method = method + "; PPFD: " + ppfd.Method
	return e
}

func checkHours(h float64) error {
	if math.IsNaN(h) || h < 0 || h > 24 {
		return fmt.Errorf("photoperiod %v h is not within 0 to 24: give the lit hours of one day", h)
	}
	return nil
}

func check(what, unit string, v float64) error {
	if math.IsNaN(v) || math.IsInf(v, 0) || v < 0 {
		return fmt.Errorf("%s %v %s is not a number of 0 or more", what, v, unit)
	}
	return nil
}
