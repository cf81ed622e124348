package forecast

import (
	"maps"
	"math"
)

// Visit is a measurement that could be made on one occasion: its readings, and what
// the rules of an answer count beside them.
type Visit struct {
	Readings []Reading
	Shared   float64 // variance of the noise that all its readings share
	Factors  []int   // Input.Groups whose sensor was recalibrated with its as-found gain
	Checked  []int   // Input.Groups with a reference reading
	Cleaned  []int   // Input.Lamps cleaned
	Levels   []int   // Input.Lamps whose own level was read
	Ended    []int   // Input.Lamps that came down: nothing hangs on their own dates
}

// Known is the joint posterior with some visits taken as made. It is not changed by
// what is asked of it, nor by With.
type Known struct {
	j     *Joint
	rows  []Reading
	chol  []float64   // packed rows of the factor of the readings' covariance, noise included
	drift []float64   // of the site's drift with the rows, made orthonormal
	fleet [][]float64 // of the fleet's unknowns, the same
	near  map[*groupState]bool
	sight []Sight
	seen  [][]float64 // the same of each sight
	left  []Gained
	added SensorHistory
	own   map[int]SensorHistory // by Input.Groups index of a group's state
	clean map[int]bool
}

// Known looks at some sights before any visit.
func (j *Joint) Known(sights []Sight) *Known {
	k := &Known{j: j, sight: sights, seen: make([][]float64, len(sights)), left: make([]Gained, len(sights))}
	for i := range sights {
		k.left[i] = Gained{sights[i].Var, sights[i].Drift}
	}
	return k
}

// With takes a visit as made, its values being what is expected.
func (k *Known) With(v Visit) *Known {
	x := k.Foresee(v)
	out := &Known{j: k.j, rows: append(k.rows[:len(k.rows):len(k.rows)], v.Readings...), sight: k.sight,
		chol:  append(k.chol[:len(k.chol):len(k.chol)], x.chol...),
		drift: append(k.drift[:len(k.drift):len(k.drift)], x.drift...),
		fleet: append(k.fleet[:len(k.fleet):len(k.fleet)], x.fleet...), near: x.near,
		seen: make([][]float64, len(k.sight)), left: make([]Gained, len(k.sight)),
		added: k.added, own: maps.Clone(k.own), clean: maps.Clone(k.clean)}
	inParallel(len(k.sight), func(i int) {
		out.seen[i] = append(k.seen[i][:len(k.seen[i]):len(k.seen[i])], x.sees(&k.sight[i], k.seen[i])...)
		out.left[i] = x.Of(i)
	})
	out.added.SiteWithFactor += len(v.Factors)
	out.added.SiteReferences += len(v.Checked)
	if out.own == nil {
		out.own = map[int]SensorHistory{}
	}
	tell := func(group int, f func(*SensorHistory)) {
		in := k.j.m.groupOf[group].in
		h := out.own[in]
		f(&h)
		out.own[in] = h
	}
	for _, g := range v.Factors {
		tell(g, func(h *SensorHistory) { h.WithFactor++; h.Recalibrations++ })
	}
	for _, g := range v.Checked {
		tell(g, func(h *SensorHistory) { h.References++ })
	}
	if out.clean == nil {
		out.clean = map[int]bool{}
	}
	for _, i := range v.Cleaned {
		out.clean[i] = true
	}
	return out
}

// Foresight is what a visit's readings would add to those taken as made.
type Foresight struct {
	k     *Known
	rows  []Reading
	chol  []float64 // their rows of the factor, packed
	drift []float64
	fleet [][]float64
	near  map[*groupState]bool // groups that a reading was made in, these or those before
}

// Foresee looks at a visit before it is made.
func (k *Known) Foresee(v Visit) *Foresight {
	n := len(k.rows)
	x := &Foresight{k: k, rows: v.Readings, near: maps.Clone(k.near)}
	if x.near == nil {
		x.near = map[*groupState]bool{}
	}
	for i := range x.rows {
		x.near[x.rows[i].g] = true
		row := make([]float64, n+i+1)
		for c := range n {
			row[c] = x.rows[i].cov(&k.rows[c].linear)
		}
		for c := 0; c <= i; c++ {
			row[n+c] = x.rows[i].cov(&x.rows[c].linear) + v.Shared
		}
		row[n+i] += x.rows[i].SD * x.rows[i].SD
		for c := range row {
			r := x.row(c, row)
			row[c] -= dot(row[:c], r[:c])
			if c == n+i {
				row[c] = math.Sqrt(math.Max(row[c], 1e-18))
			} else {
				row[c] /= r[c]
			}
		}
		x.chol = append(x.chol, row...)
		x.drift = append(x.drift, (x.rows[i].cov(&k.j.drift)-dot(row[:n], k.drift)-dot(row[n:n+i], x.drift))/row[n+i])
		x.fleet = append(x.fleet, x.orthonormal(i, row))
	}
	return x
}

// orthonormal gives the covariance of the fleet's unknowns with a reading, made
// orthonormal to those before it.
func (x *Foresight) orthonormal(i int, row []float64) []float64 {
	out := append([]float64(nil), x.rows[i].ut...)
	less := func(f float64, u []float64) {
		for t := range out {
			out[t] -= f * u[t]
		}
	}
	n := len(x.k.rows)
	for c, u := range x.k.fleet {
		less(row[c], u)
	}
	for c, u := range x.fleet {
		less(row[n+c], u)
	}
	for t := range out {
		out[t] /= row[n+i]
	}
	return out
}

// row gives row c of the whole factor; last is the one being made.
func (x *Foresight) row(c int, last []float64) []float64 {
	n := len(x.k.rows)
	if c < n {
		return x.k.chol[c*(c+1)/2 : c*(c+1)/2+c+1]
	}
	at := c*(c+1)/2 - n*(n+1)/2
	if at >= len(x.chol) {
		return last
	}
	return x.chol[at : at+c+1]
}

// sees gives the covariances of a sight with the visit's readings, made orthonormal
// to those before and to each other; seen are those with the readings before.
func (x *Foresight) sees(s *Sight, seen []float64) []float64 {
	out := make([]float64, 0, len(x.rows))
	n := len(x.k.rows)
	for i := range x.rows {
		if !x.near[s.g] {
			out = append(out, s.fleet(x.fleet[i]))
			continue
		}
		r := x.row(n+i, nil)
		out = append(out, (s.cov(&x.rows[i].linear)-dot(r[:n], seen)-dot(r[n:n+i], out))/r[n+i])
	}
	return out
}

// Gained is what is left of one sight.
type Gained struct {
	Var   float64 // of its variance
	Drift float64 // as Sight.Drift
}

// Of is what the visit would leave of a sight. A great site has thousands of visits to
// weigh and ten thousand sights: nearly all stand in other groups than was read in, and
// are reached through the fleet's unknowns alone.
func (x *Foresight) Of(i int) Gained {
	g, s := x.k.left[i], &x.k.sight[i]
	take := func(c int, a float64) {
		g.Var -= a * a
		g.Drift -= a * x.drift[c] * x.k.j.perDrift
	}
	if x.near[s.g] {
		for c, a := range x.sees(s, x.k.seen[i]) {
			take(c, a)
		}
		return g
	}
	for c, u := range x.fleet {
		take(c, s.fleet(u))
	}
	return g
}

// Now is what is left of a sight.
func (k *Known) Now(i int) Gained { return k.left[i] }

// Posterior gives a lamp's posterior after the visits, to be asked as any other. Its
// centre is as it was.
func (k *Known) Posterior(p *Posterior) Posterior {
	q := *p
	at, ok := k.j.at[p.Lamp]
	if !ok || len(k.rows) == 0 {
		return q
	}
	q.NoDirt = nil // the readings have not been added to it
	q.Past = append([]PastPoint(nil), p.Past...)
	q.PastPull = append([]float64(nil), p.PastPull...)
	for s := range q.PastShift {
		q.PastShift[s] = append([]float64(nil), p.PastShift[s]...)
	}
	k.count(at, &q)
	moved := k.moved(at)
	far := farRows(at.l, p.Memory)
	z := make([]float64, at.l.p)
	dirtVar, roomVar := p.DirtSD*p.DirtSD, p.RoomDirt[1]*p.RoomDirt[1]
	for i := range q.DirtPull {
		q.DirtPull[i] *= roomVar // covariances, until the end
	}
	for i := range q.PastPull {
		q.PastPull[i] *= roomVar
	}
	var slope, drift float64
	own := driftStep / math.Pow(k.j.m.h.sensor, 2)
	for _, d := range moved {
		var t [5]float64
		for i := range t {
			t[i] = dot(far[i*at.l.p:(i+1)*at.l.p], d.lamp)
		}
		for i := range t {
			for c := 0; c <= i; c++ {
				q.Cov[i*(i+1)/2+c] -= t[i] * t[c]
			}
			q.DirtPull[i] -= t[i] * d.room
			q.SiteShift[i] -= t[i] * d.drift * k.j.perDrift
			q.OwnShift[i] -= t[i] * d.own * own
		}
		dirtVar -= d.lamp[colDirt] * d.lamp[colDirt]
		roomVar -= d.room * d.room
		slope += d.slope * d.slope
		drift += d.rate * d.rate
		for i := range q.Past {
			k.j.m.outputRow(at.l, q.Past[i].Hours, z)
			x := dot(z, d.lamp)
			q.Past[i].SD = math.Sqrt(math.Max(0, q.Past[i].SD*q.Past[i].SD-x*x))
			q.PastPull[i] -= x * d.room
			q.PastShift[0][i] -= x * d.own * own
			q.PastShift[1][i] -= x * d.drift * k.j.perDrift
		}
	}
	roomVar = math.Max(roomVar, 1e-18)
	for i := range q.DirtPull {
		q.DirtPull[i] /= roomVar
	}
	for i := range q.PastPull {
		q.PastPull[i] /= roomVar
	}
	q.DirtSD, q.RoomDirt[1] = math.Sqrt(math.Max(dirtVar, 1e-18)), math.Sqrt(roomVar)
	q.ClassSlope[1] = math.Sqrt(math.Max(0, q.ClassSlope[1]*q.ClassSlope[1]-slope))
	q.SensorDrift[1] = math.Sqrt(math.Max(0, q.SensorDrift[1]*q.SensorDrift[1]-drift))
	return q
}

// count adds the visits to what ties the lamp's sensor down.
func (k *Known) count(at place, q *Posterior) {
	h := k.own[at.g.in]
	q.Sees.WithFactor += h.WithFactor
	q.Sees.Recalibrations += h.Recalibrations
	q.Sees.References += h.References
	q.Sees.SiteWithFactor += k.added.SiteWithFactor
	q.Sees.SiteReferences += k.added.SiteReferences
	if k.clean[q.Lamp] {
		q.Cleanings++
	}
}

// move is the covariance of what a posterior holds with one reading, made
// orthonormal to those before.
type move struct {
	lamp       []float64 // its columns
	drift, own float64   // the site's drift; the last sensor's against it
	room       float64   // the dirt of the lamp's room
	slope      float64   // of the lamp type
	rate       float64   // the bay's sensor's mean drift
}

func (k *Known) moved(at place) []move {
	g, l, m := at.g, at.l, k.j.m
	out := make([]move, len(k.rows))
	last := g.sensors[g.lastSensor(l)]
	for i := range k.rows {
		r := &k.rows[i]
		var y []float64
		if r.g == g {
			y = append([]float64(nil), r.y...)
		}
		b := g.follow(r.ut, y)
		d := k.j.lampOf(at, b, r)
		x := move{lamp: d, room: r.ut[m.tRoom+l.bay.room], drift: r.ut[m.tRf], own: b[last.colDrift] - r.ut[m.tRf],
			slope: r.ut[m.tClass+3*l.class], rate: b[l.bay.colDrift]}
		row := k.chol[i*(i+1)/2 : i*(i+1)/2+i+1]
		for c := range out[:i] {
			f, o := row[c], &out[c]
			for n := range x.lamp {
				x.lamp[n] -= f * o.lamp[n]
			}
			x.room -= f * o.room
			x.drift -= f * o.drift
			x.own -= f * o.own
			x.slope -= f * o.slope
			x.rate -= f * o.rate
		}
		f := 1 / row[i]
		for n := range x.lamp {
			x.lamp[n] *= f
		}
		x.room, x.drift, x.own, x.slope, x.rate = x.room*f, x.drift*f, x.own*f, x.slope*f, x.rate*f
		out[i] = x
	}
	return out
}

// lampOf is the covariance of a lamp's columns with a reading, where b is that of
// its group's.
func (j *Joint) lampOf(at place, b []float64, r *Reading) []float64 {
	l, q := at.l, at.g.q
	d := make([]float64, l.p)
	if r.l == l {
		copy(d, r.f)
		backward(l.factor, l.p, d, 1)
	}
	first := j.m.meanColumn(l)
	bw := q + 4
	for i := range d {
		row := l.k[i*bw : i*bw+bw]
		for a, x := range b {
			d[i] -= row[a] * x
		}
		for c := 0; c < 3; c++ {
			d[i] -= row[q+c] * r.ut[first+c]
		}
	}
	return d
}

// Sight gives one of those looked at, as it was before any visit.
func (k *Known) Sight(i int) *Sight { return &k.sight[i] }
