package forecast

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// SurveyInput is lamps that nobody logs, known by canopy surveys alone. All are
// read on one rig, a few times a year at most, so that what is not known of the rig
// on a visit is shared by all it read that day, the reference fixture too.
//
// With f the ageing law of the pooled model, a survey's ln average is
//
//	y = a + f(h) + V ln(v/v0) + o + e
//
// a the lamp's own scale, o the rig's gain on that visit: a rate times years,
// and a part of the visit's own. The reference fixture gives a + o + e, since it
// burns for surveys only.
type SurveyInput struct {
	AsOf     int
	Lamps    []SurveyedLamp
	Visits   []RigVisit // in order of day
	Checks   []RigCheck
	Rig      RigDefaults // zero value: DefaultRig()
	Defaults Defaults    // zero value: DefaultTable()
}

// RigVisit is a day on which surveys were taken.
type RigVisit struct {
	Day int
	SD  float64 // spread of the rig's gain on it, ln; 0: RigDefaults.Visit
}

// SurveyedLamp is one lamp life with its surveys; of the Lamp, what speaks of
// bins and sensors is not used.
type SurveyedLamp struct {
	Lamp
	Surveys []Sighting // in order of day
}

// Sighting is one survey of a lamp.
type Sighting struct {
	Survey    string  // its name, for those who ask which it was
	Visit     int     // index into SurveyInput.Visits
	Hours     float64 // run-hours of this lamp life
	HoursSD   float64 // how well they are known
	Ln        float64 // ln of the average PPFD; any unit, the same all through the life
	SD        float64 // of Ln, what no other survey shares
	Supply    float64 // ln(supply voltage / reference); 0 where HasSupply is false
	HasSupply bool
}

// RigCheck is a survey of a reference fixture.
type RigCheck struct {
	Visit   int
	Fixture string
	Ln, SD  float64
}

// RigDefaults is what is assumed of a survey rig where no reference fixture tells.
type RigDefaults struct {
	Drift Prior   // rate of its gain, ln per year
	Visit float64 // spread of its gain from visit to visit, ln
	Fresh float64 // how far a discharge lamp read before its seasoning may be off, ln
}

// DefaultRig gives the built-in one.
func DefaultRig() RigDefaults {
	return RigDefaults{Drift: Prior{0, .015, basisPractice}, Visit: .007, Fresh: .03}
}

// SurveyFit is the lamps' posteriors, together.
type SurveyFit struct {
	in    *SurveyInput
	d     Defaults
	lamps []surveyed
	index map[string]int // of the shared columns
	t     *mat.VecDense  // shared columns: estimate
	ct    *mat.SymDense  // and covariance
	types map[string]easing
	own   []easing // by SurveyInput.Lamps
	post  []Posterior
}

// surveyed is one lamp on its way through: its columns are a, S, Q, E and the
// ageing irregularity at the hours of its surveys.
type surveyed struct {
	at    int       // index into SurveyInput.Lamps
	x     []float64 // knots, 10^4 h from 100 h
	prec  []float64 // their precision for unit wander
	scale float64   // spread of the ageing rate
	ainv  *mat.SymDense
	k     *mat.Dense // what a shared column moves the lamp's by, with a minus
	fit   *mat.VecDense
	cov   *mat.Dense
	to    *mat.Dense // 5 x p: from its columns to Posterior.Mean
	alpha [3]float64 // of Posterior
}

// FitSurveys fits them. A pass is exact, a linear Gaussian model with the lamps
// eliminated one by one; between passes the assumptions give way, see ease.
func FitSurveys(in *SurveyInput) (*SurveyFit, error) {
	f := &SurveyFit{in: in, d: in.Defaults, index: map[string]int{}}
	if f.d.Classes == nil {
		f.d = DefaultTable()
	}
	if in.Rig == (RigDefaults{}) {
		in.Rig = DefaultRig()
	}
	if err := in.validate(f.d); err != nil {
		return nil, err
	}
	f.columns()
	if len(f.index) == 0 {
		return f, nil
	}
	f.start()
	for k := range surveyPasses {
		if k > 0 {
			f.ease()
		}
		if err := f.solve(); err != nil {
			return nil, err
		}
	}
	for k := range f.lamps {
		f.post = append(f.post, f.posterior(&f.lamps[k]))
	}
	return f, nil
}

// solve is one pass.
func (f *SurveyFit) solve() error {
	n := len(f.index)
	a, r := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	f.shared(a, r)
	f.lamps = f.lamps[:0]
	for i := range f.in.Lamps {
		if len(f.in.Lamps[i].Surveys) > 0 {
			f.lamps = append(f.lamps, f.lamp(i, a, r))
		}
	}
	var ch mat.Cholesky
	if !ch.Factorize(a) {
		return fmt.Errorf("fit of %d surveyed lamps has no solution: two things in it cannot be told apart", len(f.lamps))
	}
	f.t, f.ct = mat.NewVecDense(n, nil), mat.NewSymDense(n, nil)
	if err := ch.SolveVecTo(f.t, r); err != nil {
		return fmt.Errorf("solve surveys: %w", err)
	}
	if err := ch.InverseTo(f.ct); err != nil {
		return fmt.Errorf("solve surveys: %w", err)
	}
	for k := range f.lamps {
		f.back(&f.lamps[k])
	}
	return nil
}

func (in *SurveyInput) validate(d Defaults) error {
	for i := range in.Lamps {
		l := &in.Lamps[i]
		if err := l.validate(1, d); err != nil {
			return fmt.Errorf("fixture %s, lamp life %d: %w", l.Fixture, l.Life, err)
		}
		for _, s := range l.Surveys {
			if s.Visit < 0 || s.Visit >= len(in.Visits) || !finite(s.Ln) || !(s.SD > 0) || !(s.Hours >= 0) ||
				!finite(s.Supply) || !(s.HoursSD >= 0) {
				return fmt.Errorf("fixture %s, lamp life %d: a survey at %v h holds a number that cannot be used", l.Fixture,
					l.Life, s.Hours)
			}
		}
	}
	for _, c := range in.Checks {
		if c.Visit < 0 || c.Visit >= len(in.Visits) || !finite(c.Ln) || !(c.SD > 0) {
			return fmt.Errorf("reference fixture %s: a survey holds a number that cannot be used", c.Fixture)
		}
	}
	return nil
}

// column gives the place of a shared column, made at the first asking.
func (f *SurveyFit) column(format string, args ...any) int {
	name := fmt.Sprintf(format, args...)
	c, ok := f.index[name]
	if !ok {
		c = len(f.index)
		f.index[name] = c
	}
	return c
}

func (f *SurveyFit) typeColumn(class string, k int) int { return f.column("type %s %d", class, k) }
func (f *SurveyFit) lotColumn(class, lot string, k int) int {
	return f.column("lot %s %s %d", class, lot, k)
}

// columns names all shared columns.
func (f *SurveyFit) columns() {
	for i := range f.in.Lamps {
		l := &f.in.Lamps[i]
		if len(l.Surveys) == 0 {
			continue
		}
		for k := range 3 {
			f.typeColumn(l.Class, k)
			f.lotColumn(l.Class, lotName(l), k)
		}
		f.column("gear %s", gearName(l.Gear))
	}
	if len(f.index) > 0 {
		f.column("rate")
		for v := range f.in.Visits {
			f.column("visit %d", v)
		}
		for _, c := range f.in.Checks {
			f.column("reference %s", c.Fixture)
		}
	}
}

// lotName is the lot; a lamp without one is a lot of its own.
func lotName(l *SurveyedLamp) string {
	if l.Lot != "" {
		return l.Lot
	}
	return fmt.Sprintf("\x00%s %d", l.Fixture, l.Life)
}

// shared adds the priors of the shared columns, and the reference fixtures.
func (f *SurveyFit) shared(a *mat.SymDense, r *mat.VecDense) {
	add := func(i, j int, v float64) { a.SetSym(i, j, a.At(i, j)+v) }
	prior := func(c int, mean, sd float64) {
		w := 1 / (sd * sd)
		add(c, c, w)
		r.SetVec(c, r.AtVec(c)+w*mean)
	}
	classes, lots, gears := map[string]bool{}, map[string]bool{}, map[string]bool{}
	for i := range f.in.Lamps {
		l := &f.in.Lamps[i]
		if len(l.Surveys) == 0 {
			continue
		}
		law := f.d.Classes[l.Class]
		if !classes[l.Class] {
			classes[l.Class] = true
			prior(f.typeColumn(l.Class, 0), law.Slope.Mean, law.Slope.SD*f.types[l.Class].tail)
			prior(f.typeColumn(l.Class, 1), 0, law.Shape.SD*f.types[l.Class].pace) // about the bend that basis is linearised at
			prior(f.typeColumn(l.Class, 2), law.Early.Mean, law.Early.SD)
		}
		if name := l.Class + "\x00" + lotName(l); !lots[name] {
			lots[name] = true
			for k, sd := range [3]float64{law.SlopeLot * f.types[l.Class].pace, law.ShapeLot * f.types[l.Class].pace,
				law.EarlyLot} {
				prior(f.lotColumn(l.Class, lotName(l), k), 0, sd)
			}
		}
		if g := gearName(l.Gear); !gears[g] {
			gears[g] = true
			s, ok := f.d.Supply[g]
			if !ok {
				s = f.d.Supply[UnknownGear]
			}
			prior(f.column("gear %s", g), s.Mean, s.SD)
		}
	}
	rate := f.column("rate")
	prior(rate, f.in.Rig.Drift.Mean, f.in.Rig.Drift.SD)
	// a visit's gain is the rate's share and a part of its own
	for v, visit := range f.in.Visits {
		sd := visit.SD
		if sd == 0 {
			sd = f.in.Rig.Visit
		}
		w := 1 / (sd * sd)
		c, years := f.column("visit %d", v), f.years(v)
		add(c, c, w)
		add(c, rate, -w*years)
		add(rate, rate, w*years*years)
	}
	for _, k := range f.in.Checks {
		b, v := f.column("reference %s", k.Fixture), f.column("visit %d", k.Visit)
		w := 1 / (k.SD * k.SD)
		add(b, b, w)
		add(v, v, w)
		add(b, v, w)
		r.SetVec(b, r.AtVec(b)+w*k.Ln)
		r.SetVec(v, r.AtVec(v)+w*k.Ln)
	}
	for name, c := range f.index {
		if len(name) > 10 && name[:10] == "reference " {
			add(c, c, 1e-2) // its own scale is free
		}
	}
}

// years from the first visit.
func (f *SurveyFit) years(visit int) float64 {
	return float64(f.in.Visits[visit].Day-f.in.Visits[0].Day) / 365.25
}

// lamp makes one lamp's equations, takes them out of the shared ones, and keeps
// what leads back.
func (f *SurveyFit) lamp(i int, a *mat.SymDense, r *mat.VecDense) surveyed {
	in := &f.in.Lamps[i]
	law := f.d.Classes[in.Class]
	ease := f.own[i]
	l := surveyed{at: i, scale: law.Wander * ease.pace}
	mem := law.WanderMem / 1e4
	for _, s := range in.Surveys {
		if x := (s.Hours - Seasoning) / 1e4; x > 0 && !slices.Contains(l.x, x) {
			l.x = append(l.x, x)
		}
	}
	slices.Sort(l.x)
	if len(l.x) == 0 {
		l.x = []float64{1e-4}
	}
	l.prec = wanderPrecision(l.x, mem)
	p, n := 4+len(l.x), len(f.index)
	al, at, rl := mat.NewSymDense(p, nil), mat.NewDense(p, n, nil), mat.NewVecDense(p, nil)
	al.SetSym(0, 0, 1e-2) // its scale is free
	for k, sd := range [3]float64{f.lampSpread(i), law.ShapeLamp * ease.pace, law.EarlyLamp} {
		w := 1 / (sd * sd)
		al.SetSym(1+k, 1+k, al.At(1+k, 1+k)+w)
		for _, c := range [2]int{f.typeColumn(in.Class, k), f.lotColumn(in.Class, lotName(in), k)} {
			at.Set(1+k, c, at.At(1+k, c)-w)
			for _, e := range [2]int{f.typeColumn(in.Class, k), f.lotColumn(in.Class, lotName(in), k)} {
				if e <= c {
					a.SetSym(c, e, a.At(c, e)+w)
				}
			}
		}
	}
	for x := range l.x {
		for y := range x + 1 {
			al.SetSym(4+x, 4+y, l.prec[x*len(l.x)+y]/(l.scale*l.scale))
		}
	}
	z := make([]float64, p+n)
	for _, s := range in.Surveys {
		clear(z)
		f.row(&l, in, s, z)
		sd := math.Hypot(s.SD, ease.pace*s.HoursSD/1e4)
		if s.Hours < Seasoning && in.Class != LED {
			sd = math.Hypot(sd, f.in.Rig.Fresh)
		}
		w := 1 / (sd * sd)
		for x, zx := range z {
			if zx == 0 {
				continue
			}
			if x < p {
				rl.SetVec(x, rl.AtVec(x)+w*zx*s.Ln)
			} else {
				r.SetVec(x-p, r.AtVec(x-p)+w*zx*s.Ln)
			}
			for y := range x + 1 {
				switch v := w * zx * z[y]; {
				case v == 0:
				case x < p:
					al.SetSym(x, y, al.At(x, y)+v)
				case y < p:
					at.Set(y, x-p, at.At(y, x-p)+v)
				default:
					a.SetSym(x-p, y-p, a.At(x-p, y-p)+v)
				}
			}
		}
	}
	f.eliminate(&l, al, at, rl, a, r)
	return l
}

// row writes the regressors of one survey: the lamp's columns, then the shared.
func (f *SurveyFit) row(l *surveyed, in *SurveyedLamp, s Sighting, z []float64) {
	p := 4 + len(l.x)
	f.output(l, in.Class, max(s.Hours, Seasoning), z)
	z[0] = 1
	if s.HasSupply {
		z[p+f.column("gear %s", gearName(in.Gear))] = s.Supply
	}
	z[p+f.column("visit %d", s.Visit)] = 1
}

// output writes the regressors of the lamp's own ln output at h, up to its last
// survey.
func (f *SurveyFit) output(l *surveyed, class string, h float64, z []float64) {
	law := f.d.Classes[class]
	g1, g2, g3 := basis(h, law.Tau, law.Shape.Mean)
	z[1], z[2], z[3] = -g1, -g2, g3
	x, before := (h-Seasoning)/1e4, 0.0
	for k, knot := range l.x {
		if x <= knot {
			w := (x - before) / (knot - before)
			z[4+k] = w
			if k > 0 {
				z[4+k-1] = 1 - w
			}
			return
		}
		before = knot
	}
	z[4+len(l.x)-1] = 1
}

// eliminate takes a lamp's columns out of the shared equations.
func (f *SurveyFit) eliminate(l *surveyed, al *mat.SymDense, at *mat.Dense, rl *mat.VecDense, a *mat.SymDense,
	r *mat.VecDense) {
	p, n := at.Dims()
	var ch mat.Cholesky
	if !ch.Factorize(al) { // each column has a prior: it cannot be
		panic("forecast: a surveyed lamp's own equations have no solution")
	}
	l.ainv, l.k, l.fit = mat.NewSymDense(p, nil), mat.NewDense(p, n, nil), mat.NewVecDense(p, nil)
	if err := ch.InverseTo(l.ainv); err != nil {
		l.ainv.CopySym(al)
	}
	l.k.Mul(l.ainv, at)
	l.fit.MulVec(l.ainv, rl)
	var gram mat.Dense
	gram.Mul(at.T(), l.k)
	for i := range n {
		for j := range i + 1 {
			if v := gram.At(i, j); v != 0 {
				a.SetSym(i, j, a.At(i, j)-v)
			}
		}
	}
	var back mat.VecDense
	back.MulVec(at.T(), l.fit)
	r.SubVec(r, &back)
}

// back gives the lamp its estimate and covariance, the shared ones being known,
// and the way from them to the five numbers of a Posterior.
func (f *SurveyFit) back(l *surveyed) {
	p, _ := l.k.Dims()
	var moved mat.VecDense
	moved.MulVec(l.k, f.t)
	l.fit.SubVec(l.fit, &moved)
	var kc mat.Dense
	kc.Mul(l.k, f.ct)
	l.cov = mat.NewDense(p, p, nil)
	l.cov.Mul(&kc, l.k.T())
	l.cov.Add(l.cov, l.ainv)
	kn := knots{x: l.x}
	c, v := knotWeights(kn, f.memory(l))
	pc, pv := matVec(l.prec, c, len(l.x)), matVec(l.prec, v, len(l.x))
	l.alpha = [3]float64{dot(c, pc), dot(c, pv), dot(v, pv)}
	l.to = mat.NewDense(5, p, nil)
	l.to.Set(0, 1, 1)
	l.to.Set(1, 2, 1)
	l.to.Set(2, 3, 1)
	for i := range l.x {
		// The columns hold a gain, L a loss; R is what relaxes towards it.
		l.to.Set(3, 4+i, -pc[i])
		l.to.Set(4, 4+i, -pv[i])
	}
}

func (f *SurveyFit) memory(l *surveyed) float64 {
	return f.d.Classes[f.in.Lamps[l.at].Class].WanderMem / 1e4
}

// wanderPrecision is the inverse of the covariance of a unit wander at knots.
func wanderPrecision(x []float64, mem float64) []float64 {
	n := len(x)
	cov := mat.NewSymDense(n, nil)
	for i := range x {
		for j := range i + 1 {
			cov.SetSym(i, j, wanderCov(x[i], x[j], mem))
		}
		cov.SetSym(i, i, cov.At(i, i)*(1+1e-9))
	}
	var ch mat.Cholesky
	inv := mat.NewSymDense(n, nil)
	if ch.Factorize(cov) {
		_ = ch.InverseTo(inv) // near singular at most: knots are hours apart
	}
	out := make([]float64, n*n)
	for i := range n {
		for j := range n {
			out[i*n+j] = inv.At(i, j)
		}
	}
	return out
}
