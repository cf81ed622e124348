package plan

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"
)

// crossNodes is the number of equal-probability nodes that stand for a
// distribution of crossing hours in an expectation.
const crossNodes = 25

// crossing is the distribution of the hour at which a lamp crosses its
// threshold: nodes of equal probability, rising.
type crossing struct {
	nodes []float64
	bound bool   // the nodes rest on a lower bound only: light lost is at most what they say
	why   string // why there is none, when nodes is empty
}

// quantile is the hour by which the crossing has happened with chance p,
// before anything is known of the present. ok is false where d does not say.
//
// Three figures are read as a log-normal law with its own spread on each side
// of the median; an open upper side has the lower side's spread, the least
// that can be claimed. A list of quantiles is interpolated in ln(hours)
// against the normal deviate and carried on at its ends.
func (d Due) quantile(p float64) (h float64, ok bool) {
	z := distuv.UnitNormal.Quantile(p)
	if len(d.Quantiles) >= 2 {
		q := d.Quantiles
		i := sort.Search(len(q), func(i int) bool { return q[i].P >= p })
		i = min(max(i, 1), len(q)-1)
		z0, z1 := distuv.UnitNormal.Quantile(q[i-1].P), distuv.UnitNormal.Quantile(q[i].P)
		l0, l1 := math.Log(q[i-1].Hours), math.Log(q[i].Hours)
		return math.Exp(l0 + (l1-l0)*(z-z0)/(z1-z0)), true
	}
	if !(d.Hours > 0) {
		return 0, false
	}
	half := d.interval()
	zi := distuv.UnitNormal.Quantile((1 + half) / 2)
	lo, hi := 0.0, 0.0
	if d.LoHours > 0 && d.LoHours <= d.Hours {
		lo = math.Log(d.Hours/d.LoHours) / zi
	}
	if d.HiHours >= d.Hours && !math.IsInf(d.HiHours, 0) {
		hi = math.Log(d.HiHours/d.Hours) / zi
	} else {
		hi = lo
	}
	if z < 0 {
		return d.Hours * math.Exp(z*lo), true
	}
	return d.Hours * math.Exp(z*hi), true
}

func (d Due) interval() float64 {
	if d.Interval > 0 && d.Interval < 1 {
		return d.Interval
	}
	return defaultInterval
}

// chanceBy is the chance of having crossed by hour h.
func (d Due) chanceBy(h float64) float64 {
	if _, ok := d.quantile(0.5); !ok || !(h > 0) {
		return 0
	}
	lo, hi := 1e-6, 1-1e-6
	for i := 0; i < 50; i++ {
		mid := (lo + hi) / 2
		if q, _ := d.quantile(mid); q > h {
			hi = mid
		} else {
			lo = mid
		}
	}
	return (lo + hi) / 2
}

// crossing reads the lamp's due row. A lamp of status forecast has not crossed
// yet, so its law is conditioned on that.
func (l Lamp) crossing() crossing {
	from := 0.0
	switch l.Status {
	case "dark":
		return crossing{why: "the lamp is dark"}
	case "too-early", "inseparable", "no-data":
		return crossing{why: "no forecast (" + l.Status + reason(l.Reason) + ")"}
	case "beyond":
		if l.Due.LoHours > 0 {
			return crossing{nodes: []float64{math.Max(l.Due.LoHours, l.HoursNow)}, bound: true}
		}
		return crossing{why: "the due table claims no bound for this lamp"}
	case "under":
		if _, ok := l.Due.quantile(0.5); !ok {
			return l.crossedByLevel()
		}
	default:
		from = l.Due.chanceBy(l.HoursNow)
		if from > 0.95 {
			from = 0 // the law as given denies the lamp's state; it is taken as it stands
		}
	}
	nodes := make([]float64, crossNodes)
	for i := range nodes {
		p := from + (1-from)*(float64(i)+0.5)/crossNodes
		h, ok := l.Due.quantile(p)
		if !ok && l.DeclineKh.Known() && l.DeclineKh.Centre > 0 {
			return l.crossedByRate()
		}
		if !ok || !(h > 0) || math.IsInf(h, 0) {
			return crossing{why: "no crossing hour is given" + reason(l.Reason)}
		}
		nodes[i] = h
	}
	return crossing{nodes: nodes}
}

// crossedByLevel places the crossing of a lamp already under on the straight
// line from 100 % through its present level.
func (l Lamp) crossedByLevel() crossing {
	loss := 1 - l.ageingLevel()
	if !l.Level.Known() || loss <= 0 || l.HoursNow <= 0 {
		return crossing{why: "under its threshold, but neither crossing hour nor level is given"}
	}
	return crossing{nodes: []float64{l.HoursNow * (1 - l.Threshold) / loss}}
}

// crossedByRate places the crossing where the due row gives none but the
// decline does: the straight line from 100 % at each of the rates that the
// estimate allows, none under a quarter of its centre.
func (l Lamp) crossedByRate() crossing {
	sd := 0.0
	if e := l.DeclineKh; e.Bounded() && e.Level > 0 && e.Level < 1 {
		sd = (e.Hi - e.Lo) / 2 / distuv.UnitNormal.Quantile((1+e.Level)/2)
	}
	nodes := make([]float64, crossNodes)
	for i := range nodes {
		z := distuv.UnitNormal.Quantile((float64(i) + 0.5) / crossNodes)
		nodes[i] = 1000 * (1 - l.Threshold) / math.Max(l.DeclineKh.Centre-z*sd, l.DeclineKh.Centre/4)
	}
	return crossing{nodes: nodes}
}

// ageingLevel is the level on AsOf with the dirt's share of the loss taken out;
// 1 where the level is unknown.
func (l Lamp) ageingLevel() float64 {
	if !l.Level.Known() {
		return 1
	}
	return 1 - (1-l.Level.Centre)*(1-l.dirtShare())
}

func (l Lamp) dirtShare() float64 {
	if !l.DirtShare.Known() {
		return 0
	}
	return math.Min(math.Max(l.DirtShare.Centre, 0), 1)
}

// at is the crossing hour at probability p.
func (c crossing) at(p float64) float64 {
	n := len(c.nodes)
	x := p*float64(n) - 0.5
	i := min(max(int(math.Floor(x)), 0), n-1)
	j := min(i+1, n-1)
	f := math.Min(math.Max(x-float64(i), 0), 1)
	return c.nodes[i] + f*(c.nodes[j]-c.nodes[i])
}

// by is the chance of having crossed by hour h.
func (c crossing) by(h float64) float64 {
	n := sort.SearchFloat64s(c.nodes, h)
	return float64(n) / float64(len(c.nodes))
}

func reason(s string) string {
	if s == "" {
		return ""
	}
	return ": " + s
}
