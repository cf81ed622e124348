package survival

import (
	"cmp"
	"fmt"
	"math"
	"sort"
)

// Turnbull estimates the share still working where some failures are known
// only to lie within Gap before Exit (Turnbull 1976, J. R. Stat. Soc. B
// 38:290-295): self-consistency by EM, over the innermost intervals that hold a failure
// and no more than one end. It is done on the hazards of these intervals, so
// that late entry costs no invented units: who entered later is not at risk.
// An entry ends an interval as a failure does (Alioum and Commenges 1996,
// Biometrics 52:512-524, from memory). Without a Gap it is KaplanMeierFrom.
//
// Where in its interval the curve falls is not known; it is drawn to fall in
// the middle, as R's survfit does. SE is Greenwood's of the expected counts, which
// leaves out that the ages are not known. Lo and Hi don't rest on it: they are
// the outermost of the Kaplan-Meier limits with each failure at either end of its Gap.
func Turnbull(units []Unit, from float64, limits Limits, level float64) (Curve, error) {
	late, err := KaplanMeierFrom(units, from, limits, level)
	if err != nil || !anyGap(units) {
		return late, err
	}
	soon := make([]Unit, len(units))
	for i, u := range units {
		if u.Gap > 0 { // just after its open end
			u.Exit, u.Gap = math.Nextafter(max(u.Entry, u.Exit-u.Gap), math.Inf(1)), 0
		}
		soon[i] = u
	}
	early, err := KaplanMeierFrom(soon, from, limits, level)
	if err != nil || early.Units == 0 {
		return late, err
	}
	sorted := append([]Unit(nil), units...) // so that their order changes no bit of where the EM stands still
	sort.Slice(sorted, func(i, j int) bool {
		a, b := sorted[i], sorted[j]
		return cmp.Or(cmp.Compare(a.Exit, b.Exit), cmp.Compare(a.Entry, b.Entry), cmp.Compare(a.Gap, b.Gap)) < 0
	})
	e := newSelfConsistent(sorted)
	settled := e.run()
	c := Curve{Units: late.Units, Failures: late.Failures, Limits: limits, Level: level, From: from, kind: "Turnbull"}
	c.steps(e, from)
	c.bracket(&early, &late)
	c.warn()
	n, widest := 0, 0.0
	for _, u := range units {
		if u.Gap > 0 {
			n, widest = n+1, max(widest, u.Gap)
		}
	}
	c.Warnings = append(c.Warnings, fmt.Sprintf(
		"%d of the failures are known only to lie between two looks, up to %.0f h apart: "+
			"the curve is Turnbull's, its limits those of the earliest and the latest ages",
		n, widest))
	if !settled {
		c.Warnings = append(c.Warnings, fmt.Sprintf(
			"the curve had not settled after %d rounds: take it as rough", mostRounds))
	}
	return c, nil
}

func anyGap(units []Unit) bool {
	for _, u := range units {
		if u.Gap > 0 {
			return true
		}
	}
	return false
}

// Midpoint is the unit with its failure in the middle of its Gap, for what
// knows of no intervals.
func (u Unit) Midpoint() Unit {
	u.Exit, u.Gap = u.Exit-u.Gap/2, 0
	return u
}

// steps makes the curve of those that reached the age from.
func (c *Curve) steps(e *selfConsistent, from float64) {
	survival, sum, last := 1.0, 0.0, max(from, e.longest)
	for j, p := range e.at {
		t := (p.lo + p.hi) / 2
		d, n := e.failed[j], e.atRisk[j]
		if t <= from && from > 0 || d < 1e-9 {
			continue
		}
		if n-d < 1e-9*n {
			survival, sum = 0, 0
		} else {
			survival *= 1 - d/n
			sum += d / (n * (n - d))
		}
		c.Steps = append(c.Steps, Step{Time: t, AtRisk: int(math.Round(n)), Failed: int(math.Round(d)), Expected: d,
			Survival: survival, SE: survival * math.Sqrt(sum)})
	}
	if n := len(c.Steps); n == 0 || survival > 0 && c.Steps[n-1].Time < last {
		c.Steps = append(c.Steps, Step{Time: last, Survival: survival, SE: survival * math.Sqrt(sum)})
	}
}

// bracket sets the limits of each step: they hold up to the next one.
func (c *Curve) bracket(early, late *Curve) {
	lo := func(until float64) float64 { return early.At(math.Nextafter(until, 0)).Lo }
	c.flat = min(early.flat, lo(c.Steps[0].Time))
	for i := range c.Steps {
		s := &c.Steps[i]
		s.Lo = early.At(s.Time).Lo
		if i+1 < len(c.Steps) {
			s.Lo = min(s.Lo, lo(c.Steps[i+1].Time))
		}
		s.Lo, s.Hi = min(s.Lo, s.Survival), max(late.At(s.Time).Hi, s.Survival)
	}
}

// mostRounds and settledBy end the EM: no point of the curve moves any more.
const (
	mostRounds = 5000
	settledBy  = 1e-7
)

// selfConsistent is the EM. Failure k lies in one of the intervals first[k] to
// last[k].
type selfConsistent struct {
	at             []span
	hazard         []float64
	failed, atRisk []float64 // expected
	known          []float64 // at risk whatever the hazards
	outlived       []float64 // of them working after it, whatever the hazards
	first, last    []int
	longest        float64
}

// span is ages above lo up to hi; lo = hi is that age itself.
type span struct{ lo, hi float64 }

func newSelfConsistent(units []Unit) *selfConsistent {
	e := &selfConsistent{at: innermost(units)}
	m := len(e.at)
	for _, s := range []*[]float64{&e.hazard, &e.failed, &e.atRisk, &e.known, &e.outlived} {
		*s = make([]float64, m)
	}
	for _, u := range units {
		e.longest = max(e.longest, u.Exit)
		from := 0
		if u.Entry > 0 { // at risk of what lies past its entry
			from = sort.Search(m, func(j int) bool { return e.at[j].hi > u.Entry })
		}
		to := sort.Search(m, func(j int) bool { return e.at[j].hi > u.Exit }) - 1
		if u.Failed {
			first := to // Exit is an end: an interval ends there, or before
			if u.Gap > 0 {
				lo := max(u.Entry, u.Exit-u.Gap)
				first = sort.Search(m, func(j int) bool { return e.at[j].hi > lo })
			}
			e.first, e.last = append(e.first, first), append(e.last, to)
			to = first
		}
		for j := from; j <= to; j++ {
			e.known[j]++
			e.outlived[j]++
		}
		if u.Failed {
			e.outlived[to]--
		}
	}
	for j := range e.hazard {
		e.hazard[j] = 1 / float64(m-j+1)
	}
	return e
}

// innermost gives the intervals that can hold a failure: from an open end to
// the next closed one, with no other end between.
func innermost(units []Unit) []span {
	const exact, closed, open = 0, 1, 2 // the order at one age
	type end struct {
		age  float64
		kind int
	}
	var ends []end
	for _, u := range units {
		switch {
		case !u.Failed:
			ends = append(ends, end{u.Exit, open})
		case u.Gap > 0:
			ends = append(ends, end{max(u.Entry, u.Exit-u.Gap), open}, end{u.Exit, closed})
		default:
			ends = append(ends, end{u.Exit, exact}, end{u.Exit, closed})
		}
		if u.Entry > 0 {
			ends = append(ends, end{u.Entry, closed})
		}
	}
	sort.Slice(ends, func(i, j int) bool {
		if ends[i].age != ends[j].age {
			return ends[i].age < ends[j].age
		}
		return ends[i].kind < ends[j].kind
	})
	var out []span
	for i := 1; i < len(ends); i++ {
		if ends[i].kind == closed && ends[i-1].kind != closed {
			out = append(out, span{ends[i-1].age, ends[i].age})
		}
	}
	return out
}

// run repeats expected counts and hazards until the curve stands. Two rounds tell
// how the hazards shrink or grow, each by about the same share a round; a long
// step on their logarithms goes where that leads (Varadhan and Roland 2008, Scand.
// J. Stat. 35:335-353), and is taken back where the likelihood falls.
func (e *selfConsistent) run() (settled bool) {
	m := len(e.hazard)
	h0, h1, h2 := make([]float64, m), make([]float64, m), make([]float64, m)
	for range mostRounds {
		copy(h0, e.hazard)
		e.round()
		copy(h1, e.hazard)
		before, moved := e.round(), 0.0
		copy(h2, e.hazard)
		was, is := 1.0, 1.0
		for j := range h1 {
			was, is = was*(1-h1[j]), is*(1-h2[j])
			moved = max(moved, math.Abs(was-is))
		}
		if moved < settledBy {
			return true
		}
		e.leap(h0, h1, h2)
		e.round()
		if after := e.round(); !(after >= before) {
			copy(e.hazard, h2)
		}
	}
	return false
}

// leap sets the hazards to where three rounds in a row lead.
func (e *selfConsistent) leap(h0, h1, h2 []float64) {
	r2, v2 := 0.0, 0.0
	for j := range h0 {
		if !(h2[j] > 0) || h2[j] >= 1 {
			continue
		}
		r := math.Log(h1[j] / h0[j])
		v := math.Log(h2[j]/h1[j]) - r
		r2, v2 = r2+r*r, v2+v*v
	}
	if !(v2 > 0) {
		return
	}
	a := math.Sqrt(r2 / v2)
	for j := range h0 {
		if !(h2[j] > 0) || h2[j] >= 1 {
			continue
		}
		r := math.Log(h1[j] / h0[j])
		v := math.Log(h2[j]/h1[j]) - r
		e.hazard[j] = min(h0[j]*math.Exp(2*a*r+a*a*v), 0.999999)
	}
}

// round is one of the EM; it gives the log likelihood before it.
func (e *selfConsistent) round() float64 {
	l := e.expect()
	for j := range e.hazard {
		e.hazard[j] = 0
		if e.atRisk[j] > 0 {
			e.hazard[j] = min(1, e.failed[j]/e.atRisk[j])
		}
	}
	return l
}

// expect shares each failure among its intervals as the hazards say; it gives
// their log likelihood.
func (e *selfConsistent) expect() (likelihood float64) {
	copy(e.atRisk, e.known)
	clear(e.failed)
	for j, n := range e.outlived {
		if n > 0 {
			likelihood += n * math.Log1p(-e.hazard[j])
		}
	}
	for k, a := range e.first {
		b, sum, working := e.last[k], 0.0, 1.0
		for j := a; j <= b; j++ {
			sum += working * e.hazard[j]
			working *= 1 - e.hazard[j]
		}
		likelihood += math.Log(sum)
		left := 1.0
		working = 1
		for j := a; j <= b; j++ {
			w := 1.0
			if a < b {
				w = working * e.hazard[j] / sum
			}
			working *= 1 - e.hazard[j]
			e.failed[j] += w
			if j > a {
				e.atRisk[j] += max(0, left)
			}
			left -= w
		}
	}
	return likelihood
}
