package forecast

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"wane/transform/estimate"
)

// SurveyMethod names the method in estimates that rest on surveys alone.
const SurveyMethod = "ageing model of canopy surveys"

// surveysForDate is how many surveys of a lamp a due date needs: two give a
// slope with nothing to check it by, so only a bound is claimed.
const surveysForDate = 3

// Posteriors gives one Posterior for each lamp life in service that has surveys,
// in order of SurveyInput.Lamps. Their Bins count surveys.
func (f *SurveyFit) Posteriors() []Posterior {
	var out []Posterior
	for k := range f.lamps {
		if l := &f.in.Lamps[f.lamps[k].at]; !l.Ended || l.EndDay > f.in.AsOf {
			out = append(out, f.post[k])
		}
	}
	return out
}

// posterior is what an answer needs of one lamp.
func (f *SurveyFit) posterior(l *surveyed) Posterior {
	in := &f.in.Lamps[l.at]
	law := f.d.Classes[in.Class]
	last := in.Surveys[len(in.Surveys)-1]
	nk := len(l.x)
	out := Posterior{Lamp: l.at, Fixture: in.Fixture, Life: in.Life, Class: in.Class, Gear: in.Gear, Lot: in.Lot,
		LotSize: f.lotSize(in),
		Group:   "the survey rig", GroupSize: len(f.lamps), AsOf: f.in.AsOf, HoursNow: in.HoursNow, Threshold: in.Threshold,
		Burn: in.Burn, Dark: in.Dark,
		Bins: len(in.Surveys), Surveyed: true, LastBin: f.in.Visits[last.Visit].Day, FirstHours: in.Surveys[0].Hours,
		Tau: law.Tau, Memory: law.WanderMem / 1e4, Last: l.x[nk-1]*1e4 + Seasoning, Power: law.Shape.Mean, WanderSD: l.scale}
	out.Alpha = l.alpha
	var mean mat.VecDense
	mean.MulVec(l.to, l.fit)
	var tc, cov mat.Dense
	tc.Mul(l.to, l.cov)
	cov.Mul(&tc, l.to.T())
	for i := range 5 {
		out.Mean[i] = mean.AtVec(i)
		for j := range i + 1 {
			out.Cov[i*(i+1)/2+j] = cov.At(i, j)
		}
	}
	p, n := l.k.Dims()
	for _, h := range pastHours(out.Last) {
		z := make([]float64, p+n)
		f.output(l, in.Class, h, z)
		zv := mat.NewVecDense(p, z[:p])
		out.Past = append(out.Past, PastPoint{h, mat.Dot(zv, l.fit), math.Sqrt(max(0, mat.Inner(zv, l.cov, zv)))})
	}
	ease := f.types[in.Class]
	out.SlopePriorSD = math.Hypot(law.Slope.SD*ease.tail, math.Hypot(law.SlopeLot*ease.pace, f.lampSpread(l.at)))
	out.PastShift = [2][]float64{make([]float64, len(out.Past)), make([]float64, len(out.Past))}
	seen := map[int]bool{}
	for _, k := range f.in.Checks {
		seen[k.Visit] = true
	}
	for _, s := range in.Surveys {
		if seen[s.Visit] {
			out.Sees.References++
		}
	}
	out.MostHours = in.HoursNow
	for i := range f.in.Lamps {
		if o := &f.in.Lamps[i]; o.Class == in.Class {
			out.MostHours = max(out.MostHours, o.HoursNow)
		}
	}
	return out
}

func (f *SurveyFit) lotSize(in *SurveyedLamp) (n int) {
	for i := range f.in.Lamps {
		if o := &f.in.Lamps[i]; o.Class == in.Class && lotName(o) == lotName(in) && len(o.Surveys) > 0 {
			n++
		}
	}
	return n
}

// Answers asks every lamp life in service, those without a survey too, in order
// of SurveyInput.Lamps.
func (f *SurveyFit) Answers(ask Asking) []Answer {
	var out []Answer
	post := f.Posteriors()
	for i := range f.in.Lamps {
		l := &f.in.Lamps[i]
		switch {
		case len(post) > 0 && post[0].Lamp == i:
			out = append(out, post[0].surveyAnswer(f.d, ask))
			post = post[1:]
		case l.StartDay <= f.in.AsOf && !(l.Ended && l.EndDay <= f.in.AsOf):
			a := noData(i, &l.Lamp)
			if a.Status == StatusNoData {
				a.Reason = "neither logged nor surveyed"
			}
			out = append(out, a)
		}
	}
	return out
}

// surveyAnswer says what the surveys of one lamp say. What is not known of the
// rig is in the intervals, so drift is no reason to refuse; too few surveys are.
func (p *Posterior) surveyAnswer(d Defaults, ask Asking) Answer {
	if ask.Interval == 0 {
		ask.Interval = .8
	}
	if ask.Threshold == 0 {
		ask.Threshold = p.Threshold
	}
	if ask.Widen == 0 {
		ask.Widen = 1
	}
	z := normalQuantile(ask.Interval) * ask.Widen
	a := Answer{Lamp: p.Lamp, Assumed: p.surveyAssumed(d)}
	a.Level = p.level(z, ask.Interval)
	a.Level.Method = SurveyMethod
	none := estimate.None(SurveyMethod, "a survey reads lamp and dirt together")
	a.Decline = Shares{Lamp: p.shares(z, ask.Interval).Lamp, Dirt: none, Sensor: none}
	a.Decline.Lamp.Method = SurveyMethod
	a.Identity.SlopeShare = math.Sqrt(max(0, p.Cov[0])) / p.SlopePriorSD
	c, at80 := p.Cross(ask.Threshold, z), p.Cross(ask.Threshold, normalQuantile(.8)*ask.Widen)
	a.Status = p.surveyStatus(d, &a, c, at80, ask.Threshold)
	p.fill(d, &a, c, at80, ask, z)
	a.DueHours.Method, a.DueDay.Method = SurveyMethod, SurveyMethod
	a.Reason = join(p.surveyReason(&a, at80, ask))
	return a
}

func (p *Posterior) surveyStatus(d Defaults, a *Answer, c, at80 Crossing, threshold float64) Status {
	switch {
	case p.Dark:
		return StatusDark
	case p.Bins < 2:
		return StatusTooEarly
	case c.Centre <= p.HoursNow:
		if p.Bins < surveysForDate && a.Level.Hi > threshold {
			return StatusBeyond
		}
		return StatusUnder
	case p.Bins < surveysForDate || at80.Hi > d.Limits.Ratio*at80.Lo:
		return StatusBeyond
	}
	return StatusForecast
}

func (p *Posterior) surveyReason(a *Answer, at80 Crossing, ask Asking) []string {
	from := fmt.Sprintf("from %d canopy surveys", p.Bins)
	switch a.Status {
	case StatusDark:
		return []string{"the lamp is dark"}
	case StatusTooEarly:
		return []string{"one canopy survey: a second gives a bound, a third a date"}
	case StatusUnder:
		from = fmt.Sprintf("already under %.3g, %s", ask.Threshold, from)
		if a.Level.Hi > ask.Threshold {
			from += "; the interval of its level still reaches the threshold"
		}
	case StatusBeyond:
		if p.Bins < surveysForDate {
			from = fmt.Sprintf("%s: two give a bound, a third a date", from)
		} else {
			from = fmt.Sprintf("%s: %s, only a lower bound is claimed", from, unboundedWords(at80))
		}
	}
	out := []string{from}
	if p.FirstHours > earliestSurvey {
		out = append(out, fmt.Sprintf("first survey at %.0f run-hours: 100 %% is what the lamp gave at %d h by its type's behaviour", p.FirstHours, Seasoning))
	} else if p.FirstHours < Seasoning && p.Class != LED {
		out = append(out, fmt.Sprintf("first survey before seasoning (%.0f of %d h): how far that lay from 100 %% is assumed",
			p.FirstHours, Seasoning))
	}
	if p.Sees.References < p.Bins {
		out = append(out, fmt.Sprintf("the reference fixture was read at %d of them: what the rig may have drifted by at the others is in the interval", p.Sees.References))
	}
	if a.Identity.SlopeShare > .7 {
		out = append(out, "mostly the typical behaviour of its type")
	}
	if p.LotSize < 2 {
		out = append(out, "a cohort of one: only its lamp type's behaviour to lean on")
	}
	return append(out, "a survey reads lamp and dirt together: clean the fixture before one")
}

// earliestSurvey: the run-hours up to which a first survey counts as that of a
// new lamp.
const earliestSurvey = 500

// surveyAssumed lists the assumed numbers behind the answer.
func (p *Posterior) surveyAssumed(d Defaults) (out []Assumption) {
	for _, a := range p.assumed(d) {
		switch a.Name {
		case "dirt when fully soiled", "days to soil", "dirt left by a cleaning", "drift of sensors":
		default:
			out = append(out, a)
		}
	}
	r := DefaultRig()
	return append(out, Assumption{Name: "drift of the survey rig", Value: r.Drift.Mean, SD: r.Drift.SD,
		Unit: "ln per year", Basis: r.Drift.Basis},
		Assumption{Name: "rig from visit to visit", SD: r.Visit, Unit: "ln", Basis: basisPractice})
}

// Holding is which of two lamps keeps more of its light at the same run-hours.
type Holding struct {
	Hours float64
	// Ratio is the first lamp's level over the second's.
	Ratio estimate.Estimate
	// First is the probability that the first keeps more.
	First float64
}

// Compare sets two lamps of the fit, by their place in SurveyInput.Lamps, side
// by side at run-hours both have reached or will. What they share (rig, lot,
// type) cancels as far as it is shared. ok is false where one was not surveyed.
func (f *SurveyFit) Compare(first, second int, hours []float64, interval float64) (out []Holding, ok bool) {
	a, b := f.find(first), f.find(second)
	if a < 0 || b < 0 {
		return nil, false
	}
	la, lb, pa, pb := &f.lamps[a], &f.lamps[b], &f.post[a], &f.post[b]
	var kc, cross, tx, shared mat.Dense
	kc.Mul(la.k, f.ct)
	cross.Mul(&kc, lb.k.T())
	tx.Mul(la.to, &cross)
	shared.Mul(&tx, lb.to.T())
	z := normalQuantile(interval)
	for _, h := range hours {
		ma, sa := pa.Output(max(h, Seasoning))
		mb, sb := pb.Output(max(h, Seasoning))
		za, zb := pa.far(h), pb.far(h)
		cov := 0.0
		for i := range 5 {
			for j := range 5 {
				cov += za[i] * zb[j] * shared.At(i, j)
			}
		}
		// Where a point lies before a lamp's last survey the common part is that at
		// the last: shared columns move a line as a whole.
		sd := math.Sqrt(max(1e-12, sa*sa+sb*sb-2*min(cov, sa*sb)))
		m := ma - mb
		out = append(out, Holding{Hours: h, First: .5 * math.Erfc(-m/sd/math.Sqrt2),
			Ratio: estimate.Estimate{Centre: math.Exp(m), Lo: math.Exp(m - z*sd), Hi: math.Exp(m + z*sd), Level: interval,
				N: pa.Bins + pb.Bins, Method: SurveyMethod}})
	}
	return out, true
}

func (f *SurveyFit) find(lamp int) int {
	for k := range f.lamps {
		if f.lamps[k].at == lamp {
			return k
		}
	}
	return -1
}

// far gives the weights of Mean in the ln output at h.
func (p *Posterior) far(h float64) [5]float64 {
	g1, g2, g3 := basis(max(h, Seasoning), p.Tau, p.Power)
	return [5]float64{-g1, -g2, g3, -1, math.Exp(-max(0, h-p.Last) / (1e4 * p.Memory))}
}
