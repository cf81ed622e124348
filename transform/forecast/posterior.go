package forecast

import (
	"math"
)

// Posterior is all that an answer for one lamp life needs. It is plain data,
// about a kilobyte: stored each night, it answers `due` for any threshold and
// interval without the history.
//
// For hours h after Last the lamp's ln output is
//
//	-S g1 - Q g2 + E g3 - L + R exp(-(h-Last)/(10^4 Memory))
//
// with (S,Q,E,L,R) of mean Mean and covariance Cov (lower triangle by rows),
// and an irregularity of its own, see variance. Up to Last it is tabulated.
type Posterior struct {
	Lamp       int // index into Input.Lamps
	Fixture    string
	Life       int
	Class      string
	Gear       string
	Lot        string
	LotSize    int
	Group      string
	GroupSize  int // lamp lives now under its sensor
	AsOf       int
	HoursNow   float64
	Threshold  float64
	Burn       Burn
	Dark       bool
	Bins       int // weekly bins it rests on, or surveys
	Surveyed   bool
	LastBin    int // day of the last one
	FirstHours float64

	Tau, Memory, Last float64 // h, 10^4 h, h
	Power             float64 // where the bend is linearised, see basis
	WanderSD          float64 // ln per 10^4 h
	Alpha             [3]float64
	Mean              [5]float64
	Cov               [15]float64
	Past              []PastPoint

	SlopePriorSD  float64 // prior spread of S, all levels together
	DirtPriorSD   float64
	Dirt          [2]float64    // loss to dirt since the first bin, ln: mean, spread
	DirtAmplitude float64       // ln output lost when fully soiled
	DirtSD        float64       // its posterior spread
	RoomDirt      [2]float64    // the same amplitude of its room: mean, spread
	StaysClean    bool          // its room is declared to
	NoDirt        *Posterior    // in a room that nobody cleaned, what it is without dirt; else nil
	DirtPull      [5]float64    // change of Mean for each ln of the room's amplitude more
	PastPull      []float64     // the same for Past
	Trend         [2]float64    // of what nobody reads in its room, in spreads of what is usual: mean, spread
	TrendPull     [5]float64    // change of Mean for each spread more
	PastTrend     []float64     // the same for Past
	TypeRead      bool          // some lamps of its type hang where supply swings them not, or is read
	Unread        float64       // ln output that a spread of the trend takes in a year
	SensorDrift   [2]float64    // the sensor's mean rate, ln per year: mean, spread
	Gain          [2]float64    // change of ln gain since the first bin: mean, spread
	DriftRate     [2]float64    // the sensor's rate now, ln per year: mean, spread
	OwnShift      [5]float64    // change of Mean, were this sensor's assumed drift 1 %/year higher
	SiteShift     [5]float64    // the same for all sensors of the site
	PastShift     [2][]float64  // the same for Past
	Sees          SensorHistory // what ties the drift down
	Cleanings     int           // within this life
	NoSupply      bool
	Ended         bool    // the lamp hangs no more
	Steps         []Step  // of this lamp, not explained
	Doubts        []Doubt // about its sensor's as-found gains
	Dusty         []Dusty // times within this life that stand for nothing
	MostHours     float64 // most hours seen of the lamp type at this site
	Elsewhere     int     // lamps of its make or lot at other sites of its group, whose fade it begins with
	ClassSlope    [2]float64
	TypeTail      float64 // how much wider than declared the type's slope may lie, since its readings contradict the assumption; 1: they don't
}

// SensorHistory counts what a sensor's drift is known from.
type SensorHistory struct {
	Recalibrations, WithFactor, References int
	SiteWithFactor, SiteReferences         int // on all sensors of the site
}

// PastPoint is the lamp's ln output at run-hours already burnt.
type PastPoint struct{ Hours, Mean, SD float64 }

const pastStep = 500

func (m *model) posterior(g *groupState, l *lampState, out *Posterior) {
	in := &m.in.Lamps[l.in]
	law := m.law[l.class]
	n := len(l.bins)
	*out = Posterior{Lamp: l.in, Fixture: in.Fixture, Life: in.Life, Class: in.Class, Gear: in.Gear, Lot: in.Lot,
		LotSize: 1,
		Group:   m.in.Groups[g.sensors[g.lastSensor(l)].in].ID, AsOf: m.asOf, HoursNow: in.HoursNow, Threshold: in.Threshold,
		Burn: in.Burn, Dark: in.Dark,
		Bins: n, LastBin: l.bins[n-1].Day, FirstHours: l.first, Tau: law.Tau, Memory: law.WanderMem / 1e4,
		Power: m.h.power[l.class]}
	if l.lot >= 0 {
		out.LotSize = m.lots[l.lot].n
	}
	p, kn := l.p, l.kn.x
	nk := len(kn)
	out.Last = kn[nk-1]*1e4 + Seasoning
	out.WanderSD = m.wanderScale(l)
	// weights of the knots in the far level and in the relaxation towards it
	c, v := knotWeights(l.kn, out.Memory)
	pc, pv := matVec(l.prec, c, nk), matVec(l.prec, v, nk)
	out.Alpha = [3]float64{dot(c, pc), dot(c, pv), dot(v, pv)}
	t := farRows(l, out.Memory)
	for i := 0; i < 5; i++ {
		ti := t[i*p : i*p+p]
		out.Mean[i] = dot(ti, l.fit)
		ct := matVec(l.cov, ti, p)
		for j := 0; j <= i; j++ {
			out.Cov[i*(i+1)/2+j] = dot(t[j*p:j*p+p], ct)
		}
	}
	z := make([]float64, p)
	for _, h := range pastHours(out.Last) {
		m.outputRow(l, h, z)
		out.Past = append(out.Past, PastPoint{h, dot(z, l.fit), math.Sqrt(max(0, quad(l.cov, z, p)))})
	}
	s, _, _ := m.lampSpread(l)
	_, mean := pacePrior(law.Slope, m.classSlope(l.class))
	if l.lot >= 0 {
		mean = math.Hypot(mean, m.lotSpread(l.class, -1)[0])
	} else if l.make >= 0 {
		mean = math.Hypot(mean, m.makeSpread(l.class)[0])
	}
	out.SlopePriorSD = math.Hypot(s, mean)
	out.DirtPriorSD = math.Sqrt(math.Pow(m.d.Dirt.Amplitude.SD, 2) + math.Pow(m.bayDirtSD(l.bay), 2) +
		math.Pow(m.lampDirtSD(l.bay), 2))
	at := m.tClass + 3*l.class
	out.TypeTail = m.h.tail[l.class]
	out.ClassSlope = [2]float64{m.t[at], math.Sqrt(m.ct[at*m.nt+at])}
	m.disturbances(g, l, out)
}

// farRows gives, as 5 x p, the rows of a lamp's columns that make up Posterior.Mean.
func farRows(l *lampState, mem float64) []float64 {
	p, nk := l.p, len(l.kn.x)
	c, v := knotWeights(l.kn, mem)
	pc, pv := matVec(l.prec, c, nk), matVec(l.prec, v, nk)
	t := make([]float64, 5*p)
	t[0*p+colS], t[1*p+colQ], t[2*p+colE] = 1, 1, 1
	for i := 0; i < nk; i++ {
		t[3*p+colU+i], t[4*p+colU+i] = -pc[i], -pv[i] // loss counts positive
	}
	return t
}

// knotWeights gives the covariances of a unit wander's knots with its value in
// the far future, c, and with its relaxation towards it, v: at x hours after
// the last knot the covariance is c - exp(-x/m) v.
func knotWeights(kn knots, mem float64) (c, v []float64) {
	n := len(kn.x)
	last := kn.x[n-1]
	c, v = make([]float64, n), make([]float64, n)
	for i, s := range kn.x {
		c[i] = mem * (2*s - mem*(1-math.Exp(-s/mem)))
		v[i] = mem * mem * (math.Exp(-(last-s)/mem) - math.Exp(-last/mem))
	}
	return c, v
}

func pastHours(last float64) []float64 {
	n := max(1, int(math.Ceil((last-Seasoning)/pastStep)))
	n = min(n, 60)
	out := make([]float64, n+1)
	for i := range out {
		out[i] = Seasoning + (last-Seasoning)*float64(i)/float64(n)
	}
	return out
}

// outputRow writes the regressors of a lamp's own ln output at h.
func (m *model) outputRow(l *lampState, h float64, z []float64) {
	for i := range z {
		z[i] = 0
	}
	g1, g2, g3 := basis(h, m.law[l.class].Tau, m.h.power[l.class])
	z[colS], z[colQ], z[colE] = -g1, -g2, g3
	k, w0, w1 := l.kn.hat((h - Seasoning) / 1e4)
	if k >= 0 {
		z[colU+k] += w0
	}
	if k+1 < len(l.kn.x) {
		z[colU+k+1] += w1
	}
}

// disturbances fills in what dirt and sensor did since the lamp's first bin.
func (m *model) disturbances(g *groupState, l *lampState, out *Posterior) {
	in := &m.in.Lamps[l.in]
	n := len(l.bins)
	first, last := l.bins[0].Day, l.bins[n-1].Day
	sd := func(c int) float64 { return math.Sqrt(max(0, g.cov[c*g.q+c])) }
	dirt := m.soil(l)
	d0, d1 := dirt.on(first), dirt.on(last)
	dd := d1.level - d0.level
	out.DirtSD = math.Sqrt(max(0, l.cov[colDirt*l.p+colDirt]))
	u := l.bay
	out.Dirt = [2]float64{dd * l.fit[colDirt], dd * out.DirtSD}
	for k, z := range [...]float64{d1.byDays - d0.byDays, d1.byLeft - d0.byLeft, d1.byWiped - d0.byWiped} {
		c := u.colDays() + k
		out.Dirt[0] += u.dirt * z * g.fit[c]
		out.Dirt[1] = math.Hypot(out.Dirt[1], u.dirt*z*sd(c))
	}
	out.DirtAmplitude = l.fit[colDirt]
	out.SensorDrift = [2]float64{g.fit[u.colDrift], sd(u.colDrift)}
	z := make([]float64, g.q)
	u.gainRow(last, z, 1)
	g.sensors[partAt(l.parts, first)].gainRow(first, z, -1)
	out.Gain = [2]float64{dot(z, g.fit), math.Sqrt(max(0, quad(g.cov, z, g.q)))}
	r := u.colRate + u.interval(last)
	out.DriftRate = [2]float64{g.fit[r], sd(r)}
	for _, c := range in.Cleanings {
		if c.Day > first && c.Day <= m.asOf && c.Part != CleanRelamp {
			out.Cleanings++
		}
	}
	withV := 0
	for k := range l.bins {
		if l.bins[k].HasSupply {
			withV++
		}
	}
	out.NoSupply = withV*2 < n
	for k := range l.bins {
		out.Unread += m.unread(l, &l.bins[k]) / float64(n)
	}
}

// gainRow adds f times the regressors of ln gain on a day to z.
func (u *sensorState) gainRow(day int, z []float64, f float64) {
	j := u.interval(day)
	z[u.colRate+j] += f * float64(day-u.from[j]) / 365.25
	z[u.colOff+j] += f
}

// lastSensor is the sensor that watches the lamp last.
func (g *groupState) lastSensor(l *lampState) int {
	return partAt(l.parts, l.bins[len(l.bins)-1].Day)
}

// variance of the irregularity that hours after Last bring, given the knots;
// x is (h-100)/10^4, e = exp(-(h-Last)/(10^4 Memory)).
func (p *Posterior) variance(x, e float64) float64 {
	v := wanderCov(x, x, p.Memory) - p.Alpha[0] + 2*e*p.Alpha[1] - e*e*p.Alpha[2]
	return p.WanderSD * p.WanderSD * max(0, v)
}

// Output gives mean and spread of the lamp's own ln output at h run-hours,
// relative to its output at 100 h.
func (p *Posterior) Output(h float64) (mean, sd float64) {
	return p.output(h, nil, nil)
}

// output with the mean shifted by a change of the parameters.
func (p *Posterior) output(h float64, shift *[5]float64, past []float64) (mean, sd float64) {
	if h < p.Last {
		n := len(p.Past)
		t := (h - Seasoning) / (p.Last - Seasoning) * float64(n-1)
		i := min(max(int(t), 0), n-2)
		f := min(max(t-float64(i), 0), 1)
		a, b := p.Past[i], p.Past[i+1]
		mean = a.Mean*(1-f) + b.Mean*f
		if past != nil {
			mean += past[i]*(1-f) + past[i+1]*f
		}
		return mean, a.SD*(1-f) + b.SD*f
	}
	g1, g2, g3 := basis(h, p.Tau, p.Power)
	e := math.Exp(-(h - p.Last) / (1e4 * p.Memory))
	z := [5]float64{-g1, -g2, g3, -1, e}
	v := p.variance((h-Seasoning)/1e4, e)
	for i := 0; i < 5; i++ {
		mean += z[i] * p.Mean[i]
		if shift != nil {
			mean += z[i] * shift[i]
		}
		row := p.Cov[i*(i+1)/2:]
		for j := 0; j < i; j++ {
			v += 2 * z[i] * z[j] * row[j]
		}
		v += z[i] * z[i] * row[i]
	}
	return mean, math.Sqrt(max(0, v))
}

func matVec(a, x []float64, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = dot(a[i*n:i*n+n], x)
	}
	return out
}

func dot(a, b []float64) float64 {
	s := 0.0
	for i, x := range a {
		s += x * b[i]
	}
	return s
}

// At sets what of a posterior does not come from the fit: the day, and how the
// lamp and its room stand on it. It is of lamp p.Lamp of the input.
func (p *Posterior) At(in *Input) {
	l := &in.Lamps[p.Lamp]
	p.Stand(in.AsOf, l.HoursNow, l.Threshold, l.Burn, l.Dark)
}

// Stand is At by the values themselves: the day, the lamp's run-hours and
// threshold, its room's burning habit, and whether it is dark.
func (p *Posterior) Stand(asOf int, hours, threshold float64, burn Burn, dark bool) {
	p.AsOf, p.HoursNow, p.Threshold, p.Burn, p.Dark = asOf, hours, threshold, burn, dark
}
