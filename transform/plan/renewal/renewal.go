// Package renewal finds the replacement age or interval with the least
// long-run cost rate, by the renewal reward theorem: the cost of one cycle
// over the length of one cycle.
//
// A part costs Planned when it is replaced in time and Failure when it fails
// first. While it is in use it loses Loss(h) money an hour at age h. Two
// policies, named as in Barlow & Proschan (1965) and Jardine & Tsang (2013):
//
//   - age replacement: at age T or on failure, whichever comes first; each
//     replacement starts a new cycle.
//   - block replacement: all parts at T, 2T, 3T ...; failures in between are
//     replaced when they occur and do not move the block.
//
// Ages, rates and money are in whatever unit the caller uses throughout; the
// relamp plan uses run-hours and the site's currency.
//
// Promises: deterministic; a model without a finite optimum is told apart in
// words (Optimum.Why), never by NaN or Inf.
package renewal

import (
	"fmt"
	"math"
)

// Tolerance is the share above the least cost rate that is still called flat.
const Tolerance = 0.02

// Model is one part and its costs.
type Model struct {
	Survive func(h float64) float64 // P(life > h), 1 at 0, never rising; nil = never fails
	Loss    func(h float64) float64 // money an hour at age h, given that it works; nil = none
	Planned float64                 // cost of a replacement in time, >= 0
	Failure float64                 // cost of a replacement after a failure, >= 0
	Max     float64                 // ages are searched in (0, Max]
}

// Optimum is the least of a cost rate.
type Optimum struct {
	Known  bool    // false: Why says what is missing or why there is no least
	T      float64 // where the cost rate is least
	Rate   float64 // the least cost rate
	Lo, Hi float64 // nearest ages on both sides at which the rate is Tolerance above the least
	HiOpen bool    // no such age up to Max; Hi is then Max
	Why    string
	Curve  []Point // the cost rate over age, ages rising
}

// Point is one point of a cost curve.
type Point struct{ T, Rate float64 }

func (m Model) check() error {
	switch {
	case !(m.Max > 0) || math.IsInf(m.Max, 0):
		return fmt.Errorf("search limit %g is not a positive age: set Max", m.Max)
	case !(m.Planned >= 0) || !(m.Failure >= 0) || math.IsInf(m.Planned+m.Failure, 0):
		return fmt.Errorf("costs %g (planned) and %g (failure) must be finite and not negative", m.Planned, m.Failure)
	case m.Planned == 0 && m.Failure == 0 && m.Loss == nil:
		return fmt.Errorf("neither a replacement nor lost output costs anything: give a price or a value of output")
	case m.Planned == 0:
		return fmt.Errorf("a planned replacement that costs nothing would be made every day: give its price or its labour")
	case m.Survive == nil && m.Loss == nil:
		return fmt.Errorf("the part neither fails nor loses output: there is nothing to replace it for")
	}
	return nil
}

func (m Model) survive(h float64) float64 {
	if m.Survive == nil {
		return 1
	}
	return m.Survive(h)
}

func (m Model) loss(h float64) float64 {
	if m.Loss == nil {
		return 0
	}
	return m.Loss(h)
}
