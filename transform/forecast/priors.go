package forecast

import (
	"math"
	"slices"
)

// lampSpread gives the spreads of a lamp's slope, shape and early term about
// the mean it leans on: its lot, or its type where it has no lot of its own.
func (m *model) lampSpread(l *lampState) (s, q, e float64) {
	a, slope := m.h.lamp[l.class], m.classSlope(l.class)
	if l.lot >= 0 {
		slope = m.lotSlope(l.lot)
	} else {
		for k, b := range m.h.lot[l.class] {
			a[k] = math.Hypot(a[k], b*aboutMake(l.make))
		}
	}
	return a[0] * slope, a[1] * slope, a[2]
}

// bayDirtSD and lampDirtSD are the spreads of dirt amplitudes, of a bay about
// its room and of a fixture about its bay: where little dirt gathers, little
// differs.
func (m *model) bayDirtSD(u *sensorState) float64  { return m.h.dirtBay * u.roomDirt }
func (m *model) lampDirtSD(u *sensorState) float64 { return m.h.dirtLamp * u.bayDirt }

// lampPriors adds a lamp's priors and reference readings to its normal matrix
// (l.factor), and what of them touches the group.
func (m *model) lampPriors(g *groupState, l *lampState, s *scratch) {
	p, a := l.p, l.factor
	ls, lq, le := m.lampSpread(l)
	a[colA*p+colA]++ // flat: spread 1 in ln, see the package's traps
	for k, seg := range l.segs {
		w := 1 / (seg.sd * seg.sd)
		c, before := l.baseline(k+1), l.baseline(k)
		a[c*p+c] += w
		a[before*p+before] += w
		a[max(c, before)*p+min(c, before)] -= w
	}
	a[colS*p+colS] += 1 / (ls * ls)
	a[colQ*p+colQ] += 1 / (lq * lq)
	a[colE*p+colE] += 1 / (le * le)
	d := 1 / math.Pow(m.lampDirtSD(l.bay), 2)
	a[colDirt*p+colDirt] += d
	s.sb[colDirt*g.q+l.bay.colDirt] -= d
	s.ab[l.bay.colDirt*g.q+l.bay.colDirt] += d
	a[colDim*p+colDim] += 1 / (m.d.Dim.SD * m.d.Dim.SD)
	s.rl[colDim] += m.d.Dim.Mean / (m.d.Dim.SD * m.d.Dim.SD)
	n := len(l.kn.x)
	u := 1 / math.Pow(m.wanderScale(l), 2)
	for i := 0; i < n; i++ {
		for j := 0; j <= i; j++ {
			a[(colU+i)*p+colU+j] += u * l.prec[i*n+j]
		}
	}
	for _, u := range g.sensors {
		for _, ref := range m.in.Groups[u.in].References {
			if ref.Lamp == l.in && ref.Day <= m.asOf {
				m.lampReference(g, l, ref, s)
			}
		}
	}
}

// classSlope and lotSlope are the present slopes by which spreads are scaled:
// fast types and lots spread more, in proportion.
func (m *model) classSlope(class int) float64 {
	return m.h.scale[class] * m.law[class].Slope.Mean
}

func (m *model) lotSlope(lot int) float64 { return m.lots[lot].slope }

// lotSpread gives the spreads of lots about what they lean on: their type, or one
// make of it. Makes differ by makeShare of what lots of a type differ by.
func (m *model) lotSpread(class, make int) [3]float64 { return m.spreadOfLots(class, aboutMake(make)) }

// makeSpread gives the spreads of makes about their type.
func (m *model) makeSpread(class int) [3]float64 { return m.spreadOfLots(class, math.Sqrt(makeShare)) }

func (m *model) spreadOfLots(class int, share float64) [3]float64 {
	a, s := m.h.lot[class], m.classSlope(class)
	return [3]float64{share * a[0] * s, share * a[1] * s, share * a[2]}
}

// makeShare is how much of the variance of a lamp type's lots lies between its makes
// (assumption, no source).
const makeShare = .5

// aboutMake is the share of lots' spread that is left within a make; all without one.
func aboutMake(make int) float64 {
	if make < 0 {
		return 1
	}
	return math.Sqrt(1 - makeShare)
}

// wanderScale is the spread of a lamp's ageing rate, ln per 10^4 h.
func (m *model) wanderScale(l *lampState) float64 {
	return m.h.rate[l.class] * max(l.slope, .3*m.classSlope(l.class))
}

// lampReference: the true level, dirt included, read by an independent meter:
// ln level = f(h) - A (D - D at the life's first bin).
func (m *model) lampReference(g *groupState, l *lampState, ref Reference, s *scratch) {
	h, ok := hoursOn(l.bins, ref.Day)
	if !ok {
		return
	}
	z := m.levelRow(l, h, ref.Day)
	w := 1 / math.Pow(refSD(ref), 2)
	for i := range z {
		for j := 0; j <= i; j++ {
			l.factor[i*l.p+j] += w * z[i] * z[j]
		}
		s.rl[i] += w * z[i] * ref.Ln
	}
}

// levelRow gives the regressors of a lamp's level with its dirt, at h run-hours on a day.
func (m *model) levelRow(l *lampState, h float64, day int) []float64 {
	g1, g2, g3 := basis(h, m.law[l.class].Tau, m.h.power[l.class])
	dirt := m.soil(l)
	d0 := dirt.at(l.bins[0].Day)
	knot, w0, w1 := l.kn.hat((h - Seasoning) / 1e4)
	z := make([]float64, l.p)
	z[colS], z[colQ], z[colE] = -g1, -g2, g3
	z[colDirt] = -(dirt.at(max(day, l.bins[0].Day)) - d0)
	if knot >= 0 {
		z[colU+knot] += w0
	}
	if knot+1 < len(l.kn.x) {
		z[colU+knot+1] += w1
	}
	return z
}

func refSD(r Reference) float64 {
	if r.SD > 0 {
		return r.SD
	}
	return .01
}

// hoursOn reads the run-hours of a day off the bins.
func hoursOn(b []Bin, day int) (float64, bool) {
	n := len(b)
	if n == 0 || day < b[0].Day-binDays || day > b[n-1].Day+30 {
		return 0, false
	}
	for k := 1; k < n; k++ {
		if b[k].Day >= day {
			f := float64(day-b[k-1].Day) / float64(b[k].Day-b[k-1].Day)
			return b[k-1].Hours + max(0, f)*(b[k].Hours-b[k-1].Hours), true
		}
	}
	return b[n-1].Hours, true
}

// groupPriors adds a group's own priors, recalibrations and reference
// readings to s.ab and s.rb.
func (m *model) groupPriors(g *groupState, s *scratch) {
	q, a := g.q, s.ab
	for _, u := range g.sensors {
		pseudo(a, s.rb, q, -u.lnDays, m.d.Dirt.DaysSD, []int{u.colDays()}, []float64{1})
		pseudo(a, s.rb, q, -u.left, m.d.Dirt.LeftSD, []int{u.colLeft()}, []float64{1})
		pseudo(a, s.rb, q, stepWiped.Mean-u.wiped, stepWiped.SD, []int{u.colWiped()}, []float64{1})
		m.sensorPriors(g, u, a, s.rb)
	}
}

// sensorPriors adds those of one sensor.
func (m *model) sensorPriors(g *groupState, u *sensorState, a, r []float64) {
	q := g.q
	diag := func(c int, spread float64) { a[c*q+c] += 1 / (spread * spread) }
	for k, spread := range [2]float64{u.seasonSD, math.Hypot(u.seasonSD, m.d.Sensor.SeasonNoVolt)} {
		diag(u.colSeason(k == 1), spread)
		diag(u.colSeason(k == 1)+1, spread)
	}
	wp := 1 / (m.h.wander * m.h.wander)
	for k := 0; k < u.nW; k++ {
		c := u.colW + k
		on, off := m.wanderPrec(u, k)
		a[c*q+c] += wp * on
		if k > 0 {
			a[c*q+c-1] += wp * off
		}
	}
	for j := range u.from {
		m.intervalPriors(g, u, j, a, r)
	}
	for _, ref := range m.in.Groups[u.in].References {
		if ref.Lamp >= 0 || ref.Day > m.asOf || ref.Day < u.from[0] {
			continue
		}
		j := u.interval(ref.Day)
		pseudo(a, r, q, ref.Ln, refSD(ref), []int{u.colOff + j, u.colRate + j},
			[]float64{1, float64(ref.Day-u.from[j]) / 365.25})
	}
}

// shakenSpread is how far a sensor's gain may have stepped when all its lamps did,
// ln.
const shakenSpread = .06

// intervalPriors adds those of one interval between recalibrations, and what the
// recalibration at its end says of it.
func (m *model) intervalPriors(g *groupState, u *sensorState, j int, a, r []float64) {
	q, sd := g.q, m.d.Sensor
	c := u.colRate + j // leans on the sensor's mean drift
	iv := 1 / (m.h.interval * m.h.interval)
	a[c*q+c] += iv
	a[u.colDrift*q+u.colDrift] += iv
	a[c*q+u.colDrift] -= iv
	spread := sd.Offset
	switch {
	case j == 0:
		spread = u.first
	case u.recal[u.from[j]].SensorClean:
		spread = .1
	case u.recal[u.from[j]].shaken:
		spread = 1 // leans on the interval before
	}
	a[(u.colOff+j)*q+u.colOff+j] += 1 / (spread * spread)
	if j+1 == len(u.from) {
		return
	}
	years := float64(u.from[j+1]-u.from[j]) / 365.25
	next := u.recal[u.from[j+1]]
	switch {
	case next.shaken:
		pseudo(a, r, q, 0, shakenSpread, []int{u.colOff + j, u.colRate + j, u.colOff + j + 1}, []float64{1, years, -1})
	case next.SensorClean:
		pseudo(a, r, q, 0, sd.Wiped, []int{u.colOff + j, u.colRate + j, u.colOff + j + 1}, []float64{1, years, -1})
	case next.AsFound > 0 && !m.doubted[recalKey{u.in, next.Day}]:
		pseudo(a, r, q, math.Log(next.AsFound), sd.AsFound, []int{u.colOff + j, u.colRate + j}, []float64{1, years})
	}
}

// wanderPrec gives the diagonal entry k, and the entry before it, of the
// precision of a group's wander knots for unit variance: a first-order Markov
// chain of the declared memory.
func (m *model) wanderPrec(u *sensorState, k int) (on, off float64) {
	rho := math.Exp(-wanderDays / m.d.Sensor.WanderMem)
	v := 1 - rho*rho
	on = (1 + rho*rho) / v
	if k == 0 || k == u.nW-1 {
		on = 1 / v
	}
	return on, -rho / v
}

// soilOf gives the dirt's law at a bay's present estimates, about which it
// is linearised.
func (m *model) soilOf(u *sensorState) DirtDefaults {
	d := m.d.Dirt
	d.Days *= math.Exp(u.lnDays)
	f := (d.LeftAll + u.left) / d.LeftAll
	d.LeftAll, d.LeftPart, d.LeftNew = d.LeftAll*f, math.Min(d.LeftPart*f, 1), math.Min(d.LeftNew*f, 1)
	return d
}

// stepWiped is how much of a cleaning an upward step is that lamps share and nobody
// logged: none, where the supply or the sensor did it, or all (no source: even odds).
var stepWiped = Prior{Mean: .5, SD: .4}

// soil follows a lamp's dirt by its bay's law.
func (m *model) soil(l *lampState) soil {
	return newSoil(&m.in.Lamps[l.in], m.soilOf(l.bay), m.asOf).perhaps(m.wiped[l.in], l.bay.wiped)
}

// driftSD is the spread of the site's mean drift about the declared one: wider where the
// recalibrations contradict that.
func (m *model) driftSD() float64 { return m.d.Sensor.Drift.SD * m.h.driftTail }

// cleanRoom is what is assumed of the dirt in a room that is declared to stay clean.
var cleanRoom = Prior{Mean: 0, SD: .003, Basis: "declared: the room stays clean"}

// roomPrior is what is assumed of a room's dirt.
func (m *model) roomPrior(room int) Prior {
	if slices.Contains(m.in.Clean, m.rooms[room]) {
		return cleanRoom
	}
	return m.d.Dirt.Amplitude
}

// pseudo adds the observation sum z_k x_k = y with spread sd.
func pseudo(a, r []float64, q int, y, sd float64, cols []int, z []float64) {
	w := 1 / (sd * sd)
	for i, ci := range cols {
		for j, cj := range cols {
			if cj <= ci {
				a[ci*q+cj] += w * z[i] * z[j]
			}
		}
		r[ci] += w * z[i] * y
	}
}

// groupCoupling adds the priors by which a group leans on the fleet: dirt on
// its room's, drift on the site's, voltage and temperature on their type's.
func (m *model) groupCoupling(g *groupState, big []float64, w int) {
	q := g.q
	lean := func(c, fleet int, sd float64) {
		f := q + indexOf(g.local, fleet)
		p := 1 / (sd * sd)
		big[c*w+c] += p
		big[f*w+f] += p
		big[f*w+c] -= p
	}
	for _, u := range g.sensors {
		lean(u.colDirt, m.tRoom+u.room, m.bayDirtSD(u))
		lean(u.colDrift, m.tRf, m.h.sensor)
		lean(u.colTrend(), m.tTrend+u.room, trendShare)
	}
	for k, kind := range g.kinds {
		lean(k, m.tKind+kind, leanShare*m.kinds[kind].supply.SD)
	}
	for k, class := range g.classes {
		lean(len(g.kinds)+k, m.tTemp+class, leanShare*m.law[class].Ambient.SD)
	}
}

// trendShare is how far the bays of a room differ in what changes from year to year and
// nobody reads, as a share of what is usual: they mostly hang on one supply, in one air.
const trendShare = .3

// leanShare is how far groups differ in voltage and temperature coefficients,
// as a share of what is not known of the lamp type's.
const leanShare = .4

// fleetPriors adds the declared means and spreads, and lots leaning on types.
func (m *model) fleetPriors(a, r []float64) {
	m.typePriors(a, r)
	m.lotPriors(a)
	m.sitePriors(a, r)
}

// prior adds a declared mean and spread.
func (m *model) prior(a, r []float64, c int, mean, sd float64) {
	p := 1 / (sd * sd)
	a[c*m.nt+c] += p
	r[c] += p * mean
}

// lean lets column c lean on an earlier one.
func (m *model) lean(a []float64, c, on int, sd float64) {
	p := 1 / (sd * sd)
	a[c*m.nt+c] += p
	a[on*m.nt+on] += p
	a[c*m.nt+on] -= p
}

// pacePrior is what is assumed of a type's slope, about where it has come to. A fade is a
// pace: twice as fast is as far off as half as fast. Above the assumed slope its logarithm
// is spread as the declared one is about its mean, and linearised.
func pacePrior(of Prior, slope float64) (mean, sd float64) {
	times := slope / of.Mean
	if times <= 1 {
		return of.Mean, of.SD
	}
	return slope * (1 - math.Log(times)), of.SD * times
}

// typePriors adds what is declared of how lamp types age, and makes leaning on them.
func (m *model) typePriors(a, r []float64) {
	for k, c := range m.law {
		s := m.classSlope(k)
		mean, sd := pacePrior(c.Slope, s)
		m.prior(a, r, m.tClass+3*k, mean, sd*m.h.tail[k])
		m.prior(a, r, m.tClass+3*k+1, (c.Shape.Mean-m.h.power[k])*s, c.Shape.SD*s)
		m.prior(a, r, m.tClass+3*k+2, c.Early.Mean, c.Early.SD)
	}
	for k, x := range m.makes {
		for j, sd := range m.makeSpread(x.class) {
			m.lean(a, m.tMake+3*k+j, m.tClass+3*x.class+j, sd)
		}
	}
}

// lotPriors lets lots lean on their make or type; those of a pool do so there.
func (m *model) lotPriors(a []float64) {
	for k, lot := range m.lots {
		if lot.column >= 0 {
			continue
		}
		on := m.lotMean(lot)
		for j, sd := range m.lotSpread(lot.class, lot.make) {
			m.lean(a, m.tLot+3*k+j, on+j, sd)
		}
	}
}

// lotMean is the first column of what a lot leans on.
func (m *model) lotMean(lot lotState) int {
	if lot.make >= 0 {
		return m.tMake + 3*lot.make
	}
	return m.tClass + 3*lot.class
}

// sitePriors adds what is declared of the site's coefficients, rooms and sensors.
func (m *model) sitePriors(a, r []float64) {
	for k, c := range m.law {
		m.prior(a, r, m.tTemp+k, c.Ambient.Mean, c.Ambient.SD)
	}
	for k := range m.kinds {
		m.prior(a, r, m.tKind+k, m.kinds[k].supply.Mean, m.kinds[k].supply.SD)
	}
	for k := range m.rooms {
		p := m.roomPrior(k)
		m.prior(a, r, m.tRoom+k, p.Mean, p.SD)
		m.prior(a, r, m.tTrend+k, 0, 1)
	}
	m.prior(a, r, m.tRf, m.d.Sensor.Drift.Mean, m.driftSD())
}
