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
	at     []int // by stake: index into Input.Posteriors
	stakes []stake
	now    []standing
	counts counts

	defaults forecast.Defaults
	widest   float64 // spread of an 80 % interval with its ends at the limit's ratio
}

// standing is how a lamp stands with what is known so far.
type standing struct {
	spread float64 // of ln due hours, with what can't be told apart in it
	days   float64 // width of an interval of that spread
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
	for k := range w.stakes {
		w.now = append(w.now, w.stand(k, w.known.Now(k), w.counts))
		w.now[k].dated = w.stakes[k].dated // as the answer itself says
	}
	return w
}

// stand says how a lamp stands with so much of its variance left. It follows the rules
// of an answer by the slope at the crossing; the answers of what is chosen are asked
// themselves.
func (w *weigher) stand(k int, g forecast.Gained, c counts) standing {
	s := &w.stakes[k]
	out := standing{spread: s.spreadOf(math.Sqrt(math.Max(0, s.fixed+g.Var)))}
	out.spread, out.dated = w.rules(k, g, c, out.spread)
	if !out.dated { // then the plan goes by its type
		out.spread = math.Min(math.Max(out.spread, s.typical), mostSpread)
	}
	out.days = s.days(out.spread)
	return out
}

// rules widen a spread by what can't be told apart, and say whether there is a date.
func (w *weigher) rules(k int, g forecast.Gained, c counts, spread float64) (float64, bool) {
	s, d := &w.stakes[k], &w.defaults
	if s.never || spread > w.widest {
		return spread, false
	}
	if s.drift {
		x := math.Abs(g.Drift) / (s.slope * s.at)
		told := s.sees
		told.SiteWithFactor += c.site[0]
		told.WithFactor += c.sensor[s.group]
		told.References += c.checked[s.group]
		touched := told.WithFactor > s.sees.WithFactor || told.References > s.sees.References
		before := math.Abs(w.known.Sight(k).Drift) / (s.slope * s.at)
		if x > told.DriftLimit(d.Limits) || !touched && before <= s.sees.DriftLimit(d.Limits) {
			return spread + usualDrift*d.Sensor.Drift.SD/driftStep*x/usual80, false
		}
	}
	if s.dirt && !c.cleaned[s.lamp] {
		return spread + s.astray, false
	}
	return spread, true
}

// gain is what a visit would bring over what is known so far.
type gain struct {
	money float64 // as far as priced
	days  float64 // by which intervals shrink, summed over lamps as far as they are due within the horizon
	dated int
	moved int
}

func (g *gain) add(x gain) {
	g.money, g.days, g.dated, g.moved = g.money+x.money, g.days+x.days, g.dated+x.dated, g.moved+x.moved
}

// chunk is how many lamps are weighed at a time on one core.
const chunk = 256

// weigh gives a visit's gain, and how each lamp would stand.
func (w *weigher) weigh(v *forecast.Visit) (g gain, then []standing) {
	c := w.counts.with(v)
	then = make([]standing, len(w.stakes))
	seen := w.known.Foresee(*v)
	ended := map[int]bool{}
	for _, i := range v.Ended {
		ended[i] = true
	}
	parts := make([]gain, (len(then)+chunk-1)/chunk)
	inParallel(len(parts), func(n int) {
		for k := n * chunk; k < min((n+1)*chunk, len(then)); k++ {
			if then[k] = w.now[k]; !ended[w.stakes[k].lamp] {
				then[k] = w.then(k, seen.Of(k), c)
			}
			parts[n].add(w.gained(k, then[k]))
		}
	})
	for _, x := range parts {
		g.add(x)
	}
	return g, then
}

// then is how a lamp would stand with so much left of its variance.
func (w *weigher) then(k int, left forecast.Gained, c counts) standing {
	s, was, before := &w.stakes[k], w.now[k], w.known.Now(k)
	if !s.drift && !c.cleaned[s.lamp] && before.Var-left.Var < 1e-4*(s.fixed+before.Var) {
		return was // it is nothing to this lamp
	}
	is := w.stand(k, left, c)
	is.dated = is.dated || was.dated
	if is.spread > was.spread {
		is.spread, is.days = was.spread, was.days
	}
	return is
}

// gained is what it is worth that a lamp would stand so.
func (w *weigher) gained(k int, is standing) (g gain) {
	s, was := &w.stakes[k], w.now[k]
	if is == was {
		return g
	}
	if s.priced {
		g.money = s.weight * (s.loss(was.spread) - s.loss(is.spread))
	}
	g.days = s.weight * (was.days - is.days)
	if is.dated && !was.dated {
		g.dated = 1
	}
	if is.spread < (1-wideBy)*was.spread {
		g.moved = 1
	}
	return g
}

// take takes a visit as made.
func (w *weigher) take(v *forecast.Visit, then []standing) {
	w.known, w.now, w.counts = w.known.With(*v), then, w.counts.with(v)
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
