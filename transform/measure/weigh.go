package measure

import (
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"wane/transform/forecast"
)

// usualDrift and driftStep are the forecast's: what range of drift is usual, in its
// declared spreads, and what drift a sensitivity speaks of, ln per year.
const usualDrift, driftStep = 2, .01

// wideBy is from which shrinking of its interval on a lamp counts as touched.
const wideBy = .05

// weigher holds what is known so far, and what hangs on it.
type weigher struct {
	in     *Input
	known  *forecast.Known
	left   []forecast.Gained // of each stake's variance
	at     []int             // by stake: index into Input.Posteriors
	stakes []stake
	now    []standing
	counts counts

	defaults forecast.Defaults
	widest   float64 // spread of an 80 % interval with its ends at the limit's ratio
}

// standing is how a lamp stands with what is known so far.
type standing struct {
	spread float64 // of ln due hours, with what can't be told apart in it
	dated  bool
}

// counts are the readings taken as made, by what the rules of an answer count.
type counts struct {
	site, sensor, checked map[int]int // all by group; site by 0
	cleaned               map[int]bool
}

func (c counts) with(v *forecast.Visit) counts {
	out := counts{map[int]int{0: c.site[0] + len(v.Factors) + len(v.Checked)}, copied(c.sensor), copied(c.checked),
		map[int]bool{}}
	for i := range c.cleaned {
		out.cleaned[i] = true
	}
	for _, g := range v.Factors {
		out.sensor[g]++
	}
	for _, g := range v.Checked {
		out.checked[g]++
	}
	for _, i := range v.Cleaned {
		out.cleaned[i] = true
	}
	return out
}

func copied(m map[int]int) map[int]int {
	out := make(map[int]int, len(m)+1)
	for k, n := range m {
		out[k] = n
	}
	return out
}

// newWeigher looks at some of the lamps, by index into Input.Posteriors. Without money
// nothing is priced.
func newWeigher(in *Input, some []int, money bool) *weigher {
	w := &weigher{in: in, counts: counts{}.with(&forecast.Visit{}), defaults: in.Fit.Defaults()}
	w.widest = math.Log(w.defaults.Limits.Ratio) / (2 * usual80)
	j := in.joint()
	stakes, sights, ok := make([]stake, len(some)), make([]forecast.Sight, len(some)), make([]bool, len(some))
	inParallel(len(some), func(n int) {
		i := some[n]
		s, here := in.stakeOf(i, money)
		if !here {
			return
		}
		sight, here := j.Sight(&in.Posteriors[i], s.at)
		s.fixed = math.Max(0, s.sd*s.sd-sight.Var)
		stakes[n], sights[n], ok[n] = s, sight, here
	})
	var kept []forecast.Sight
	for n := range stakes {
		if ok[n] {
			w.at, w.stakes, kept = append(w.at, some[n]), append(w.stakes, stakes[n]), append(kept, sights[n])
		}
	}
	w.known = j.Known(kept)
	w.left = w.known.Now()
	for k, g := range w.left {
		w.now = append(w.now, w.stand(k, g, w.counts))
		w.now[k].dated = w.stakes[k].dated // as the answer itself says
	}
	return w
}

// stand says how a lamp stands with so much of its variance left. It follows the rules
// of an answer by the slope at the crossing; the answers of what is chosen are asked
// themselves.
func (w *weigher) stand(k int, g forecast.Gained, c counts) (out standing) {
	s, i := &w.stakes[k], w.at[k]
	p, l := &w.in.Posteriors[i], &w.in.Lamps[i]
	d := &w.defaults
	out = standing{spread: s.spreadOf(math.Sqrt(math.Max(0, s.fixed+g.Var)))}
	defer func() {
		if !out.dated { // then the plan goes by its type
			out.spread = math.Min(math.Max(out.spread, s.typical), mostSpread)
		}
	}()
	if p.HoursNow < d.Limits.MinHours || out.spread > w.widest || s.at > d.Limits.MaxReach*p.MostHours {
		return out
	}
	if s.drift {
		x := math.Abs(g.Drift) / (s.slope * s.at)
		told := *p
		told.Sees.SiteWithFactor += c.site[0]
		told.Sees.WithFactor += c.sensor[l.Group]
		told.Sees.References += c.checked[l.Group]
		limit := told.DriftLimit(d.Limits)
		touched := c.sensor[l.Group]+c.checked[l.Group] > 0
		if x > limit || !touched && math.Abs(w.known.Sight(k).Drift)/(s.slope*s.at) <= p.DriftLimit(d.Limits) {
			out.spread += usualDrift * d.Sensor.Drift.SD / driftStep * x / usual80
			return out
		}
	}
	if s.dirt && !c.cleaned[p.Lamp] {
		out.spread += math.Abs(w.in.Answers[i].Dirt) / usual80
		return out
	}
	out.dated = true
	return out
}

// gain is what a visit would bring over what is known so far.
type gain struct {
	money float64 // as far as priced
	days  float64 // by which intervals shrink, summed over lamps as far as they are due within the horizon
	dated int
	moved int
}

// weigh gives a visit's gain, and how each lamp would stand.
func (w *weigher) weigh(v *forecast.Visit) (g gain, then []standing) {
	c := w.counts.with(v)
	then = make([]standing, len(w.stakes))
	before := w.left
	for k, left := range w.known.Gains(*v) {
		s, was := &w.stakes[k], w.now[k]
		then[k] = was
		if !s.drift && !c.cleaned[w.in.Posteriors[w.at[k]].Lamp] && before[k].Var-left.Var < 1e-4*(s.fixed+before[k].Var) {
			continue // it is nothing to this lamp
		}
		is := w.stand(k, left, c)
		is.dated = is.dated || was.dated
		is.spread = math.Min(is.spread, was.spread)
		then[k] = is
		if s.priced {
			g.money += s.weight * (s.loss(was.spread) - s.loss(is.spread))
		}
		g.days += s.weight * (s.days(was.spread) - s.days(is.spread))
		if is.dated && !was.dated {
			g.dated++
		}
		if is.spread < (1-wideBy)*was.spread {
			g.moved++
		}
	}
	return g, then
}

// take takes a visit as made.
func (w *weigher) take(v *forecast.Visit, then []standing) {
	w.known, w.now, w.counts = w.known.With(*v), then, w.counts.with(v)
	w.left = w.known.Now()
}

// inParallel calls f for 0 to n-1 on all cores; f writes only what is its own.
func inParallel(n int, f func(k int)) {
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), n) {
		wg.Go(func() {
			for k := int(next.Add(1)) - 1; k < n; k = int(next.Add(1)) - 1 {
				f(k)
			}
		})
	}
	wg.Wait()
}
