package forecast

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"wane/transform/estimate"
)

// identify measures what the data tell apart for one lamp.
func (p *Posterior) identify(d Defaults, threshold float64) Identifiability {
	target := math.Log(threshold)
	var id Identifiability
	// Both ways of being wrong about drift: this sensor's alone, and the
	// site's mean. The one that matters more is reported; a sensor of its own
	// is expected to differ by its declared spread only.
	ownX, ownLess, ownMore := p.sensitivity(target, &p.OwnShift, p.PastShift[0])
	siteX, less, more := p.sensitivity(target, &p.SiteShift, p.PastShift[1])
	id.Drift, id.DueLessDrift, id.DueMoreDrift = siteX, less, more
	if math.Abs(ownX) > math.Abs(siteX) {
		id.Drift, id.DueLessDrift, id.DueMoreDrift = ownX, ownLess, ownMore
	}
	id.SlopeShare = math.Sqrt(max(0, p.Cov[0])) / p.SlopePriorSD
	id.DirtShare = p.DirtSD / p.DirtPriorSD
	p.words(d, &id)
	return id
}

// sensitivity is half the log ratio of the due hours with the drift assumed
// 1 %/year higher and lower.
func (p *Posterior) sensitivity(target float64, shift *[5]float64, past []float64) (x, less, more float64) {
	up, down, pd := *shift, *shift, make([]float64, len(past))
	for i := range down {
		down[i] = -down[i]
	}
	for i := range past {
		pd[i] = -past[i]
	}
	more = math.Min(p.cross(target, 0, &up, past).Centre, horizon)
	less = math.Min(p.cross(target, 0, &down, pd).Centre, horizon)
	return math.Log(more/less) / 2, less, more
}

// inseparable: the answer hangs on the assumed drift of the sensor.
func (p *Posterior) inseparable(d Defaults, id Identifiability) bool {
	target := math.Log(p.Threshold)
	site, less, more := p.sensitivity(target, &p.SiteShift, p.PastShift[1])
	own, _, _ := p.sensitivity(target, &p.OwnShift, p.PastShift[0])
	// A sensor of its own differs from the site's others by its declared
	// spread, not by 1 %/year.
	own *= math.Min(1, d.Sensor.Sensor/driftStep)
	limit := p.Sees.DriftLimit(d.Limits)
	if p.Sees.driftUnseen() {
		// Lamps of which the drift seems to matter little are then mostly
		// those whose decline was overestimated; and of one that seems not to
		// decline at all it can't be said how much it matters.
		if less >= horizon || more >= horizon {
			return true
		}
	}
	return math.Abs(site) > limit || math.Abs(own) > limit
}

const settleWords = "to settle it: "

// SettleBy puts another step, one that was weighed, in the place of the one that the
// rules name; nothing where they name none, or where a word of what was done settles it.
func (a *Answer) SettleBy(step string) {
	if a.Identity.Settle == "" || a.Rival == RivalStep {
		return
	}
	a.Reason = strings.Replace(a.Reason, settleWords+a.Identity.Settle, settleWords+step, 1)
	a.Identity.Settle = step
}

// DriftDecides says whether the answer hangs on the assumed drift of the sensor.
func (p *Posterior) DriftDecides(d Defaults, id Identifiability) bool { return p.inseparable(d, id) }

// DriftLimit is how far the due hours may shift, as a share, by 1 %/year of unseen drift
// with a date given all the same.
func (h SensorHistory) DriftLimit(l Limits) float64 {
	switch {
	case h.driftUnseen():
		return l.DriftFree
	case h.WithFactor == 0 && h.References == 0:
		return l.DriftOwn
	}
	return l.Drift
}

// likelyUnder asks for odds of four to one, as an interval of 80 % claims: of a lamp that
// stands at its threshold half the calls would be false. Where they are worse it is due now.
func (p *Posterior) likelyUnder() bool {
	m, s := p.Output(max(p.HoursNow, Seasoning))
	return math.Log(p.Threshold)-m >= underOdds*s
}

// underOdds is the normal quantile of four in five.
const underOdds = 0.84

// stepped says whether a step within this life is not explained.
func (p *Posterior) stepped() bool { return p.unexplained() >= 0 }

// unexplained is the first such step, an index into Steps; -1 where there is none.
func (p *Posterior) unexplained() int {
	return slices.IndexFunc(p.Steps, func(s Step) bool { return !s.Relamp })
}

// usualDrift is how many spreads of the declared drift are usual.
const usualDrift = 2

// driftRange is the due hours over the drift that is usual for the site's sensors:
// no centre, since none is better than another.
func (p *Posterior) driftRange(d Defaults, ask Asking, z float64) estimate.Estimate {
	out := estimate.Estimate{Centre: math.NaN(), Lo: math.Inf(1), Hi: 0, Level: ask.Interval, N: p.Bins, Method: Method}
	for _, f := range [2]float64{-1, 1} {
		shift, past := scaled(&p.SiteShift, p.PastShift[1], f*usualDrift*d.Sensor.Drift.SD/driftStep)
		c := p.cross(math.Log(ask.Threshold), z, shift, past)
		out.Lo, out.Hi = math.Min(out.Lo, c.Lo), math.Max(out.Hi, c.Hi)
	}
	if math.IsInf(out.Lo, 1) {
		out.Lo = horizon
	}
	return out
}

// afterRecalibration is about what would be left of the range by one recalibration
// today with its as-found gain noted: the drift then is known to the error of
// that gain over the time watched.
func (p *Posterior) afterRecalibration(d Defaults, ask Asking, z float64) Crossing {
	years := max(float64(p.Bins*binDays)/365.25, .1)
	left := math.Hypot(d.Sensor.AsFound, d.Sensor.Offset) / years
	share := math.Min(1, left/max(p.SensorDrift[1], 1e-9))
	q := *p
	_, past := scaled(&p.SiteShift, p.PastShift[1], p.SensorDrift[1]/driftStep)
	q.Past = append([]PastPoint(nil), p.Past...)
	for i := range q.Past {
		q.Past[i].SD = math.Sqrt(max(0, math.Pow(q.Past[i].SD, 2)-(1-share*share)*past[i]*past[i]))
	}
	shift, _ := scaled(&p.SiteShift, nil, p.SensorDrift[1]/driftStep)
	for i := 0; i < 5; i++ {
		for j := 0; j <= i; j++ {
			q.Cov[i*(i+1)/2+j] -= (1 - share*share) * shift[i] * shift[j]
		}
	}
	return q.cross(math.Log(ask.Threshold), z, nil, nil)
}

// scaled multiplies a shift.
func scaled(shift *[5]float64, past []float64, f float64) (*[5]float64, []float64) {
	s, p := *shift, make([]float64, len(past))
	for i := range s {
		s[i] *= f
	}
	for i := range past {
		p[i] = f * past[i]
	}
	return &s, p
}

// driftUnseen: nothing at the site ties any sensor's drift down. A reference reading of
// one sensor tells of the site's mean drift as its recalibration would.
func (h SensorHistory) driftUnseen() bool {
	return h.SiteWithFactor == 0 && h.SiteReferences == 0 && h.References == 0
}

// surelyUnder says whether the lamp is under its threshold even at the upper end of
// its 95 % band and whatever of the usual the drift is: where drift is unseen, the
// lamps that seem under are mostly those whose decline was overestimated.
func (p *Posterior) surelyUnder(d Defaults) bool {
	target, z := math.Log(p.Threshold), normalQuantile(.95)
	most := usualDrift * d.Sensor.Drift.SD / driftStep
	for _, f := range [2]float64{most, -most} {
		shift, past := scaled(&p.SiteShift, p.PastShift[1], f)
		if p.cross(target, z, shift, past).Hi > p.HoursNow {
			return false
		}
	}
	return true
}

func (p *Posterior) words(d Defaults, id *Identifiability) {
	say := func(cannot, instead string) {
		id.Cannot = append(id.Cannot, cannot)
		id.Instead = append(id.Instead, instead)
	}
	if math.Abs(id.Drift) > d.Limits.DriftSay {
		say("drift of the sensor from ageing of the lamp",
			fmt.Sprintf("a drift of %.2f %%/year (assumed %.2f ± %.2f, spread between sensors %.2f)", 100*p.DriftRate[0],
				100*d.Sensor.Drift.Mean, 100*d.Sensor.Drift.SD, 100*d.Sensor.Sensor))
	}
	if !p.StaysClean && (p.Cleanings == 0 || id.DirtShare > .7) {
		say("dirt from ageing of the lamp",
			fmt.Sprintf("a loss to dirt of %.1f %% since the first readings, mostly as assumed", -100*math.Expm1(-p.Dirt[0])))
	}
	if p.blindSupply() {
		say("a swing of the supply voltage from a swing of the lamp's output", "a slow wander shared by the bay")
	}
	if id.SlopeShare > .7 {
		say("this lamp from others of its type", "mostly the typical behaviour of its type")
	}
}

// reason says what a reader must know, the weightiest first.
func (p *Posterior) reason(d Defaults, a *Answer, at80 Crossing, ask Asking) []string {
	var out []string
	id := &a.Identity
	switch a.Status {
	case StatusDark:
		return []string{"the lamp is dark"}
	case StatusUnder:
		out = append(out, fmt.Sprintf("already under %.3g", ask.Threshold))
		if a.Level.Hi > ask.Threshold {
			out = append(out, "the interval of its level still reaches the threshold")
		}
	case StatusForecast:
		if a.DueHours.Centre <= p.HoursNow {
			out = append(out, fmt.Sprintf("about at %.3g now: as likely above it as under it", ask.Threshold))
		}
	case StatusTooEarly:
		need := p.need(d, at80)
		if p.HoursNow < d.Limits.MinHours {
			out = append(out, fmt.Sprintf("%.0f run-hours of %.0f: until then the lamp type's assumed behaviour decides, not "+
				"the readings", p.HoursNow, d.Limits.MinHours))
		} else {
			out = append(out, fmt.Sprintf("%s: an interval with its upper end within %.3g times its lower end needs about "+
				"%.0f run-hours", unboundedWords(at80), d.Limits.Ratio, math.Ceil(need/100)*100))
		}
	case StatusInseparable:
		out = append(out, p.inseparableWords(d, a, ask))
	case StatusBeyond:
		if a.DueHours.Lo >= horizon {
			out = append(out, fmt.Sprintf("past %d h", horizon))
		} else if at80.Hi > d.Limits.Ratio*at80.Lo {
			out = append(out, fmt.Sprintf("%s: only a lower bound is claimed", unboundedWords(at80)))
		} else {
			out = append(out, fmt.Sprintf("past %.3g times the most hours seen of the lamp type (%.0f h): only a lower "+
				"bound is claimed", d.Limits.MaxReach, p.MostHours))
		}
	}
	if a.Status != StatusInseparable && math.Abs(id.Drift) > d.Limits.DriftSay {
		out = append(out, fmt.Sprintf("due hours shift by %.0f %% for each 1 %% a year that the sensor drifts unseen",
			100*math.Abs(id.Drift)))
	}
	if a.Status == StatusForecast && a.DueHours.Centre <= p.HoursNow {
		out = append(out, "at its threshold: as likely under it as not yet")
	}
	for _, s := range p.Steps {
		out = append(out, "open question: "+s.Question())
	}
	for _, x := range p.Doubts {
		out = append(out, "open question: "+x.Question(p.Group))
	}
	for _, x := range p.Dusty {
		out = append(out, fmt.Sprintf("light fell faster than by ageing and dirt before the cleaning of %s and came back with it: "+
			"the days from %s stand for nothing", dateWords(x.To), dateWords(x.From)))
	}
	if a.Status == StatusForecast && id.SlopeShare > .7 {
		out = append(out, "mostly the typical behaviour of its type")
	}
	if p.contradicted() && a.Status != StatusTooEarly {
		c := d.Classes[p.Class]
		out = append(out, fmt.Sprintf("lamps of this type fade %.2g times as fast as assumed here: the "+
			"assumption weighs less", p.ClassSlope[0]/c.Slope.Mean))
	}
	if p.StaysClean {
		out = append(out, "its room is declared to stay clean: no dirt is taken out")
	} else if p.Cleanings == 0 {
		out = append(out, fmt.Sprintf("no cleaning logged in this life: %.1f %% is assumed to be dirt",
			-100*math.Expm1(-p.Dirt[0])))
	}
	if p.blindSupply() {
		out = append(out, "no voltage series: the interval is wider for it")
	}
	if p.LotSize < 2 {
		out = append(out, "a cohort of one: only its lamp type's behaviour to lean on")
	}
	if a.Status == StatusForecast || a.Status == StatusBeyond {
		out = append(out, ask.Notes...)
	}
	if id.Settle != "" && a.Status != StatusUnder {
		out = append(out, settleWords+id.Settle)
	}
	return out
}

// rival is what ageing of an inseparable lamp can't be told from: the drift of its
// sensor where that decides, else what widens its range the most.
func (p *Posterior) rival(d Defaults, a *Answer) Rival {
	switch {
	case p.inseparable(d, a.Identity):
		return RivalDrift
	case a.Unread:
		return RivalUnread
	case a.Dirt > a.Step && (!p.stepped() || a.Dirt > p.dirtLimit(d.Limits)):
		return RivalDirt
	case p.stepped():
		return RivalStep
	}
	return RivalDrift
}

// settle is what would settle what an inseparable lamp can't be told from, and what would
// sharpen the answer of another; empty where nothing of these would.
func (p *Posterior) settle(d Defaults, r Rival, id *Identifiability) string {
	switch r {
	case RivalUnread:
		_, settle := p.unreadWords()
		return settle
	case RivalStep:
		s := p.Steps[p.unexplained()]
		return fmt.Sprintf("log what was done between %s and %s", dateWords(s.Before), dateWords(s.After))
	case RivalDirt:
		return p.cleanSome()
	}
	once := fmt.Sprintf("recalibrate the sensor of %s once, noting its as-found gain, or read it once against a "+
		"reference meter", p.Group)
	switch {
	case math.Abs(id.Drift) > d.Limits.DriftSay && p.Sees.WithFactor == 0:
		return once
	case math.Abs(id.Drift) > d.Limits.Drift:
		return fmt.Sprintf("recalibrate the sensor of %s again, noting its as-found gain", p.Group)
	case p.StaysClean || p.Cleanings > 0:
		return ""
	case r == RivalDrift:
		return once
	}
	return p.cleanSome()
}

func (p *Posterior) cleanSome() string {
	if p.GroupSize >= 4 {
		return fmt.Sprintf("clean two of the fixtures of %s, leave two, and log it", p.Group)
	}
	return "clean the fixture once, and log it"
}

func (p *Posterior) inseparableWords(d Defaults, a *Answer, ask Asking) string {
	lo, hi := hourWords(a.DueHours.Lo), hourWords(a.DueHours.Hi)
	switch a.Rival {
	case RivalUnread:
		what, _ := p.unreadWords()
		return fmt.Sprintf("due between %s and %s: its lamps fade by themselves, or %s, which nobody reads", lo, hi, what)
	case RivalDirt:
		return p.dirtWords(d, a)
	case RivalStep:
		return fmt.Sprintf("due between %s and %s: which, hangs on %s", lo, hi, RivalStep)
	}
	z := normalQuantile(ask.Interval) * ask.Widen
	then := p.afterRecalibration(d, ask, z)
	return fmt.Sprintf("drift of the sensor and ageing of the lamp can't be told apart: due between %s and %s over the "+
		"drift that is usual (%.1f to %.1f %%/year); one recalibration with its as-found gain would leave about %s to %s",
		lo, hi, 100*(d.Sensor.Drift.Mean-usualDrift*d.Sensor.Drift.SD),
		100*(d.Sensor.Drift.Mean+usualDrift*d.Sensor.Drift.SD),
		hourWords(then.Lo), hourWords(then.Hi))
}

func unboundedWords(c Crossing) string {
	if math.IsInf(c.Hi, 1) {
		return fmt.Sprintf("the interval is open above (from %.0f h)", c.Lo)
	}
	return fmt.Sprintf("the interval is too wide (%.0f to %.0f h)", c.Lo, c.Hi)
}

// assumed lists the assumed numbers behind the answer.
func (p *Posterior) assumed(d Defaults) []Assumption {
	c := d.Classes[p.Class]
	list := func(name string, q Prior, unit string) Assumption {
		return Assumption{Name: name, Value: q.Mean, SD: q.SD, Unit: unit, Basis: q.Basis}
	}
	sup, ok := d.Supply[p.Gear]
	if !ok {
		sup = d.Supply[UnknownGear]
	}
	dirt := d.Dirt.Amplitude
	if p.StaysClean {
		dirt = cleanRoom
	}
	out := []Assumption{
		list("loss of "+p.Class, c.Slope, "ln per 10,000 h"),
		list("bend of "+p.Class, c.Shape, "share of the loss"),
		list("early change of "+p.Class, c.Early, "ln"),
		list("dirt when fully soiled", dirt, "ln"),
		{Name: "days to soil", Value: d.Dirt.Days, SD: d.Dirt.Days * d.Dirt.DaysSD, Unit: "d", Basis: d.Dirt.Basis},
		{Name: "dirt left by a cleaning", Value: d.Dirt.LeftAll, SD: d.Dirt.LeftSD, Unit: "share", Basis: d.Dirt.Basis},
		list("drift of sensors", d.Sensor.Drift, "ln per year"),
		list("voltage coefficient, "+gearName(p.Gear), sup, "% per %"),
		list("temperature coefficient of "+p.Class, c.Ambient, "ln per K"),
		{Name: "wander of the ageing rate", Value: c.Wander, Unit: "share of the loss", Basis: c.Basis},
		{Name: "burning habit, year to year", Value: d.Burn.RelSD, Unit: "share", Basis: d.Burn.Basis},
	}
	return out
}

func gearName(g string) string {
	if g == "" {
		return UnknownGear
	}
	return g
}
