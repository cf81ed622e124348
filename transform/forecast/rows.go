package forecast

import (
	"math"
	"sort"
	"wane/transform/robust"
)

// A row of the model has at most twenty entries that are not zero: eight in
// the lamp's columns, twelve in the group's.
const (
	zA = iota
	zS
	zQ
	zE
	zDirt
	zDim
	zU0
	zU1
	zRate
	zOff
	zSin
	zCos
	zVolt
	zTemp
	zW0
	zW1
	zDays
	zLeft
	zWiped
	zTrend
	zY // the reading itself
	zN
)

// row is one bin ready for the fit: its entries, and which knots and
// interval they belong to. Consecutive rows mostly share the latter.
type row struct {
	z   [zN]float64
	n   int
	day int
	cell
}

type cell struct {
	knot     int // lower ageing knot, -1 for the known nil
	sensor   int
	interval int
	wander   int // lower wander knot
	segment  int
	blind    bool // no supply read
}

// rows appends the rows of a lamp to buf. Weeks with a step in them have none:
// a week's value then stands for neither side, and taken for the side its
// middle lies on it makes every step look smaller. Since the wander lets only
// few weeks about a step tell its size, one such week counts: the rate at which
// dirt gathers came out a tenth too low.
func (m *model) rows(g *groupState, l *lampState, buf []row) []row {
	in := &m.in.Lamps[l.in]
	dirt := m.soil(l)
	power := m.h.power[l.class]
	p0 := math.Exp((1 + power) * lnX0)
	applied := in.Corrected
	seg := 0
	for k := range l.bins {
		b := &l.bins[k]
		if g.stepIn(l, in, b.Day) || m.dustyOn(in, b.Day) {
			continue
		}
		var r row
		r.sensor = partAt(l.parts, b.Day)
		u := g.sensors[r.sensor]
		for seg < len(l.segs) && l.segs[seg].from <= b.Day {
			seg++
		}
		r.segment, r.blind = seg, m.swings(l, b)
		r.n, r.day = b.N, b.Day
		g1, g2, g3 := l.ages[k].basis(power, p0)
		r.z[zA], r.z[zS], r.z[zQ], r.z[zE] = 1, -g1, -g2, g3
		s := dirt.on(b.Day)
		r.z[zDirt], r.z[zDays], r.z[zLeft] = -s.level, -l.bay.dirt*s.byDays, -l.bay.dirt*s.byLeft
		r.z[zWiped] = -l.bay.dirt * s.byWiped
		if l.hasDim {
			r.z[zDim] = 1 - b.Dim
		}
		r.knot, r.z[zU0], r.z[zU1] = l.kn.hat((b.Hours - Seasoning) / 1e4)
		j := u.interval(b.Day)
		r.interval = j
		r.z[zRate], r.z[zOff] = float64(b.Day-u.from[j])/365.25, 1
		r.z[zSin], r.z[zCos] = season(b.Day)
		if b.HasSupply {
			r.z[zVolt] = b.Supply
		}
		if b.HasAmbient {
			r.z[zTemp] = b.Ambient - 25
		}
		r.z[zTrend] = m.unread(l, b) * float64(b.Day-m.asOf) / 365.25
		w := b.Day - u.day0
		r.wander = w / wanderDays
		f := float64(w%wanderDays) / wanderDays
		r.z[zW0], r.z[zW1] = 1-f, f
		r.z[zY] = b.LnOut - l.offset
		// The columns hold whole coefficients: what was corrected is put back.
		if b.HasSupply {
			r.z[zY] += applied.Supply * b.Supply
		}
		if b.HasAmbient {
			r.z[zY] += applied.Ambient * (b.Ambient - 25)
		}
		buf = append(buf, r)
	}
	return buf
}

// stepIn says whether a cleaning of the fixture, a recalibration or change of
// its sensor, or the beginning of a segment falls into the week about a day.
// That of a relamp lies between two lamp lives; its week is thin, and left out too.
func (g *groupState) stepIn(l *lampState, in *Lamp, day int) bool {
	near := func(d int) bool { return abs(d-day) <= binDays/2 }
	for _, c := range in.Cleanings {
		if near(c.Day) {
			return true
		}
	}
	for _, from := range g.sensors[partAt(l.parts, day)].from[1:] {
		if near(from) {
			return true
		}
	}
	for _, p := range l.parts {
		if near(p.from) {
			return true
		}
	}
	for _, s := range l.segs {
		if near(s.from) {
			return true
		}
	}
	return false
}

// season gives the yearly swing's two regressors.
func season(day int) (s, c float64) {
	return math.Sincos(2 * math.Pi * float64(day) / 365.25)
}

// columns gives, for each entry of a row, its column: lamp columns first,
// group columns from p on, -1 where there is none.
func columns(g *groupState, l *lampState, c cell) (idx [zY]int) {
	idx[zA], idx[zS], idx[zQ], idx[zE], idx[zDirt], idx[zDim] = l.baseline(c.segment), colS, colQ, colE, colDirt, colDim
	idx[zU0], idx[zU1] = -1, -1
	if c.knot >= 0 {
		idx[zU0] = colU + c.knot
	}
	if c.knot+1 < len(l.kn.x) {
		idx[zU1] = colU + c.knot + 1
	}
	p := l.p
	u := g.sensors[c.sensor]
	idx[zRate], idx[zOff] = p+u.colRate+c.interval, p+u.colOff+c.interval
	idx[zSin], idx[zCos] = p+u.colSeason(c.blind), p+u.colSeason(c.blind)+1
	idx[zVolt] = p + indexOf(g.kinds, l.kind)
	idx[zTemp] = p + len(g.kinds) + indexOf(g.classes, l.class)
	idx[zTrend] = p + u.colTrend()
	idx[zDays], idx[zLeft], idx[zWiped] = p+l.bay.colDays(), p+l.bay.colLeft(), p+l.bay.colWiped()
	idx[zW0], idx[zW1] = p+u.colW+c.wander, p+u.colW+c.wander+1
	return idx
}

// baseline is the column of a segment's baseline.
func (l *lampState) baseline(segment int) int {
	if segment == 0 {
		return colA
	}
	return colU + len(l.kn.x) + segment - 1
}

func indexOf(s []int, x int) int {
	for k, y := range s {
		if x == y {
			return k
		}
	}
	return -1
}

// predict gives what the present fit says for a row.
func predict(g *groupState, l *lampState, r *row, idx *[zY]int) float64 {
	s := 0.0
	for k, c := range idx {
		switch {
		case c < 0:
		case c < l.p:
			s += r.z[k] * l.fit[c]
		default:
			s += r.z[k] * g.fit[c-l.p]
		}
	}
	return s
}

// weight of a bin: the noise falls with the number of days in it, down to
// what the days of a week share.
func (m *model) weight(u *sensorState, l *lampState, n int) float64 {
	return 1 / (m.h.inflate[l.class] * u.shared * l.sigma * l.sigma * (.3 + 4.9/float64(n)))
}

const huber = 2.5

// accumulate adds the rows of a lamp to its normal matrix and the group's.
// sl is p x p, sb p x q, rl p; ab q x q and rb q are added to, lower triangles.
func (m *model) accumulate(g *groupState, l *lampState, rows []row, robust bool, sl, sb, rl, ab, rb []float64) {
	var acc [zN][zN]float64
	var used bool
	var at cell
	p, q := l.p, g.q
	flush := func() {
		if !used {
			return
		}
		idx := columns(g, l, at)
		for i := 0; i < zY; i++ {
			ci := idx[i]
			if ci < 0 || acc[i][i] == 0 { // nil in every row of the cell
				continue
			}
			if ci < p {
				rl[ci] += acc[zY][i]
			} else {
				rb[ci-p] += acc[zY][i]
			}
			for j := 0; j <= i; j++ {
				cj, v := idx[j], acc[i][j]
				switch {
				case cj < 0 || v == 0:
				case ci < p: // both of the lamp
					sl[max(ci, cj)*p+min(ci, cj)] += v
				case cj < p:
					sb[cj*q+ci-p] += v
				default:
					a, b := ci-p, cj-p
					ab[max(a, b)*q+min(a, b)] += v
				}
			}
		}
		acc = [zN][zN]float64{}
		used = false
	}
	var idx [zY]int
	for k := range rows {
		r := &rows[k]
		if r.cell != at || !used {
			flush()
			at, used = r.cell, true
			idx = columns(g, l, at)
		}
		w := m.weight(g.sensors[r.sensor], l, r.n)
		if robust {
			e := math.Abs(r.z[zY] - predict(g, l, r, &idx))
			if c := huber / math.Sqrt(w); e > c {
				w *= c / e
			}
		}
		for i := 0; i < zN; i++ {
			f := w * r.z[i]
			if f == 0 {
				continue
			}
			a, z := acc[i][:i+1], r.z[:i+1]
			for j, x := range z {
				a[j] += f * x
			}
		}
	}
	flush()
}

// residuals updates a lamp's noise and its sums for the inflation.
func (m *model) residuals(g *groupState, l *lampState, rows []row, buf []float64) []float64 {
	buf = buf[:0]
	var at cell
	var idx [zY]int
	for k := range rows {
		if k == 0 || rows[k].cell != at {
			at = rows[k].cell
			idx = columns(g, l, at)
		}
		buf = append(buf, (rows[k].z[zY]-predict(g, l, &rows[k], &idx))/math.Sqrt(.3+4.9/float64(rows[k].n)))
	}
	n := len(buf)
	prior, priorN := m.d.Sensor.Noise, 8.0
	if n >= 8 {
		abs := make([]float64, n)
		for k, e := range buf {
			abs[k] = math.Abs(e)
		}
		sort.Float64s(abs)
		mad := 1.4826 * robust.Sort(abs)
		l.sigma = math.Sqrt((float64(n)*mad*mad + priorN*prior*prior) / (float64(n) + priorN))
	} else {
		l.sigma = prior
	}
	l.sigma = min(max(l.sigma, .3*prior), 5*prior)
	l.batch, l.batches, l.square, l.squares = 0, 0, 0, 0
	const size = 8
	for k := 0; k+size <= n; k += size {
		s := 0.0
		for _, e := range buf[k : k+size] {
			e = min(max(e/l.sigma, -3), 3)
			s += e
			l.square += e * e
			l.squares++
		}
		l.batch += s * s / size // size x (mean)^2
		l.batches++
	}
	return buf
}
