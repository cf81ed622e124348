package forecast

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// toy is a small fleet with every kind of term: two rooms, three groups, two
// lamp types, lots, recalibrations with and without factor, a wiped sensor,
// reference readings, set points, cleanings, relamps.
func toy() *Input {
	in := &Input{AsOf: 1500, Defaults: DefaultTable()}
	in.Groups = []Group{
		{ID: "a", Start: 0, Recals: []Recal{{Day: 400, AsFound: .985}, {Day: 800}, {Day: 1200, SensorClean: true}}},
		{ID: "b", Start: 100, References: []Reference{{Day: 700, Lamp: -1, Ln: -.02, SD: .01},
			{Day: 900, Lamp: 4, Ln: -.08}}},
		{ID: "c", Start: 0},
		{ID: "d", Start: 600},
	}
	next := uint64(1)
	rnd := func() float64 { // a small deterministic jitter in -1..1
		next = next*6364136223846793005 + 1442695040888963407
		return float64(int64(next>>11))/float64(1<<52) - 1
	}
	add := func(fix string, life int, class, gear, lot, room string, g, start, end int, dim bool) {
		l := Lamp{Fixture: fix, Life: life, Class: class, Gear: gear, Lot: lot, Room: room, Group: g, Hung: 0,
			StartDay: start, Threshold: .9,
			Cleanings: []Clean{{Day: 300}, {Day: 640, Part: CleanLamp}, {Day: 1000}}, Burn: Burn{PerDay: 12, Days: 365}}
		if life > 1 {
			l.Cleanings = append(l.Cleanings[:2:2], Clean{Day: start, Part: CleanRelamp}, Clean{Day: 1000})
		}
		for d := (start/7 + 1) * 7; d < end; d += 7 {
			h := 12 * float64(d-start)
			if h < 100 {
				continue
			}
			b := Bin{Day: d, N: 5, Hours: h, Dim: 1, LnOut: 6 - .09*h/1e4 - .00003*float64(d) + .01*rnd(), Supply: .01 * rnd(),
				HasSupply: g != 1,
				Ambient:   25 + 4*rnd(), HasAmbient: true}
			if dim && d > 500 {
				b.Dim = .8
			}
			l.Bins = append(l.Bins, b)
			l.HoursNow = h
		}
		if end < 1500 {
			l.Ended, l.EndDay = true, end
		}
		in.Lamps = append(in.Lamps, l)
	}
	add("f1", 1, HPSDE, Magnetic, "x", "r1", 0, 0, 900, true)
	add("f1", 2, HPSDE, Magnetic, "y", "r1", 0, 900, 1500, true)
	add("f2", 1, HPSDE, Magnetic, "x", "r1", 0, 0, 1500, true)
	add("f3", 1, LED, Driver, "z", "r1", 0, 200, 1500, false)
	add("f4", 1, HPSDE, Electronic, "x", "r2", 1, 100, 1500, false)
	add("f5", 1, HPSDE, Electronic, "", "r2", 1, 150, 1500, false)
	add("f6", 1, LED, Driver, "z", "r2", 2, 0, 1500, false)
	add("f7", 1, LED, Driver, "z", "r2", 2, 0, 1500, false)
	add("f8", 1, LED, Driver, "z", "r2", 3, 0, 1500, false) // its sensor was replaced
	in.Lamps[8].Watched = []Watch{{0, 2}, {600, 3}}
	in.Lamps[4].Watched = []Watch{{0, 2}, {700, 1}} // moved, and its gear replaced
	in.Lamps[4].Offsets = []Offset{{700, OffsetPlace}, {1100, OffsetGear}}
	in.Lamps[4].Corrected = Corrected{Supply: .1, Ambient: .0001}
	return in
}

// TestEliminationEqualsDenseSolve writes the whole fleet's equations into one
// matrix, straight from the model's definition, and solves them at once.
func TestEliminationEqualsDenseSolve(t *testing.T) {
	in := toy()
	m := newModel(in, Options{})
	if err := m.solve(false, true); err != nil {
		t.Fatal(err)
	}
	m.update() // so that spreads are not the declared ones
	if err := m.solve(false, true); err != nil {
		t.Fatal(err)
	}
	want, cov, at, gat := dense(t, m)
	worst := 0.0
	near := func(what string, got, want float64) {
		d := math.Abs(got-want) / math.Max(1, math.Abs(want))
		worst = math.Max(worst, d)
		if d > 1e-9 {
			t.Errorf("%s: %v, dense %v", what, got, want)
		}
	}
	for c := range m.t {
		near("fleet", m.t[c], want.AtVec(c))
		near("fleet covariance", m.ct[c*m.nt+c], cov.At(c, c))
	}
	for k, g := range m.groups {
		for c := range g.fit {
			near("group", g.fit[c], want.AtVec(gat[k]+c))
			for e := range g.fit {
				near("group covariance", g.cov[c*g.q+e], cov.At(gat[k]+c, gat[k]+e))
			}
		}
	}
	for k, l := range m.lamps {
		for c := range l.fit {
			near("lamp", l.fit[c], want.AtVec(at[k]+c))
			for e := range l.fit {
				near("lamp covariance", l.cov[c*l.p+e], cov.At(at[k]+c, at[k]+e))
			}
		}
		mean := m.meanColumn(l)
		for c := 0; c < 3; c++ {
			near("covariance with the lot", l.lotCov[c], cov.At(at[k]+colS+c, mean+c))
		}
	}
	for k, g := range m.groups {
		for _, l := range g.lamps {
			for j, x := range m.lamps {
				if x == l {
					near("covariance with the bay's dirt", l.dirtCov, cov.At(at[j]+colDirt, gat[k]+l.bay.colDirt))
				}
			}
		}
	}
	t.Logf("largest difference %.2g over %d unknowns", worst, want.Len())

	// The drift's shift: solve again with another assumed mean.
	site := m.siteShift()
	m2 := newModel(in, Options{})
	m2.h, m2.lots = m.h, m.lots
	for k := range m2.lamps {
		a, b := m2.groups[min(k, len(m2.groups)-1)], m.groups[min(k, len(m2.groups)-1)]
		for j, u := range a.sensors {
			v := b.sensors[j]
			u.dirt, u.lnDays, u.left, u.wiped, u.shared = v.dirt, v.lnDays, v.left, v.wiped, v.shared
			u.roomDirt, u.bayDirt = v.roomDirt, v.bayDirt
		}
		m2.lamps[k].sigma, m2.lamps[k].slope = m.lamps[k].sigma, m.lamps[k].slope
	}
	m2.d.Sensor.Drift.Mean += driftStep
	if err := m2.solve(false, true); err != nil {
		t.Fatal(err)
	}
	for k, g := range m.groups {
		for _, l := range g.lamps {
			var p Posterior
			m.posterior(g, l, &p)
			got, _ := m.shiftOf(g, l, &p, site[g.in])
			for j, x := range m.lamps {
				if x == l {
					near("shift of S", got[0], m2.lamps[j].fit[colS]-l.fit[colS])
				}
			}
		}
		_ = k
	}
}

// dense builds the equations of the whole fleet: fleet columns first, then
// groups, then lamps.
func dense(t *testing.T, m *model) (*mat.VecDense, *mat.SymDense, []int, []int) {
	t.Helper()
	n := m.nt
	var gat, at []int
	where := map[*lampState]int{}
	for _, g := range m.groups {
		gat = append(gat, n)
		n += g.q
	}
	for _, l := range m.lamps {
		at = append(at, n)
		where[l] = n
		n += l.p
	}
	a := mat.NewSymDense(n, nil)
	r := mat.NewVecDense(n, nil)
	// observation sum z x = y with spread sd
	obs := func(y, sd float64, cols []int, z []float64) {
		w := 1 / (sd * sd)
		for i, ci := range cols {
			r.SetVec(ci, r.AtVec(ci)+w*z[i]*y)
			for j, cj := range cols {
				if cj <= ci && !(ci == cj && i != j) {
					a.SetSym(ci, cj, a.At(ci, cj)+w*z[i]*z[j])
				}
			}
		}
	}
	is := func(c int, mean, sd float64) { obs(mean, sd, []int{c}, []float64{1}) }
	leans := func(c, on int, sd float64) { obs(0, sd, []int{c, on}, []float64{1, -1}) }
	for k, c := range m.law {
		s := m.h.scale[k] * c.Slope.Mean
		p := m.h.power[k]
		mean, sd := pacePrior(c.Slope, s)
		is(m.tClass+3*k, mean, sd*m.h.tail[k])
		is(m.tClass+3*k+1, (c.Shape.Mean-p)*s, c.Shape.SD*s)
		is(m.tClass+3*k+2, c.Early.Mean, c.Early.SD)
		is(m.tTemp+k, c.Ambient.Mean, c.Ambient.SD)
	}
	for k, lot := range m.lots {
		for j, sd := range m.lotSpread(lot.class, lot.make) {
			leans(m.tLot+3*k+j, m.tClass+3*lot.class+j, sd)
		}
	}
	for k := range m.kinds {
		is(m.tKind+k, m.kinds[k].supply.Mean, m.kinds[k].supply.SD)
	}
	for k := range m.rooms {
		is(m.tRoom+k, m.roomPrior(k).Mean, m.roomPrior(k).SD)
		is(m.tTrend+k, 0, 1)
	}
	is(m.tRf, m.d.Sensor.Drift.Mean, m.driftSD())
	for k, g := range m.groups {
		b := gat[k]
		for j, kind := range g.kinds {
			leans(b+j, m.tKind+kind, leanShare*m.kinds[kind].supply.SD)
		}
		for j, class := range g.classes {
			leans(b+len(g.kinds)+j, m.tTemp+class, leanShare*m.law[class].Ambient.SD)
		}
		for _, u := range g.sensors {
			denseSensor(m, u, b, obs)
		}
		for _, l := range g.lamps {
			o := where[l]
			ls, lq, le := m.lampSpread(l)
			mean := m.meanColumn(l)
			is(o+colA, 0, 1)
			leans(o+colS, mean, ls)
			leans(o+colQ, mean+1, lq)
			leans(o+colE, mean+2, le)
			leans(o+colDirt, b+l.bay.colDirt, m.lampDirtSD(l.bay))
			is(o+colDim, m.d.Dim.Mean, m.d.Dim.SD)
			u := 1 / math.Pow(m.wanderScale(l), 2)
			nk := len(l.kn.x)
			for i := 0; i < nk; i++ {
				for j := 0; j <= i; j++ {
					a.SetSym(o+colU+i, o+colU+j, a.At(o+colU+i, o+colU+j)+u*l.prec[i*nk+j])
				}
			}
			var refs []Reference
			for _, u := range g.sensors {
				refs = append(refs, m.in.Groups[u.in].References...)
			}
			for k, seg := range l.segs {
				leans(o+l.baseline(k+1), o+l.baseline(k), seg.sd)
			}
			for _, ref := range refs {
				if ref.Lamp == l.in {
					z := make([]float64, l.p)
					h, _ := hoursOn(l.bins, ref.Day)
					m.outputRow(l, h, z)
					s := m.soil(l)
					d0 := s.at(l.bins[0].Day)
					z[colDirt] = d0 - s.at(ref.Day)
					cols := make([]int, l.p)
					for c := range cols {
						cols[c] = o + c
					}
					obs(ref.Ln, .01, cols, z)
				}
			}
			for _, r := range m.rows(g, l, nil) {
				idx := columns(g, l, r.cell)
				var cols []int
				var z []float64
				for k, c := range idx {
					switch {
					case c < 0:
					case c < l.p:
						cols, z = append(cols, o+c), append(z, r.z[k])
					default:
						cols, z = append(cols, b+c-l.p), append(z, r.z[k])
					}
				}
				obs(r.z[zY], 1/math.Sqrt(m.weight(g.sensors[r.sensor], l, r.n)), cols, z)
			}
		}
	}
	var ch mat.Cholesky
	if !ch.Factorize(a) {
		t.Fatal("dense matrix not positive definite")
	}
	x := mat.NewVecDense(n, nil)
	if err := ch.SolveVecTo(x, r); err != nil {
		t.Fatal(err)
	}
	var inv mat.SymDense
	if err := ch.InverseTo(&inv); err != nil {
		t.Fatal(err)
	}
	return x, &inv, at, gat
}

// denseSensor writes what is assumed of one sensor and known from its
// recalibrations; b is the group's first column.
func denseSensor(m *model, u *sensorState, b int, obs func(y, sd float64, cols []int, z []float64)) {
	is := func(c int, mean, sd float64) { obs(mean, sd, []int{c}, []float64{1}) }
	leans := func(c, on int, sd float64) { obs(0, sd, []int{c, on}, []float64{1, -1}) }
	grp := m.in.Groups[u.in]
	leans(b+u.colDirt, m.tRoom+u.room, m.bayDirtSD(u))
	is(b+u.colDays(), -u.lnDays, m.d.Dirt.DaysSD)
	is(b+u.colLeft(), -u.left, m.d.Dirt.LeftSD)
	is(b+u.colWiped(), stepWiped.Mean-u.wiped, stepWiped.SD)
	leans(b+u.colDrift, m.tRf, m.h.sensor)
	leans(b+u.colTrend(), m.tTrend+u.room, trendShare)
	blind := math.Hypot(u.seasonSD, m.d.Sensor.SeasonNoVolt)
	is(b+u.colSeason(false), 0, u.seasonSD)
	is(b+u.colSeason(false)+1, 0, u.seasonSD)
	is(b+u.colSeason(true), 0, blind)
	is(b+u.colSeason(true)+1, 0, blind)
	rho := math.Exp(-wanderDays / m.d.Sensor.WanderMem)
	is(b+u.colW, 0, m.h.wander)
	for j := 1; j < u.nW; j++ {
		obs(0, m.h.wander*math.Sqrt(1-rho*rho), []int{b + u.colW + j, b + u.colW + j - 1}, []float64{1, -rho})
	}
	for j := range u.from {
		leans(b+u.colRate+j, b+u.colDrift, m.h.interval)
		switch {
		case j == 0:
			is(b+u.colOff, 0, u.first)
		case u.recal[u.from[j]].SensorClean:
			is(b+u.colOff+j, 0, .1)
		default:
			is(b+u.colOff+j, 0, m.d.Sensor.Offset)
		}
		if j+1 < len(u.from) {
			years := float64(u.from[j+1]-u.from[j]) / 365.25
			rc := u.recal[u.from[j+1]]
			if rc.SensorClean {
				obs(0, m.d.Sensor.Wiped, []int{b + u.colOff + j, b + u.colRate + j, b + u.colOff + j + 1}, []float64{1, years, -1})
			} else if rc.AsFound > 0 && !m.doubted[recalKey{u.in, rc.Day}] {
				obs(math.Log(rc.AsFound), m.d.Sensor.AsFound, []int{b + u.colOff + j, b + u.colRate + j}, []float64{1, years})
			}
		}
	}
	for _, ref := range grp.References {
		if ref.Lamp < 0 {
			obs(ref.Ln, ref.SD, []int{b + u.colOff, b + u.colRate}, []float64{1, float64(ref.Day-u.from[0]) / 365.25})
		}
	}
}
