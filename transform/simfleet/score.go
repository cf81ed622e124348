package simfleet

import (
	"fmt"
	"math"
	"sort"
)

// Score sums up cases of one age.
type Score struct {
	N         int
	Refused   float64 // share
	Median    float64 // median of |centre - truth|/truth of the answered
	Bias      float64 // median of (centre - truth)/truth
	Hit       float64 // answered and within 20 %, over all
	Coverage  float64 // of the intervals, answered cases
	Below     float64 // truth under the interval
	Bounds    int     // lower bounds that stand alone
	BoundHeld float64
	Ranges    int // over what can't be told apart
	RangeHeld float64
	ByStatus  map[string]int
}

// ScoreOf scores the cases of one age.
func ScoreOf(cases []Case, age float64) Score {
	var s Score
	var errs, signed []float64
	hit, held, below, bounds, ranges := 0, 0, 0, 0, 0
	s.ByStatus = map[string]int{}
	for _, c := range cases {
		if c.Age != age {
			continue
		}
		s.N++
		s.ByStatus[string(c.Status)]++
		if !math.IsNaN(c.Bound) {
			s.Bounds++
			if c.Bound <= c.Truth {
				bounds++
			}
		}
		if !math.IsNaN(c.Range.Lo) {
			s.Ranges++
			if c.Range.Lo <= c.Truth && math.Min(c.Truth, curveEnd) <= c.Range.Hi {
				ranges++
			}
		}
		if math.IsNaN(c.Due.Centre) || math.IsInf(c.Due.Centre, 0) {
			continue
		}
		truth := math.Min(c.Truth, curveEnd)
		e := (c.Due.Centre - truth) / truth
		errs, signed = append(errs, math.Abs(e)), append(signed, e)
		if math.Abs(e) <= .2 {
			hit++
		}
		switch {
		case c.Due.Lo > c.Truth:
			below++
		case c.Due.Hi >= truth:
			held++
		}
	}
	if s.N == 0 {
		return s
	}
	n := float64(len(errs))
	s.Refused, s.Hit = 1-n/float64(s.N), float64(hit)/float64(s.N)
	s.Median, s.Bias = quantile(errs, .5), quantile(signed, .5)
	s.Coverage, s.Below = float64(held)/n, float64(below)/n
	s.BoundHeld = float64(bounds) / float64(s.Bounds)
	s.RangeHeld = float64(ranges) / float64(s.Ranges)
	return s
}

func quantile(x []float64, p float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	sort.Float64s(x)
	return x[int(p*float64(len(x)-1)+.5)]
}

// Statuses lists the statuses said, in order of name.
func (s Score) Statuses() string {
	names := make([]string, 0, len(s.ByStatus))
	for n := range s.ByStatus {
		names = append(names, n)
	}
	sort.Strings(names)
	out := ""
	for _, n := range names {
		out += fmt.Sprintf("%s %d  ", n, s.ByStatus[n])
	}
	return out
}
