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
//  2. A day's voltage has noise of its own, which would pull the coefficient
//     towards nil. So the difference from the day before to the day after those
//     two serves as instrument: it goes with their voltage, not with their
//     noise (instrumental variables; Fuller 1987, Measurement Error Models,
//     section 1.4).
//  3. The estimate is over all lamps of a kind, through the origin, with wild
//     differences weighed down (Huber's weights at 2.5 robust sd).
//  4. Lamps on one circuit share their voltage and what else is wrong that day,
//     and neighbouring differences share a day. The interval is therefore from
//     the scatter of whole fortnights (a cluster-robust covariance: Liang &
//     Zeger 1986, Biometrika 73:13-22), with Student's t on their number.
package sensitivity

import (
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"

	"wane/transform/estimate"
	"wane/transform/robust"
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

const method = "day-to-day differences, neighbouring days as instrument, fortnights as clusters"

// leastFortnights is how many fortnights an interval needs (common practice, no
// source: below it the sandwich covariance is too optimistic).
const leastFortnights = 12

// leastShare is how much of the voltage's differences its instrument must go
// with: below it the estimate leans on few days (common practice, no source).
const leastShare = 0.02

// row is one difference between two days that follow each other, and that
// between their neighbours.
type row struct {
	dy, dv, dt float64
	zv, zt     float64
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
			out.Supply = weak(e, rows, func(r row) (x, z float64) { return r.dv, r.zv })
		} else {
			out.Ambient = weak(e, rows, func(r row) (x, z float64) { return r.dt, r.zt })
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

// weak warns where the instrument hardly goes with the differences.
func weak(e estimate.Estimate, rows []row, xz func(row) (x, z float64)) estimate.Estimate {
	var xx, zz, cross float64
	for _, r := range rows {
		x, z := xz(r)
		xx, zz, cross = xx+x*x, zz+z*z, cross+x*z
	}
	if cross*cross < leastShare*xx*zz {
		return e.Warn("from day to day it swings hardly more than its own noise: the estimate leans on few days")
	}
	return e
}

// apart is how many days may lie between two that follow each other.
const apart = 2

// differences are of days that follow each other and have neighbours; a kind of
// condition counts where most differences have it, and rows without it are
// then left out.
func differences(lamps [][]Day) (rows []row, hasV, hasT bool) {
	nv, nt, room := 0, 0, 0
	for _, days := range lamps {
		room += max(0, len(days)-3)
	}
	all, ends := make([]row, 0, room), make([]int, len(lamps)) // of each lamp's rows
	for k, days := range lamps {
		for i := 2; i+1 < len(days); i++ {
			o, a, b, c := &days[i-2], &days[i-1], &days[i], &days[i+1]
			if a.Day-o.Day > apart || b.Day-a.Day > apart || c.Day-b.Day > apart || !ok(b.Out-a.Out) {
				continue
			}
			r := row{
				dy: b.Out - a.Out, dv: b.Supply - a.Supply, dt: b.Ambient - a.Ambient,
				zv: c.Supply - o.Supply, zt: c.Ambient - o.Ambient, weight: 1, block: b.Day / 14,
			}
			all = append(all, r)
			if ok(r.dv + r.zv) {
				nv++
			}
			if ok(r.dt + r.zt) {
				nt++
			}
		}
		ends[k] = len(all)
	}
	n := len(all)
	hasV, hasT = n > 0 && 2*nv > n, n > 0 && 2*nt > n
	rows = all[:0] // what stays moves up
	for k, from := 0, 0; k < len(ends); k, from = k+1, ends[k] {
		first := len(rows)
		for _, r := range all[from:ends[k]] {
			if (!hasV || ok(r.dv+r.zv)) && (!hasT || ok(r.dt+r.zt)) {
				rows = append(rows, r)
			}
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
	sd := math.Max(1e-4, robust.Normal*robust.Middle(d))
	for i := range rows {
		rows[i].weight = 1 / (sd * sd)
	}
}

func ok(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// fit solves the weighted moment equations of one or two columns, three times
// with new robust weights, and gives the cluster-robust covariance.
func fit(rows []row, use []int) (b [2]float64, cov [2][2]float64, blocks int, done bool) {
	p := len(use)
	huber := make([]float64, len(rows))
	for i := range huber {
		huber[i] = 1
	}
	x := func(r row, k int) float64 { return [2]float64{r.dv, r.dt}[use[k]] }
	z := func(r row, k int) float64 { return [2]float64{r.zv, r.zt}[use[k]] }
	var inv [2][2]float64
	for range 3 {
		var a [2][2]float64
		var g [2]float64
		for i, r := range rows {
			w := r.weight * huber[i]
			for k := range p {
				g[k] += w * z(r, k) * r.dy
				for m := range p {
					a[k][m] += w * z(r, k) * x(r, m)
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
			s[k] += e * z(r, k)
		}
		scores[r.block] = s
	}
	return b, sandwich(inv, scores, p), len(scores), true
}

// sandwich is the covariance of the coefficients from the scores of clusters.
func sandwich(inv [2][2]float64, scores map[int32][2]float64, p int) (cov [2][2]float64) {
	keys := make([]int32, 0, len(scores))
	for k := range scores {
		keys = append(keys, k)
	}
	sort.Slice(keys, func(i, j int) bool { return keys[i] < keys[j] }) // a sum in fixed order
	var meat [2][2]float64
	for _, key := range keys {
		s := scores[key]
		for k := range p {
			for m := range p {
				meat[k][m] += s[k] * s[m]
			}
		}
	}
	blocks := float64(len(keys))
	small := blocks / math.Max(1, blocks-float64(p)) // finite-sample factor
	for i := range p {
		for j := range p {
			for k := range p {
				for m := range p {
					cov[i][j] += small * inv[i][k] * meat[k][m] * inv[j][m]
				}
			}
		}
	}
	return cov
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
	sd := math.Max(1e-12, robust.Normal*robust.Middle(u))
	for i := range rows {
		huber[i] = math.Min(1, 2.5*sd/math.Max(u[i], 1e-12))
	}
}

// invert gives the inverse of the leading p x p of a matrix; done is false where
// it has none to speak of.
func invert(a [2][2]float64, p int) (inv [2][2]float64, done bool) {
	if p == 1 {
		if a[0][0] == 0 {
			return inv, false
		}
		inv[0][0] = 1 / a[0][0]
		return inv, true
	}
	det := a[0][0]*a[1][1] - a[0][1]*a[1][0]
	if !(math.Abs(det) > 1e-9*math.Abs(a[0][0]*a[1][1])) {
		return inv, false
	}
	return [2][2]float64{{a[1][1] / det, -a[0][1] / det}, {-a[1][0] / det, a[0][0] / det}}, true
}
