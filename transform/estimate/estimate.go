// Package estimate holds the shape in which every statistic of wane travels:
// a centre is never handed on without its interval, the number of
// observations behind it, the method that made it and what must be said
// about it.
package estimate

import "math"

// Estimate is one statistic. All of Centre, Lo and Hi share one unit, named by
// the function that returns it.
//
// A bound that the data do not give is infinite: Hi is +Inf where only a lower
// bound can be claimed, Lo is -Inf where only an upper one can. An infinite
// bound is a statement for people ("not bounded"); it is never written to a
// file as a number, see Bounded.
type Estimate struct {
	Centre   float64
	Lo, Hi   float64
	Level    float64  // probability content of [Lo, Hi], 0 < Level < 1
	N        int      // observations the statistic rests on
	Method   string   // how it was made, in a few words
	Warnings []string // what the reader must know before using it
}

// None is the estimate of something that the data do not give: all numbers are
// NaN, why says what is missing.
func None(method, why string) Estimate {
	nan := math.NaN()
	return Estimate{Centre: nan, Lo: nan, Hi: nan, Level: nan, Method: method, Warnings: []string{why}}
}

// Known says whether the estimate has a centre.
func (e Estimate) Known() bool { return !math.IsNaN(e.Centre) && !math.IsInf(e.Centre, 0) }

// Bounded says whether both ends of the interval are finite.
func (e Estimate) Bounded() bool { return Finite(e.Lo) && Finite(e.Hi) }

// Scale gives the estimate of k times the quantity. A negative k swaps the
// ends.
func (e Estimate) Scale(k float64) Estimate {
	e.Centre, e.Lo, e.Hi = k*e.Centre, k*e.Lo, k*e.Hi
	if k < 0 {
		e.Lo, e.Hi = e.Hi, e.Lo
	}
	return e
}

// Warn gives the estimate with one more warning.
func (e Estimate) Warn(w string) Estimate {
	e.Warnings = append(append([]string(nil), e.Warnings...), w)
	return e
}

// Finite says whether a number is one: neither NaN nor infinite.
func Finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
