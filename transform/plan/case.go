package plan

import (
	"math"
	"sort"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"wane/transform/plan/spares"
)

// lampCase is one lamp with all that the decisions need of it.
type lampCase struct {
	Lamp
	t       terms
	c       crossing
	f       fade // empty: neither own forecast nor pool
	standIn bool // f is the pool's
	v       light
	life    life

	spot, group         float64 // one relamp without the visit
	missing, missingGrp []string

	plan  LampPlan
	work  *action
	how   lotPolicy
	low   bool   // holds down the room's uniformity
	dirty string // why it is cleaned before it is relamped; empty = it is not
}

// life is the Weibull law of failures; eta 0 = unknown, no failures counted.
type life struct{ eta, beta, lnSd float64 }

func newLife(w Weibull) life {
	if !w.Eta.Known() || w.Eta.Centre <= 0 {
		return life{}
	}
	l := life{eta: w.Eta.Centre, beta: w.Beta}
	if l.beta == 0 {
		l.beta = 1
	}
	if w.Eta.Bounded() && w.Eta.Lo > 0 && w.Eta.Hi > w.Eta.Lo && w.Eta.Level > 0 && w.Eta.Level < 1 {
		z := distuv.UnitNormal.Quantile((1 + w.Eta.Level) / 2)
		l.lnSd = math.Log(w.Eta.Hi/w.Eta.Lo) / (2 * z)
	}
	return l
}

func (l life) known() bool { return l.eta > 0 }

func (l life) cum(h float64) float64 {
	if !l.known() {
		return 0
	}
	return math.Pow(h/l.eta, l.beta)
}

func (l life) survive(h float64) float64 { return math.Exp(-l.cum(h)) }

func (l life) hazard(h float64) float64 {
	if !l.known() {
		return 0
	}
	// Below one hour the hazard of a shape under 1 has no bound; nothing is decided there.
	return l.beta / l.eta * math.Pow(math.Max(h, 1)/l.eta, l.beta-1)
}

func (l life) law() spares.Law { return spares.Law{Eta: l.eta, Beta: l.beta, LnSd: l.lnSd} }

// cases builds the sound lamps, sorted by room, bay and fixture, and gives
// lamps without a forecast the pool of their lamp type.
func cases(in Input, sound []Lamp) []*lampCase {
	out := make([]*lampCase, 0, len(sound))
	for _, l := range sound {
		k := &lampCase{Lamp: l, t: in.Settings.resolve(l.Room, l.LampType), c: l.crossing(), life: newLife(l.Hazard)}
		if l.Area == 0 {
			l.Area, k.Area = k.t.area, k.t.area
		}
		k.v = valueLight(l, k.t)
		k.f = newFade(k.c, l.Threshold)
		k.spot, k.missing = k.t.work(false)
		k.group, k.missingGrp = k.t.work(true)
		k.plan = LampPlan{Fixture: l.Fixture, Room: l.Room, Bay: l.Bay, LampType: l.LampType, Life: l.Life, Decision: Keep}
		out = append(out, k)
	}
	sort.SliceStable(out, func(i, j int) bool {
		a, b := out[i], out[j]
		switch {
		case a.Room != b.Room:
			return a.Room < b.Room
		case a.Bay != b.Bay:
			return a.Bay < b.Bay
		}
		return a.Fixture < b.Fixture
	})
	return out
}

// pools mixes, by lamp type, the fades of the lamps that have a forecast of
// their own.
func pools(all []*lampCase) map[string]fade {
	own := map[string][]fade{}
	for _, k := range all {
		if len(k.f.slopes) > 0 && !k.c.bound {
			own[k.LampType] = append(own[k.LampType], k.f)
		}
	}
	out := map[string]fade{}
	for t, fs := range own {
		out[t] = pool(fs)
	}
	for _, k := range all {
		if p := out[k.LampType]; len(k.f.slopes) == 0 && len(p.slopes) > 0 {
			k.f, k.standIn = p, true
		}
	}
	return out
}

// failure is the cost of a failure: a spot relamp, a visit of its own, and the
// dark days until then.
func (k *lampCase) failure() float64 {
	return k.spot + k.t.visit() + k.v.perHour*k.BurnPerDay*k.t.wait
}

func (k *lampCase) hoursIn(days float64) float64 { return k.HoursNow + days*k.BurnPerDay }

// daysTo is the days until run-hour h, 0 when it lies behind.
func (k *lampCase) daysTo(h float64) float64 {
	return math.Max(0, (h-k.HoursNow)/k.BurnPerDay)
}

// dueDays is the day, from now, at which the chance of having crossed is risk.
// ok is false where no crossing is known.
func (k *lampCase) dueDays(risk float64) (float64, bool) {
	if len(k.c.nodes) == 0 || k.c.bound {
		return 0, false
	}
	return k.daysTo(k.c.at(risk)), true
}

// because adds a reason; none is no reason.
func (k *lampCase) because(words string) {
	if words != "" {
		k.plan.Reasons = append(k.plan.Reasons, words)
	}
}

// unforecast says that the lamp is planned by those of its type, and why; empty
// where it has a forecast.
func (k *lampCase) unforecast() string {
	if !k.standIn {
		return ""
	}
	return k.c.why + "; taken to fade as others of its type"
}

func addDays(t time.Time, days float64) time.Time {
	return t.AddDate(0, 0, int(math.Min(days, 100000)))
}
