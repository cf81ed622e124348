// Package dli turns a photon flux density into the light a plant gets in a
// day.
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
