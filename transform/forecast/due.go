package forecast

import (
	"fmt"
	"math"
	"sort"

	"wane/transform/estimate"
)

// Method names the method in every estimate.
const Method = "pooled ageing model"

// Asking is how a stored posterior is asked.
type Asking struct {
	Interval  float64 // 0: 0.8
	Threshold float64 // 0: the posterior's own
	// Widen multiplies the spread of every forecast, see Calibration; 0: 1.
	Widen float64
	Notes []string // said with every forecast, such as why it was widened
	// Types stands in place of both for lamp types whose record says otherwise than the site's.
	Types map[string]Calibration
}

// Recorded is an asking that heeds a site's own record.
func (ask Asking) Recorded(c Calibration) Asking {
	ask.Widen, ask.Notes, ask.Types = c.Widen, c.notes(), c.Types
	return ask
}

func (c Calibration) notes() []string {
	if c.Note == "" {
		return nil
	}
	return []string{c.Note}
}

// of is the asking of one lamp type.
func (ask Asking) of(class string) Asking {
	if c, ok := ask.Types[class]; ok {
		ask.Widen, ask.Notes = c.Widen, c.notes()
	}
	return ask
}

// Answers asks every lamp life in service, those without bins too, in order
// of Input.Lamps.
func (f *Fit) Answers(ask Asking) []Answer {
	return Answers(f.m.in, f.Posteriors(), ask)
}

// Answers is Fit.Answers where the input and the fit's posteriors are at hand.
func Answers(in *Input, posteriors []Posterior, ask Asking) []Answer {
	if ask.Interval == 0 {
		ask.Interval = in.Interval
	}
	d := in.defaults()
	out := make([]Answer, len(posteriors), len(in.Lamps))
	inParallel(len(posteriors), func(i int) { out[i] = posteriors[i].Answer(d, ask) })
	have := make([]bool, len(in.Lamps))
	for i := range posteriors {
		have[posteriors[i].Lamp] = true
	}
	for i := range in.Lamps {
		l := &in.Lamps[i]
		if !have[i] && l.StartDay <= in.AsOf && !(l.Ended && l.EndDay <= in.AsOf) {
			out = append(out, noData(i, l))
		}
	}
	sort.SliceStable(out, func(a, b int) bool { return out[a].Lamp < out[b].Lamp })
	return out
}

func noData(i int, l *Lamp) Answer {
	status, why := StatusNoData, fmt.Sprintf("no complete week with at least %d usable daily values after the first %d h",
		LeastDays, Seasoning)
	switch {
	case l.Dark:
		status, why = StatusDark, "the lamp is dark"
	case l.Sunlit:
		why = fmt.Sprintf("its light follows the sun, which says nothing of the lamp: no answer until %s is declared with "+
			"`daylight: true` in site.yaml, with latitude and longitude; then the hours without sun count", l.Room)
	}
	none := estimate.None(Method, why)
	return Answer{Lamp: i, Status: status, Reason: why, Level: none, DueHours: none, DueDay: none,
		Decline: Shares{none, none, none}}
}

// Answer says what is to be said of one lamp.
func (p *Posterior) Answer(d Defaults, ask Asking) Answer {
	if p.Surveyed {
		return p.surveyAnswer(d, ask)
	}
	ask = ask.of(p.Class)
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
	a := Answer{Lamp: p.Lamp, Assumed: p.assumed(d)}
	a.Level = p.level(z, ask.Interval)
	a.Decline = p.shares(z, ask.Interval)
	a.Identity = p.identify(d, ask.Threshold)
	c := p.Cross(ask.Threshold, z)
	at80 := p.Cross(ask.Threshold, normalQuantile(.8)*ask.Widen)
	c, a.Dirt = p.dirtWidens(d, c, ask.Threshold, z)
	c, a.Step = p.stepsWiden(c, ask.Threshold, z)
	c, a.Unread = p.unreadWidens(d, c, ask.Threshold, z)
	a.Status = p.status(d, c, at80, &a)
	p.fill(d, &a, c, at80, ask, z)
	if a.Status == StatusInseparable {
		a.Rival = p.rival(d, &a)
	}
	a.Identity.Settle = p.settle(d, a.Rival, &a.Identity)
	a.Reason = join(p.reason(d, &a, at80, ask))
	return a
}

func (p *Posterior) level(z, interval float64) estimate.Estimate {
	m, s := p.Output(max(p.HoursNow, Seasoning))
	return estimate.Estimate{Centre: math.Exp(m), Lo: math.Exp(m - z*s), Hi: math.Exp(m + z*s), Level: interval, N: p.Bins,
		Method: Method}
}

// shares splits the decline since the first bin.
func (p *Posterior) shares(z, interval float64) Shares {
	loss := func(mean, sd float64) estimate.Estimate {
		return estimate.Estimate{Centre: -math.Expm1(-mean), Lo: -math.Expm1(-(mean - z*sd)), Hi: -math.Expm1(-(mean + z*sd)),
			Level: interval, N: p.Bins, Method: Method}
	}
	first, sf := p.Output(max(p.FirstHours, Seasoning))
	now, sn := p.Output(max(p.HoursNow, Seasoning))
	return Shares{
		// The first bin lies near 100 h or is known with the later: the
		// spread of the difference is at most that of the later one.
		Lamp:   loss(first-now, math.Max(sn, sf)),
		Dirt:   loss(p.Dirt[0], p.Dirt[1]),
		Sensor: loss(-p.Gain[0], p.Gain[1]),
	}
}

// status: dark, under, too early for any answer, inseparable, beyond, forecast.
func (p *Posterior) status(d Defaults, c, at80 Crossing, a *Answer) Status {
	lim, id, dirt := d.Limits, a.Identity, max(a.Dirt, a.Step)
	switch {
	case p.Dark:
		return StatusDark
	case p.HoursNow < lim.MinHours && !p.taught(id):
		return StatusTooEarly
	case a.Unread:
		return StatusInseparable
	case c.Centre <= p.HoursNow && dirt > p.dirtLimit(lim) && c.Hi > p.HoursNow: // under only if it is not dirt
		return StatusInseparable
	case c.Centre <= p.HoursNow && !p.likelyUnder():
		if p.inseparable(d, id) {
			return StatusInseparable
		}
	case c.Centre <= p.HoursNow:
		// Under only for want of an explanation, or on the assumed drift, is not
		// known to be under.
		if p.stepped() && c.Hi > p.HoursNow {
			return StatusInseparable
		}
		if p.Sees.driftUnseen() {
			if !p.surelyUnder(d) {
				return StatusInseparable
			}
		} else if p.inseparable(d, id) && math.Max(id.DueLessDrift, id.DueMoreDrift) > p.HoursNow {
			return StatusInseparable
		}
		return StatusUnder
	case p.inseparable(d, id):
		return StatusInseparable
	}
	wide := at80.Hi > lim.Ratio*at80.Lo
	if !wide && (dirt > p.dirtLimit(lim) || math.IsInf(c.Hi, 1)) {
		return StatusInseparable
	}
	switch {
	case wide && id.SlopeShare > lim.SlopeShare:
		return StatusTooEarly
	case wide || c.Centre > lim.MaxReach*p.MostHours:
		return StatusBeyond
	}
	return StatusForecast
}

// taught says whether a lamp of few hours is known by others of its make at other sites
// of its group, rather than by what is assumed of its type.
func (p *Posterior) taught(id Identifiability) bool {
	return p.Elsewhere >= leastTaught && id.SlopeShare <= taughtShare
}

// How many lamps elsewhere teach, and how much of what was not known of the slope they
// must have left out (choices).
const leastTaught, taughtShare = 10, .7

// fill sets due hours, day and the day from which an answer can be expected.
func (p *Posterior) fill(d Defaults, a *Answer, c, at80 Crossing, ask Asking, z float64) {
	switch a.Status {
	case StatusForecast, StatusUnder:
		a.DueHours = estimate.Estimate{Centre: c.Centre, Lo: c.Lo, Hi: c.Hi, Level: ask.Interval, N: p.Bins, Method: Method}
		if p.Sees.driftUnseen() { // under, whatever of the usual the drift is
			r := p.driftRange(d, ask, z)
			a.DueHours.Lo, a.DueHours.Hi = math.Min(c.Lo, r.Lo), math.Max(c.Hi, r.Hi)
		}
		if a.Status == StatusForecast { // one at its threshold, and not likely under it, is due now
			a.DueHours.Centre, a.DueHours.Hi = max(c.Centre, p.HoursNow), max(c.Hi, p.HoursNow)
		}
		a.DueDay = p.dueDay(a.DueHours, z, d.Burn.RelSD)
	case StatusBeyond:
		low := p.Cross(ask.Threshold, z*d.Limits.BoundScale)
		a.DueHours = estimate.Estimate{Centre: math.NaN(), Lo: max(math.Min(low.Lo, c.Lo), p.HoursNow), Hi: math.Inf(1),
			Level: ask.Interval, N: p.Bins, Method: Method}
		if math.IsInf(low.Lo, 1) {
			a.DueHours.Lo = horizon
		}
		a.DueDay = p.dueDay(a.DueHours, z, d.Burn.RelSD)
	case StatusInseparable:
		a.DueHours = dirtRange(c, ask, p.Bins)
		if p.inseparable(d, a.Identity) {
			a.DueHours = p.driftRange(d, ask, z)
			if a.Unread {
				a.DueHours.Hi = math.Max(a.DueHours.Hi, c.Hi)
			}
		}
		a.DueDay = p.dueDay(a.DueHours, z, d.Burn.RelSD)
	case StatusTooEarly:
		need := p.need(d, at80)
		why := fmt.Sprintf("about %.0f run-hours more are needed", math.Ceil(max(need-p.HoursNow, 100)/100)*100)
		a.DueHours, a.DueDay = estimate.None(Method, why), estimate.None(Method, why)
		if day := p.Burn.day(p.AsOf, need-p.HoursNow); !math.IsInf(day, 0) {
			a.Expected = int(math.Ceil(day))
		}
	default:
		why := string(a.Status)
		a.DueHours, a.DueDay = estimate.None(Method, why), estimate.None(Method, why)
	}
}

// need estimates the run-hours at which the interval will be narrow enough:
// its width in log falls about as one over the hours watched.
func (p *Posterior) need(d Defaults, at80 Crossing) float64 {
	need := d.Limits.MinHours
	hi := math.Min(at80.Hi, horizon)
	if r := math.Log(hi/math.Max(at80.Lo, Seasoning)) / math.Log(d.Limits.Ratio); r > 1 && !math.IsNaN(r) {
		need = max(need, p.HoursNow*math.Min(r, 4))
	}
	return max(need, p.HoursNow+100)
}

func join(s []string) string {
	out := ""
	for k, x := range s {
		if k > 0 {
			out += "; "
		}
		out += x
	}
	return out
}
