// Package changepoint finds steps in a level that nobody logged: a cleaning, a
// relamp, a move, a sensor put back askew.
//
//  1. Single wild days are drawn in to the running median of their week (a
//     Hampel filter).
//  2. The days are cut into stretches, each with a straight line of its own, so
//     that the squared residuals plus a penalty for each cut are least. The
//     search is exact: pruned dynamic programming (PELT; Killick, Fearnhead &
//     Eckley 2012, J. Am. Stat. Assoc. 107:1590-1598).
//  3. The penalty grows with log n (a Schwarz penalty) and with how much more
//     the week means scatter than independent days would, since days share
//     weather and line voltage.
//  4. A cut is a step where the lines on both sides differ at it by more than
//     the least size and by more than their own uncertainty.
//
// What a step means is not decided here.
package changepoint

import (
	"math"
	"sort"

	"wane/transform/robust"
)

// Settings of the search. The zero value takes the defaults.
type Settings struct {
	LeastStep float64 // ln, smaller ones are not reported; 0: 0.02
	LeastDays int     // of a stretch; 0: 7
	Penalty   float64 // for a cut, in multiples of ln n; 0: 4
	Sure      float64 // how many standard errors a step must have; 0: 4
}

func (s Settings) filled() Settings {
	set := func(p *float64, v float64) {
		if *p == 0 {
			*p = v
		}
	}
	set(&s.LeastStep, 0.02)
	set(&s.Penalty, 4)
	set(&s.Sure, 4)
	if s.LeastDays == 0 {
		s.LeastDays = 7
	}
	return s
}

// Step is a jump of ln(level) between two days.
type Step struct {
	Before, After int32   // the last day before it and the first after it
	Size          float64 // ln: positive is brighter
	SE            float64 // ln, standard error of Size
}

// Steps finds the steps of y (ln of the level) over days, which must rise.
func Steps(days []int32, y []float64, s Settings) []Step {
	s = s.filled()
	n := len(y)
	if n < 2*s.LeastDays {
		return nil
	}
	x := make([]float64, n)
	for i, d := range days {
		x[i] = float64(d-days[0]) / 365.25
	}
	noise := daySpread(y)
	z := drawnIn(y, noise)
	inflation := weekInflation(z, noise)
	cuts := pelt(newSums(x, z), s.LeastDays, s.Penalty*math.Log(float64(n))*inflation*noise*noise)
	var out []Step
	for k, c := range cuts {
		lo, hi := 0, n
		if k > 0 {
			lo = cuts[k-1]
		}
		if k < len(cuts)-1 {
			hi = cuts[k+1]
		}
		size, se := jump(x, z, max(lo, c-beside), c, min(hi, c+beside), noise*math.Sqrt(inflation))
		if math.Abs(size) >= s.LeastStep && math.Abs(size) >= s.Sure*se {
			out = append(out, Step{Before: days[c-1], After: days[c], Size: size, SE: se})
		}
	}
	return out
}

// beside is how many days on each side tell the size of a step.
const beside = 30

// daySpread is the sd of independent noise from day to day, from the absolute
// differences; at least a tenth of a per cent, the printed digits of a logger.
func daySpread(y []float64) float64 {
	d := make([]float64, 0, len(y)-1)
	for i := 1; i < len(y); i++ {
		d = append(d, math.Abs(y[i]-y[i-1]))
	}
	return math.Max(0.001, robust.Normal*robust.Median(d)/math.Sqrt2)
}

// drawnIn replaces days that stand more than 4 sd from the median of the seven
// around them by that median.
func drawnIn(y []float64, noise float64) []float64 {
	out := make([]float64, len(y))
	w := make([]float64, 0, 7)
	for i := range y {
		w = append(w[:0], y[max(0, i-3):min(len(y), i+4)]...)
		m := robust.Median(w)
		out[i] = y[i]
		if math.Abs(y[i]-m) > 4*noise {
			out[i] = m
		}
	}
	return out
}

// weekInflation is how much the means of seven days scatter from the line
// through their neighbours, over what independent days would give.
func weekInflation(z []float64, noise float64) float64 {
	var means []float64
	for i := 0; i+7 <= len(z); i += 7 {
		s := 0.0
		for _, v := range z[i : i+7] {
			s += v / 7
		}
		means = append(means, s)
	}
	var d []float64
	for i := 1; i+1 < len(means); i++ {
		d = append(d, math.Abs(means[i]-(means[i-1]+means[i+1])/2))
	}
	if len(d) < 4 {
		return 1
	}
	sd := robust.Normal * robust.Median(d) / math.Sqrt(1.5) // of one week's mean
	return math.Min(20, math.Max(1, sd*sd*7/(noise*noise)))
}

// sums are running sums over the days, for the residuals of any stretch's line
// in constant time.
type sums struct{ one, x, xx, y, xy, yy []float64 }

func newSums(x, y []float64) sums {
	n := len(x)
	s := sums{make([]float64, n+1), make([]float64, n+1), make([]float64, n+1), make([]float64, n+1), make([]float64, n+1),
		make([]float64, n+1)}
	for i := range x {
		s.one[i+1] = s.one[i] + 1
		s.x[i+1] = s.x[i] + x[i]
		s.xx[i+1] = s.xx[i] + x[i]*x[i]
		s.y[i+1] = s.y[i] + y[i]
		s.xy[i+1] = s.xy[i] + x[i]*y[i]
		s.yy[i+1] = s.yy[i] + y[i]*y[i]
	}
	return s
}

// residual is the sum of squares left by the straight line through [lo, hi).
func (s sums) residual(lo, hi int) float64 {
	n := s.one[hi] - s.one[lo]
	mx, my := (s.x[hi]-s.x[lo])/n, (s.y[hi]-s.y[lo])/n
	sxx := s.xx[hi] - s.xx[lo] - n*mx*mx
	sxy := s.xy[hi] - s.xy[lo] - n*mx*my
	syy := s.yy[hi] - s.yy[lo] - n*my*my
	if sxx > 0 {
		syy -= sxy * sxy / sxx
	}
	return math.Max(0, syy)
}

// pelt gives the cuts of the best segmentation, in order.
func pelt(s sums, least int, penalty float64) []int {
	n := len(s.one) - 1
	best := make([]float64, n+1)
	from := make([]int, n+1)
	best[0] = -penalty
	for t := 1; t < least && t <= n; t++ {
		best[t] = math.Inf(1)
	}
	alive := []int{0}
	until := make([]int, n+1) // a candidate that has lost is dropped here; 0 = it has not
	cost := make([]float64, 0, n)
	for t := least; t <= n; t++ {
		best[t] = math.Inf(1)
		cost = cost[:0]
		for _, c := range alive {
			v := best[c] + s.residual(c, t)
			cost = append(cost, v)
			if v+penalty < best[t] {
				best[t], from[t] = v+penalty, c
			}
		}
		keep := alive[:0]
		for i, c := range alive {
			// what beats c at t can take its place only once a stretch from
			// t on is long enough
			if cost[i] > best[t] && until[c] == 0 {
				until[c] = t + least
			}
			if until[c] == 0 || t+1 < until[c] {
				keep = append(keep, c)
			}
		}
		alive = keep
		if next := t - least + 1; next >= least { // so that no stretch is shorter than the least
			alive = append(alive, next)
		}
	}
	var cuts []int
	for t := n; t > 0 && from[t] > 0; t = from[t] {
		cuts = append(cuts, from[t])
	}
	sort.Ints(cuts)
	return cuts
}

// jump is the difference at cut c of the lines through [lo, c) and [c, hi),
// with its standard error for days of the given sd.
func jump(x, y []float64, lo, c, hi int, sd float64) (size, se float64) {
	at := (x[c-1] + x[c]) / 2
	a, va := lineAt(x[lo:c], y[lo:c], at)
	b, vb := lineAt(x[c:hi], y[c:hi], at)
	return b - a, sd * math.Sqrt(va+vb)
}

// lineAt is the value at x0 of the straight line through the points, and its
// variance for noise of unit variance.
func lineAt(x, y []float64, x0 float64) (v, variance float64) {
	n := float64(len(x))
	mx, my := 0.0, 0.0
	for i := range x {
		mx, my = mx+x[i]/n, my+y[i]/n
	}
	sxx, sxy := 0.0, 0.0
	for i := range x {
		sxx += (x[i] - mx) * (x[i] - mx)
		sxy += (x[i] - mx) * (y[i] - my)
	}
	if sxx == 0 {
		return my, 1 / n
	}
	return my + sxy/sxx*(x0-mx), 1/n + (x0-mx)*(x0-mx)/sxx
}
