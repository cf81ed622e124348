package survival

import (
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"

	"wane/transform/estimate"
)

// Window is a stretch of age or time during which a position was watched: a
// replacement counts if From < t <= To.
type Window struct{ From, To float64 }

// Position is a place in the fleet where the lamp is replaced each time it
// fails. Its axis may be the position's burning hours or its calendar.
type Position struct {
	ID       string
	Windows  []Window  // in order, not overlapping
	Failures []float64 // each inside a window; two at one time count twice
}

// MCFStep is the mean cumulative function from Time to the next step's.
type MCFStep struct {
	Time     float64
	AtRisk   int // positions under watch
	Failures int
	Mean     float64 // failures per position since the start of the axis
	SE       float64
	Lo, Hi   float64
}

// MCF is the mean cumulative function: how many failures a position has had, on
// average, by each age. Its slope is the failure rate per position; a slope
// that grows says that replacing does not renew.
type MCF struct {
	Steps     []MCFStep // at each distinct failure time
	Positions int
	Failures  int
	Level     float64
	Warnings  []string

	windows []Window // of all positions, for the limit where nothing has failed
}

// MeanCumulative estimates the mean cumulative function (Nelson 2003) with the
// robust variance of Lawless and Nadeau (1995), which holds when failures of
// one position are not independent. Limits are normal on log(MCF).
// Before the first failure the upper limit is that of no Poisson event among
// the positions under watch since the start.
func MeanCumulative(positions []Position, level float64) (MCF, error) {
	if err := checkLevel(level); err != nil {
		return MCF{}, err
	}
	m := MCF{Positions: len(positions), Level: level}
	times, total, err := failureTimes(positions)
	if err != nil {
		return MCF{}, err
	}
	m.Failures = total
	for _, p := range positions {
		m.windows = append(m.windows, p.Windows...)
	}
	if len(m.windows) == 0 {
		m.Warnings = append(m.Warnings, "no positions under watch")
	}
	atRisk := atRiskAt(positions, times)
	deaths := make([]int, len(times))
	index := make(map[float64]int, len(times))
	for k, t := range times {
		index[t] = k
	}
	for _, p := range positions {
		for _, f := range p.Failures {
			deaths[index[f]]++
		}
	}
	variance := robust(positions, times, index, atRisk, deaths)
	z := quantileZ(level)
	mean, sofar := 0.0, 0
	for k, t := range times {
		mean += float64(deaths[k]) / float64(atRisk[k])
		sofar += deaths[k]
		s := MCFStep{Time: t, AtRisk: atRisk[k], Failures: deaths[k], Mean: mean, SE: math.Sqrt(math.Max(variance[k], 0))}
		s.Lo, s.Hi = mean*math.Exp(-z*s.SE/mean), mean*math.Exp(z*s.SE/mean)
		if s.SE < 1e-12 {
			// All positions alike so far, or one position: no spread to judge from.
			s.Lo, s.Hi = poissonMean(sofar, float64(sofar)/mean, level)
		}
		m.Steps = append(m.Steps, s)
	}
	if len(positions) == 1 {
		m.Warnings = append(m.Warnings, "one position: limits are those of a Poisson count")
	}
	for _, s := range m.Steps {
		if s.AtRisk < 5 && m.Positions >= 5 {
			m.Warnings = append(m.Warnings, fmt.Sprintf("fewer than 5 positions under watch at %g: the curve from there "+
				"rests on few", s.Time))
			break
		}
	}
	return m, nil
}

// poissonMean gives the chi-square limits of a count of r over a number of
// positions.
func poissonMean(r int, positions, level float64) (lo, hi float64) {
	a := 1 - level
	return distuv.ChiSquared{K: 2 * float64(r)}.Quantile(a/2) / 2 / positions,
		distuv.ChiSquared{K: 2*float64(r) + 2}.Quantile(1-a/2) / 2 / positions
}

// At gives the mean cumulative function at t, counted from the start of the
// axis at 0.
func (m MCF) At(t float64) estimate.Estimate {
	const method = "mean cumulative function, Lawless-Nadeau variance"
	if len(m.windows) == 0 {
		return estimate.None(method, "no positions under watch")
	}
	i := sort.Search(len(m.Steps), func(i int) bool { return m.Steps[i].Time > t }) - 1
	e := estimate.Estimate{Level: m.Level, N: m.Positions, Method: method, Warnings: append([]string(nil), m.Warnings...)}
	least, end := m.least(t)
	if t > end {
		e = e.Warn(fmt.Sprintf("%g lies past the end of the watch at %g", t, end))
	}
	if i >= 0 {
		e.Centre, e.Lo, e.Hi = m.Steps[i].Mean, m.Steps[i].Lo, m.Steps[i].Hi
		return e
	}
	if least == 0 {
		e.Hi = math.Inf(1)
		return e.Warn("no failures, and not under watch throughout: no upper limit")
	}
	e.Hi = -math.Log1p(-m.Level) / float64(least)
	return e.Warn("no failures so far: the upper limit is one-sided, of no event among the positions")
}

// least gives the smallest number of positions under watch over (0, t], and the
// end of the last window.
func (m MCF) least(t float64) (n int, end float64) {
	marks := []float64{t}
	end = math.Inf(-1)
	for _, w := range m.windows {
		end = math.Max(end, w.To)
		for _, x := range []float64{w.From, w.To} {
			if x > 0 && x < t {
				marks = append(marks, x)
			}
		}
	}
	sort.Float64s(marks)
	n = math.MaxInt
	for _, a := range atRiskAt([]Position{{Windows: m.windows}}, marks) {
		n = min(n, a)
	}
	return n, end
}

// failureTimes checks the positions and gives the distinct failure times in order.
func failureTimes(positions []Position) (times []float64, total int, err error) {
	for _, p := range positions {
		last := math.Inf(-1)
		for _, w := range p.Windows {
			if !estimate.Finite(w.From) || !estimate.Finite(w.To) || w.To <= w.From {
				return nil, 0, fmt.Errorf("position %s: window %v to %v: must be finite and end after it begins",
					p.ID, w.From, w.To)
			}
			if w.From < last {
				return nil, 0, fmt.Errorf("position %s: window from %v begins before the one ahead of it ends at %v; put "+
					"windows in order, without overlap", p.ID, w.From, last)
			}
			last = w.To
		}
		for _, f := range p.Failures {
			if !p.sees(f) {
				return nil, 0, fmt.Errorf("position %s: failure at %v outside its windows: it was not under watch then", p.ID, f)
			}
			times = append(times, f)
			total++
		}
	}
	sort.Float64s(times)
	distinct := times[:0]
	for i, t := range times {
		if i == 0 || t != distinct[len(distinct)-1] {
			distinct = append(distinct, t)
		}
	}
	return distinct, total, nil
}

func (p Position) sees(t float64) bool {
	for _, w := range p.Windows {
		if w.From < t && t <= w.To {
			return true
		}
	}
	return false
}

func atRiskAt(positions []Position, times []float64) []int {
	change := make([]int, len(times)+1)
	for _, p := range positions {
		for _, w := range p.Windows {
			change[after(times, w.From)]++
			change[after(times, w.To)]--
		}
	}
	at := make([]int, len(times))
	n := 0
	for k := range times {
		n += change[k]
		at[k] = n
	}
	return at
}

// after gives the index of the first time greater than t.
func after(times []float64, t float64) int {
	return sort.Search(len(times), func(i int) bool { return times[i] > t })
}

// robust gives the variance at each failure time: the sum over positions of the
// square of U, which jumps by 1/n at an own failure and falls by d/n² at any
// failure while the position is under watch. All under watch fall together, so
// sums over them suffice.
func robust(positions []Position, times []float64, index map[float64]int, atRisk, deaths []int) []float64 {
	type move struct{ position, enter int }
	moves := make([][]move, len(times)+1)
	fails := make([][]int, len(times))
	for i, p := range positions {
		for _, w := range p.Windows {
			from, to := after(times, w.From), after(times, w.To)
			if from < to {
				moves[from] = append(moves[from], move{i, 1})
				moves[to] = append(moves[to], move{i, 0})
			}
		}
		for _, f := range p.Failures {
			fails[index[f]] = append(fails[index[f]], i)
		}
	}
	// Of a position under watch c is U + fall; of an idle one, U.
	c := make([]float64, len(positions))
	var sum, square, idle, fall float64
	variance := make([]float64, len(times))
	for k := range times {
		for _, enter := range []int{0, 1} { // those that leave and come back leave first
			for _, mv := range moves[k] {
				if mv.enter != enter {
					continue
				}
				i := mv.position
				if enter == 1 {
					idle -= c[i] * c[i]
					c[i] += fall
					sum, square = sum+c[i], square+c[i]*c[i]
				} else {
					sum, square = sum-c[i], square-c[i]*c[i]
					c[i] -= fall
					idle += c[i] * c[i]
				}
			}
		}
		n := float64(atRisk[k])
		for _, i := range fails[k] {
			sum, square = sum-c[i], square-c[i]*c[i]
			c[i] += 1 / n
			sum, square = sum+c[i], square+c[i]*c[i]
		}
		fall += float64(deaths[k]) / (n * n)
		variance[k] = square - 2*fall*sum + n*fall*fall + idle
	}
	return variance
}
