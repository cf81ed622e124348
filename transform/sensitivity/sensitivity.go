// Package sensitivity estimates from a site's own swings how much light its
// lamps gain for a per cent of supply voltage and for a degree.
//
// No published value of the light of HPS gear against voltage was found, and a
// declared coefficient is somebody's guess. But voltage and temperature swing
// from day to day and ageing does not: the change of ln(output) from one day to
// the next, against the change of ln(voltage) and of the temperature, is what
// the coefficients are made of.
//
//  1. Each lamp gives the differences of days that follow each other.
//  2. Least squares over all lamps of a kind, through the origin, with wild
//     differences weighed down (Huber's weights at 2.5 robust sd).
//  3. Lamps on one circuit share their voltage and what else is wrong that day,
//     and neighbouring differences share a day. The interval is therefore from
//     the scatter of whole fortnights (a cluster-robust covariance: Liang &
//     Zeger 1986, Biometrika 73:13-22), with Student's t on their number.
//
// Noise of the voltmeter itself pulls the coefficient towards nil, by its
// variance over that of the swing. A day's median of forty readings of 0.1 %
// has some 0.02 %, which does not matter beside a swing of 1 %; the result says
// so where the swing is small.
package sensitivity

import (
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"

	"wane/transform/estimate"
)

// Day is one day of one lamp. Supply is ln(voltage), Ambient degC; NaN where
// not read.
type Day struct {
	Day     int32
	Out     float64 // ln of output, uncorrected, at full power
	Supply  float64
	Ambient float64
}

// Coefficients are per cent of light per per cent of voltage, and relative
// light per degree, each with its interval.
type Coefficients struct {
	Supply  estimate.Estimate
	Ambient estimate.Estimate
}

const method = "day-to-day differences, fortnights as clusters"

// leastFortnights is how many fortnights an interval needs (common practice, no
// source: below it the sandwich covariance is too optimistic).
const leastFortnights = 12

// leastSwing is the day-to-day sd of ln(voltage) below which a voltmeter's own
// noise of about 0.1 % begins to matter.
const leastSwing = 0.003

// row is one difference between two days that follow each other.
type row struct {
	dy, dv, dt float64
	weight     float64
	block      int32
}

// Estimate gives the coefficients of lamps of one kind, each a list of days in
// order, with intervals of the given level.
func Estimate(lamps [][]Day, level float64) Coefficients {
	rows, hasV, hasT := differences(lamps)
	none := func(why string) estimate.Estimate { return estimate.None(method, why) }
	out := Coefficients{
		Supply:  none("no supply readings on days that follow each other"),
		Ambient: none("no temperature readings on days that follow each other"),
	}
	use := columns(hasV, hasT)
	if len(use) == 0 {
		return out
	}
	b, cov, blocks, ok := fit(rows, use)
	if !ok || blocks < leastFortnights {
		why := fmt.Sprintf("%d fortnights with readings, %d are needed", blocks, leastFortnights)
		out.Supply, out.Ambient = none(why), none(why)
		return out
	}
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(blocks - len(use))}.Quantile(0.5 + level/2)
	for k, c := range use {
		se := math.Sqrt(cov[k][k])
		e := estimate.Estimate{Centre: b[k], Lo: b[k] - t*se, Hi: b[k] + t*se, Level: level, N: len(rows), Method: method}
		if c == 0 {
			if s := swing(rows); s < leastSwing {
				e = e.Warn(fmt.Sprintf("the voltage swings by only %.2f %% from day to day: the voltmeter's own noise pulls this towards nil", 100*s))
			}
			out.Supply = e
		} else {
			out.Ambient = e
		}
	}
	return out
}

// columns gives which of supply (0) and ambient (1) the rows tell of.
func columns(hasV, hasT bool) []int {
	var use []int
	if hasV {
		use = append(use, 0)
	}
	if hasT {
		use = append(use, 1)
	}
	return use
}

// differences are of days one or two apart; a kind of condition counts where
// most differences have it, and rows without it are then left out.
func differences(lamps [][]Day) (rows []row, hasV, hasT bool) {
	nv, nt, n := 0, 0, 0
	for _, days := range lamps {
		for i := 1; i < len(days); i++ {
			if days[i].Day-days[i-1].Day > 2 {
				continue
			}
			n++
			if ok(days[i].Supply - days[i-1].Supply) {
				nv++
			}
			if ok(days[i].Ambient - days[i-1].Ambient) {
				nt++
			}
		}
	}
	hasV, hasT = n > 0 && 2*nv > n, n > 0 && 2*nt > n
	for _, days := range lamps {
		first := len(rows)
		for i := 1; i < len(days); i++ {
			a, b := days[i-1], days[i]
			r := row{dy: b.Out - a.Out, dv: b.Supply - a.Supply, dt: b.Ambient - a.Ambient, weight: 1, block: b.Day / 14}
			if b.Day-a.Day > 2 || !ok(r.dy) || (hasV && !ok(r.dv)) || (hasT && !ok(r.dt)) {
				continue
			}
			rows = append(rows, r)
		}
		scaleLamp(rows[first:])
	}
	return rows, hasV, hasT
}

// scaleLamp weighs a lamp's rows by its own noise, so that a jittery sensor
// does not drown the others.
func scaleLamp(rows []row) {
	d := make([]float64, len(rows))
	for i, r := range rows {
		d[i] = math.Abs(r.dy)
	}
	if len(d) == 0 {
		return
	}
	sort.Float64s(d)
	sd := math.Max(1e-4, 1.4826*d[len(d)/2])
	for i := range rows {
		rows[i].weight = 1 / (sd * sd)
	}
}

func ok(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

func swing(rows []row) float64 {
	s := 0.0
	for _, r := range rows {
		s += r.dv * r.dv / float64(len(rows))
	}
	return math.Sqrt(s / 2)
}

// fit solves the weighted normal equations of one or two columns, three times
// with new robust weights, and gives the cluster-robust covariance.
func fit(rows []row, use []int) (b [2]float64, cov [2][2]float64, blocks int, done bool) {
	p := len(use)
	huber := make([]float64, len(rows))
	for i := range huber {
		huber[i] = 1
	}
	x := func(r row, k int) float64 {
		if use[k] == 0 {
			return r.dv
		}
		return r.dt
	}
	var inv [2][2]float64
	for range 3 {
		var a [2][2]float64
		var g [2]float64
		for i, r := range rows {
			w := r.weight * huber[i]
			for k := range p {
				g[k] += w * x(r, k) * r.dy
				for m := range p {
					a[k][m] += w * x(r, k) * x(r, m)
				}
			}
		}
		if inv, done = invert(a, p); !done {
			return b, cov, 0, false
		}
		b = [2]float64{}
		for k := range p {
			for m := range p {
				b[k] += inv[k][m] * g[m]
			}
		}
		weigh(rows, huber, func(r row) float64 { return residual(r, b, x, p) })
	}
	scores := map[int32][2]float64{}
	for i, r := range rows {
		s := scores[r.block]
		e := r.weight * huber[i] * residual(r, b, x, p)
		for k := range p {
			s[k] += e * x(r, k)
		}
		scores[r.block] = s
	}
	var meat [2][2]float64
	keys := make([]int32, 0, len(scores))
	for k := range scores {
		keys = append(keys, k)
	}
	sort.Slice(keys, func(i, j int) bool { return keys[i] < keys[j] })
	for _, key := range keys {
		s := scores[key]
		for k := range p {
			for m := range p {
				meat[k][m] += s[k] * s[m]
			}
		}
	}
	blocks = len(keys)
	small := float64(blocks) / math.Max(1, float64(blocks-p)) // finite-sample factor of the sandwich
	for i := range p {
		for j := range p {
			for k := range p {
				for m := range p {
					cov[i][j] += small * inv[i][k] * meat[k][m] * inv[m][j]
				}
			}
		}
	}
	return b, cov, blocks, true
}

func residual(r row, b [2]float64, x func(row, int) float64, p int) float64 {
	e := r.dy
	for k := range p {
		e -= b[k] * x(r, k)
	}
	return e
}

// weigh gives Huber's weights for the residuals in units of each lamp's noise.
func weigh(rows []row, huber []float64, res func(row) float64) {
	u := make([]float64, len(rows))
	for i, r := range rows {
		u[i] = math.Abs(res(r)) * math.Sqrt(r.weight)
	}
	sorted := append([]float64(nil), u...)
	sort.Float64s(sorted)
	sd := math.Max(1e-12, 1.4826*sorted[len(sorted)/2])
	for i := range rows {
		huber[i] = math.Min(1, 2.5*sd/math.Max(u[i], 1e-12))
	}
}

// invert gives the inverse of the leading p x p of a symmetric matrix; done is
// false where it has none.
func invert(a [2][2]float64, p int) (inv [2][2]float64, done bool) {
	if p == 1 {
		if a[0][0] <= 0 {
			return inv, false
		}
		inv[0][0] = 1 / a[0][0]
		return inv, true
	}
	det := a[0][0]*a[1][1] - a[0][1]*a[1][0]
	if !(det > 1e-12*a[0][0]*a[1][1]) {
		return inv, false
	}
	return [2][2]float64{{a[1][1] / det, -a[0][1] / det}, {-a[1][0] / det, a[0][0] / det}}, true
}
