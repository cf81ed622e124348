package measure

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"

	"wane/transform/forecast"
)

// stake is what hangs on one lamp's due hour.
type stake struct {
	lamp   int                    // index into the fit's lamps
	group  int                    // what watches it
	sees   forecast.SensorHistory // what ties its sensor down
	never  bool                   // no reading dates it: too young, or due past what can be said
	astray float64                // spread that not knowing the dirt adds
	at     float64                // hours at which its output is looked at: the centre of the crossing
	slope  float64                // ln lost an hour there
	sd     float64                // of its ln output there
	fixed  float64                // variance of it that no reading brings down
	spread float64                // of ln due hours, one standard deviation, as the answer gives it
	perSD  float64                // spread of ln due hours for each spread of ln output
	weight float64                // chance that it is due within the plan's horizon
	perDay float64                // hours burnt a day

	typical float64 // spread of lamps of its type, by which the plan goes without a date
	dated   bool
	drift   bool                   // no date for want of knowing the sensor's drift
	dirt    bool                   // or the dirt
	losses  [lossSteps + 1]float64 // money, at shares of the greatest spread
	most    float64                // that spread
	priced  bool
}

const (
	lossSteps  = 16
	nodes      = 25 // of equal probability stand for a due hour's distribution
	farthest   = 100000.
	usual80    = 1.2815515655446004 // normal quantile of an 80 % interval
	mostSpread = 1.5
)

// dated says whether an answer gives a date.
func dated(s forecast.Status) bool {
	return s == forecast.StatusForecast || s == forecast.StatusUnder
}

// stakeOf looks at one lamp; ok is false where nothing hangs on its due hour: it is
// dark, or past anything that can be said.
func (in *Input) stakeOf(i int, money bool) (s stake, ok bool) {
	p, a, l := &in.Posteriors[i], &in.Answers[i], &in.Lamps[i]
	switch a.Status {
	case forecast.StatusDark, forecast.StatusNoData, forecast.StatusUnder:
		return s, false
	}
	if p.Surveyed || l.BurnPerDay <= 0 {
		return s, false
	}
	c := p.Cross(in.threshold(i), 0)
	s.at = math.Max(c.Centre, p.HoursNow)
	if s.at > farthest || !(s.at > 0) {
		return s, false
	}
	d := in.Fit.Defaults().Limits
	s.lamp, s.group, s.sees, s.astray = p.Lamp, l.Group, p.Sees, math.Abs(a.Dirt)/usual80
	s.never = p.HoursNow < d.MinHours || s.at > d.MaxReach*p.MostHours
	m, sd := p.Output(s.at)
	next, _ := p.Output(s.at + 200)
	s.slope, s.sd, s.perDay = math.Max((m-next)/200, 1e-8), sd, l.BurnPerDay
	s.dated = dated(a.Status)
	s.perSD = in.widen() / (s.slope * s.at)
	s.spread = s.spreadOf(s.sd)
	if a.Status == forecast.StatusInseparable {
		s.drift = in.byDrift(p, a)
		s.dirt = !s.drift
	}
	s.typical = p.SlopePriorSD / math.Max(p.ClassSlope[0], 1e-6)
	days := float64(in.Settings.Horizon())
	for _, h := range s.hours(math.Min(s.spread, mostSpread), p.HoursNow) {
		if h <= p.HoursNow+days*s.perDay {
			s.weight += 1. / nodes
		}
	}
	if money {
		in.price(i, &s)
	}
	return s, true
}

func (in *Input) threshold(i int) float64 {
	if in.Asking.Threshold > 0 {
		return in.Asking.Threshold
	}
	return in.Posteriors[i].Threshold
}

// spreadOf carries a spread of ln output over to ln due hours, by the slope there: the
// band's edges cross the threshold so much sooner and later.
func (s *stake) spreadOf(sd float64) float64 { return math.Min(s.perSD*sd, mostSpread) }

// widen is by how much an answer widens every spread.
func (in *Input) widen() float64 {
	if in.Asking.Widen > 0 {
		return in.Asking.Widen
	}
	return 1
}

// hours is a due hour's distribution in nodes of equal probability, the hours already
// burnt left behind.
func (s *stake) hours(spread, now float64) []float64 {
	mu := math.Log(s.at)
	from := 0.
	if spread > 0 {
		from = distuv.UnitNormal.CDF((math.Log(math.Max(now, 1)) - mu) / spread)
	}
	from = math.Min(from, .95)
	out := make([]float64, nodes)
	for k := range out {
		z := distuv.UnitNormal.Quantile(from + (1-from)*(float64(k)+.5)/nodes)
		out[k] = math.Exp(mu + spread*z)
	}
	return out
}

// price fills in what not knowing costs at each spread. With the relamp and the light
// priced the day is the one of least expected loss:
//
//	L(h) = E[(H-h)+] relamp / E[H]  +  E[((h-H)+)^2] / 2 * threshold * slope * light
//
// life thrown away at the relamp's price for each hour of a life, and light lost under
// the threshold, which falls by the slope each hour past it. The newsvendor's problem
// with one side squared; common practice, no source for this form. With the relamp
// alone priced, or the threshold a limit, the day is the plan's own: that of its risk.
func (in *Input) price(i int, s *stake) {
	w := in.Lamps[i].Worth
	s.most = math.Max(s.spread*2, .05)
	if !s.dated {
		s.most = mostSpread
	}
	s.priced = w.Relamp > 0
	if !s.priced {
		return
	}
	for k := range s.losses {
		h := s.hours(s.most*float64(k)/lossSteps, in.Posteriors[i].HoursNow)
		mean := 0.
		for _, x := range h {
			mean += x / nodes
		}
		cost := func(day float64) float64 {
			early, late := 0., 0.
			for _, x := range h {
				early += math.Max(0, x-day) / nodes
				if x < day {
					late += (day - x) * (day - x) / nodes
				}
			}
			return early*w.Relamp/mean + late/2*in.threshold(i)*s.slope*w.LightHour
		}
		if w.LightHour == 0 || w.Limit {
			light := w.LightHour
			w.LightHour = 0
			s.losses[k] = cost(h[min(int(w.Risk*nodes), nodes-1)])
			w.LightHour = light
			continue
		}
		best := math.Inf(1)
		for n := range h {
			best = math.Min(best, cost(h[n]))
			if n > 0 {
				best = math.Min(best, cost((h[n]+h[n-1])/2))
			}
		}
		s.losses[k] = best
	}
}

// loss is the money that not knowing costs at a spread.
func (s *stake) loss(spread float64) float64 {
	x := math.Min(math.Max(spread/s.most, 0), 1) * lossSteps
	k := min(int(x), lossSteps-1)
	f := x - float64(k)
	return s.losses[k]*(1-f) + s.losses[k+1]*f
}

// days is the width of an 80 % interval, in days of the lamp's burning.
func (s *stake) days(spread float64) float64 {
	return s.at * 2 * math.Sinh(usual80*spread) / s.perDay
}

// byDrift says whether a lamp has no date for want of knowing the drift.
func (in *Input) byDrift(p *forecast.Posterior, a *forecast.Answer) bool {
	return p.DriftDecides(in.Fit.Defaults(), a.Identity)
}

// median of a list, which is sorted; 0 of none.
func median(x []float64) float64 {
	if len(x) == 0 {
		return 0
	}
	sort.Float64s(x)
	n := len(x)
	return (x[(n-1)/2] + x[n/2]) / 2
}
