package forecast

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"wane/transform/estimate"
)

// SurveyPoint is one survey as the fit reads it.
type SurveyPoint struct {
	Survey string
	Day    int     // of its visit
	Hours  float64 // run-hours of the lamp
	// Level is the lamp's output relative to that after seasoning, what the rig
	// and the supply did on that visit taken out. Its interval holds the survey's
	// own spread and how well rig, supply and the lamp's 100 % are known.
	Level estimate.Estimate
}

// Points gives the surveys of a lamp, by its place in SurveyInput.Lamps, for
// drawing; nil where it has none.
func (f *SurveyFit) Points(lamp int, interval float64) []SurveyPoint {
	k := f.find(lamp)
	if k < 0 {
		return nil
	}
	l, in := &f.lamps[k], &f.in.Lamps[lamp]
	p, n := l.k.Dims()
	var cross mat.Dense // covariance of the lamp's columns with the shared ones
	cross.Mul(l.k, f.ct)
	cross.Scale(-1, &cross)
	z := normalQuantile(interval)
	var out []SurveyPoint
	for _, s := range in.Surveys {
		all := make([]float64, p+n)
		f.row(l, in, s, all)
		own, shared := mat.NewVecDense(p, nil), mat.NewVecDense(n, all[p:])
		own.SetVec(0, 1)
		m := s.Ln - mat.Dot(own, l.fit) - mat.Dot(shared, f.t)
		v := mat.Inner(own, l.cov, own) + 2*mat.Inner(own, &cross, shared) + mat.Inner(shared, f.ct, shared) + s.SD*s.SD
		sd := math.Sqrt(max(0, v))
		out = append(out, SurveyPoint{Survey: s.Survey, Day: f.in.Visits[s.Visit].Day, Hours: s.Hours,
			Level: estimate.Estimate{Centre: math.Exp(m),
				Lo: math.Exp(m - z*sd), Hi: math.Exp(m + z*sd), Level: interval, N: 1, Method: SurveyMethod}})
	}
	return out
}

// Light gives what a lamp throws on the grid at run-hours, in the unit of exp(Ln)
// of its surveys, at the reference voltage, by the rig as it stood at the first
// visit.
func (f *SurveyFit) Light(lamp int, hours []float64, interval float64) []estimate.Estimate {
	k := f.find(lamp)
	if k < 0 {
		return nil
	}
	l, post := &f.lamps[k], &f.post[k]
	p, n := l.k.Dims()
	q := normalQuantile(interval)
	var out []estimate.Estimate
	for _, h := range hours {
		h = max(h, Seasoning)
		all := make([]float64, p+n)
		z := mat.NewVecDense(p, all[:p])
		extra := 0.0
		if h <= post.Last {
			f.output(l, post.Class, h, all)
		} else {
			w := post.far(h)
			z.MulVec(l.to.T(), mat.NewVecDense(5, w[:]))
			extra = post.variance((h-Seasoning)/1e4, w[4])
		}
		z.SetVec(0, 1)
		m, sd := mat.Dot(z, l.fit), math.Sqrt(max(0, mat.Inner(z, l.cov, z)+extra))
		out = append(out, estimate.Estimate{Centre: math.Exp(m), Lo: math.Exp(m - q*sd), Hi: math.Exp(m + q*sd),
			Level: interval,
			N:     post.Bins, Method: SurveyMethod})
	}
	return out
}
