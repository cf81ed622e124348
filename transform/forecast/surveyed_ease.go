package forecast

import "gonum.org/v1/gonum/mat"

// easing is how far what is assumed of a type or a lamp has given way.
type easing struct {
	pace float64 // ln loss in 10^4 h that spreads given as shares are of
	tail float64 // by how much the spread of its slope is wider than declared
}

// surveyPasses of the fit: after as many the easings stand to a per cent.
const surveyPasses = 6

// lampTail is the degrees of freedom of a lamp's slope about its lot's; a
// lamp that its surveys show far from it then leans on it little (common practice in
// robust fits, no source). mostPace is how much faster than declared a pace may get.
const lampTail, mostPace = 3, 10

// start sets the easings to what is declared.
func (f *SurveyFit) start() {
	f.types, f.own = map[string]easing{}, make([]easing, len(f.in.Lamps))
	for i := range f.in.Lamps {
		in := &f.in.Lamps[i]
		f.own[i] = easing{f.d.Classes[in.Class].Slope.Mean, 1}
		if len(in.Surveys) > 0 { // other types have no column
			f.types[in.Class] = f.own[i]
		}
	}
}

// lampSpread is the spread of the slope of lamp i about its lot's.
func (f *SurveyFit) lampSpread(i int) float64 {
	class := f.in.Lamps[i].Class
	return f.d.Classes[class].SlopeLamp * f.types[class].pace * f.own[i].tail
}

// ease follows the surveys where they contradict what was assumed: slopes of types
// and lamps count as drawn from Student's t instead of the normal, as EM weights, and spreads
// given as shares of the loss go by the loss found.
func (f *SurveyFit) ease() {
	for class := range f.types {
		law, c := f.d.Classes[class], f.typeColumn(class, 0)
		off := f.t.AtVec(c) - law.Slope.Mean
		f.types[class] = easing{pace(f.t.AtVec(c), law), widening(off*off+f.ct.At(c, c), law.Slope.SD, typeTail)}
	}
	for k := range f.lamps {
		l := &f.lamps[k]
		in := &f.in.Lamps[l.at]
		law, class, lot := f.d.Classes[in.Class], f.typeColumn(in.Class, 0), f.lotColumn(in.Class, lotName(in), 0)
		off := l.fit.AtVec(1) - f.t.AtVec(class) - f.t.AtVec(lot)
		var with mat.VecDense // minus the covariance of its slope with the shared columns
		with.MulVec(f.ct, l.k.RowView(1))
		v := l.cov.At(1, 1) + f.ct.At(class, class) + f.ct.At(lot, lot) + 2*f.ct.At(class, lot) +
			2*(with.AtVec(class)+with.AtVec(lot))
		spread := law.SlopeLamp * f.types[in.Class].pace
		f.own[l.at] = easing{pace(l.fit.AtVec(1), law), widening(off*off+max(0, v), spread, lampTail)}
	}
}

func pace(slope float64, law ClassDefaults) float64 {
	return min(max(slope, .3*law.Slope.Mean), mostPace*law.Slope.Mean)
}
