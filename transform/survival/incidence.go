package survival

import (
	"fmt"
	"math"
	"sort"

	"wane/transform/estimate"
)

// Ending is one unit under watch from age Entry to Exit, and how it ended:
// Cause 0 is still working, 1, 2, … are the competing ends, such as dark and
// faded under the threshold.
type Ending struct {
	Entry, Exit float64
	Cause       int
}

// IncidenceStep holds, per cause from 1 on (index 0 is cause 1), the share that
// has ended so by Time.
type IncidenceStep struct {
	Time   float64
	AtRisk int
	Ended  []int
	Share  []float64
	SE     []float64
	Lo, Hi []float64
}

// Incidences are the cumulative incidences of competing ends.
type Incidences struct {
	Steps    []IncidenceStep // at each distinct age at which any unit ended
	Units    int
	Causes   int
	Level    float64
	Warnings []string

	last float64
	flat float64 // lower limit of the share still working before the first end
}

// Incidence estimates for each of the causes 1..causes the share of units that
// end so by each age (Aalen and Johansen 1978). One minus a Kaplan-Meier curve
// that counts the other ends as censored would overstate each.
//
// The variance is the delta-method one with the multinomial law at each age
// (Marubini and Valsecchi 1995, from memory); without late entry it is the
// infinitesimal jackknife of R's survfit. Limits are normal on log(-log F), as R's
// log-log; before the first end of a cause, and where all have ended so, they are
// those of the beta product for all ends together.
func Incidence(endings []Ending, causes int, level float64) (Incidences, error) {
	if err := checkLevel(level); err != nil {
		return Incidences{}, err
	}
	if causes < 1 {
		return Incidences{}, fmt.Errorf("%d causes: at least one way to end is needed", causes)
	}
	for i, u := range endings {
		if err := checkAges(i, u.Entry, u.Exit, u.Cause != 0); err != nil {
			return Incidences{}, err
		}
		if u.Cause < 0 || u.Cause > causes {
			return Incidences{}, fmt.Errorf("unit %d: cause %d: must be 0 (still working) to %d", i+1, u.Cause, causes)
		}
	}
	r := Incidences{Units: len(endings), Causes: causes, Level: level}
	watch := newClock(len(endings), func(i int) (float64, float64) { return endings[i].Entry, endings[i].Exit })
	sorted := append([]Ending(nil), endings...)
	sort.Slice(sorted, func(i, j int) bool { return sorted[i].Exit < sorted[j].Exit })
	if len(sorted) > 0 {
		r.last = sorted[len(sorted)-1].Exit
		r.flat, _ = newBand(BetaProduct, level).limits(watch.atRisk(sorted[0].Exit))
	} else {
		r.Warnings = append(r.Warnings, "no units under watch")
	}

	whole := newBand(BetaProduct, level)
	sums := make([]causeSums, causes)
	z := quantileZ(level)
	for i := 0; i < len(sorted); {
		t := sorted[i].Exit
		ended, d := make([]int, causes), 0
		for ; i < len(sorted) && sorted[i].Exit == t; i++ {
			if c := sorted[i].Cause; c > 0 {
				ended[c-1]++
				d++
			}
		}
		n := watch.atRisk(t)
		if d == 0 || n <= 0 {
			continue
		}
		before := whole.survival
		whole.add(n, d)
		lo, _ := whole.limits(n - d)
		s := IncidenceStep{Time: t, AtRisk: n, Ended: ended}
		for c := range sums {
			sums[c].add(before, n, d, ended[c])
			f, se := sums[c].share, math.Sqrt(sums[c].variance())
			s.Share, s.SE = append(s.Share, f), append(s.SE, se)
			l, h := logLogLimits(f, se, z)
			if !(se > 0) {
				l, h = 0, 1-lo
				if f == 1 {
					l, h = 1-hiOf(whole, n-d), 1
				}
			}
			s.Lo, s.Hi = append(s.Lo, l), append(s.Hi, h)
		}
		r.Steps = append(r.Steps, s)
	}
	return r, nil
}

func hiOf(b *band, left int) float64 {
	_, hi := b.limits(left)
	return hi
}

// logLogLimits are F^exp(±z·se/(F·log F)).
func logLogLimits(f, se, z float64) (lo, hi float64) {
	if f <= 0 || f >= 1 {
		return f, f
	}
	w := z * se / (f * math.Log(f)) // negative
	return math.Pow(f, math.Exp(-w)), math.Pow(f, math.Exp(w))
}

// causeSums holds what the share of one cause and its variance need. With F the
// share and a, b, c the terms of each age, the variance at a later age is
// sum a·(F-F_j)² + b - c·(F-F_j): kept as sums of powers.
type causeSums struct {
	share                  float64
	a0, a1, a2, b0, c0, c1 float64
}

func (s *causeSums) add(before float64, atRisk, ended, own int) {
	n, d, k := float64(atRisk), float64(ended), float64(own)
	s.share += before * k / n
	f := s.share
	s.b0 += before * before * k * (n - k) / (n * n * n)
	if ended == atRisk {
		return // nothing comes after: F - F_j stays nought
	}
	a, c := d/(n*(n-d)), 2*before*k/(n*n)
	s.a0, s.a1, s.a2 = s.a0+a, s.a1+a*f, s.a2+a*f*f
	s.c0, s.c1 = s.c0+c, s.c1+c*f
}

func (s *causeSums) variance() float64 {
	f := s.share
	v := s.a0*f*f - 2*s.a1*f + s.a2 + s.b0 - (s.c0*f - s.c1)
	if v < 1e-15 { // rounding of a difference
		return 0
	}
	return v
}

// At gives the share that has ended by the given cause (1, 2, …) at age t.
func (r Incidences) At(t float64, cause int) estimate.Estimate {
	const method = "cumulative incidence (Aalen-Johansen), log-log limits"
	switch {
	case r.Units == 0:
		return estimate.None(method, "no units under watch")
	case cause < 1 || cause > r.Causes:
		return estimate.None(method, fmt.Sprintf("cause %d: must be 1 to %d", cause, r.Causes))
	}
	e := estimate.Estimate{Level: r.Level, N: r.Units, Method: method, Hi: 1 - r.flat,
		Warnings: append([]string(nil), r.Warnings...)}
	i := sort.Search(len(r.Steps), func(i int) bool { return r.Steps[i].Time > t }) - 1
	if i >= 0 {
		s, c := r.Steps[i], cause-1
		e.Centre, e.Lo, e.Hi = s.Share[c], s.Lo[c], s.Hi[c]
	}
	if t > r.last {
		e.Hi = 1
		e = e.Warn(fmt.Sprintf("age %g lies past the greatest age seen, %g", t, r.last))
	}
	return e
}
