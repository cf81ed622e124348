package forecast

import (
	"math"
)

// Light that magnetic gear loses because its supply falls, or a lamp because the air
// about it warms, looks like ageing where nobody reads either. The fit leaves room for
// what is usual of it; here is what is said where that is not enough.

// usualTrend is how many spreads of the declared trend are usual.
const usualTrend = 2

// oddSlope is by how many spreads a type must fade faster than assumed for an unread
// supply to be suspected.
const oddSlope = 2

// leastUnread is the yearly change from which conditions that are not read matter, ln.
const leastUnread = .001

// blindSupply says whether the supply swings the lamp's light and nobody reads it.
func (p *Posterior) blindSupply() bool { return p.NoSupply && p.Gear != Electronic && p.Gear != Driver }

// unreadWidens widens the due hours by what conditions that nobody reads may have done,
// where that decides: where the lamp is under its threshold only if they did nothing, and
// where lamps fade far faster than is assumed of their type, so that the supply may have
// done the rest, and no others of the type at the site tell. hangs says whether it does.
func (p *Posterior) unreadWidens(d Defaults, c Crossing, level, z float64) (_ Crossing, hangs bool) {
	if p.Unread < leastUnread || len(p.PastTrend) != len(p.Past) {
		return c, false
	}
	most := float64(usualTrend)
	slope := d.Classes[p.Class].Slope
	odd := p.blindSupply() && !p.TypeRead && p.ClassSlope[0] > slope.Mean+oddSlope*slope.SD
	if odd {
		excess := (p.ClassSlope[0] - slope.Mean) * p.Burn.PerDay * 365.25 / 1e4
		most = math.Max(most, excess/p.Unread-p.Trend[0]) // on top of what the fit gives it
	}
	end := p.given(&p.TrendPull, p.PastTrend, -most-p.Trend[0], p.Trend[1]).Cross(level, z)
	under := c.Centre <= p.HoursNow
	if under && end.Centre <= p.HoursNow || !under && !odd {
		return c, false
	}
	c.Hi = math.Max(c.Hi, end.Hi)
	return c, true
}

// given is the posterior, were something known that it leans on: more of it than the
// fit has, and how far the fit leaves it open.
func (p *Posterior) given(pull *[5]float64, past []float64, more, sd float64) *Posterior {
	q, v := *p, sd*sd
	q.Past = append([]PastPoint(nil), p.Past...)
	for i := range q.Past {
		q.Past[i].Mean += past[i] * more
		q.Past[i].SD = math.Sqrt(max(0, math.Pow(q.Past[i].SD, 2)-v*past[i]*past[i]))
	}
	for i := range q.Mean {
		q.Mean[i] += pull[i] * more
		for j := 0; j <= i; j++ {
			q.Cov[i*(i+1)/2+j] -= v * pull[i] * pull[j]
		}
	}
	return &q
}

// unreadWords say what the range hangs on, and what would settle it.
func (p *Posterior) unreadWords() (what, settle string) {
	if p.blindSupply() {
		return "the supply voltage falls", "log the supply voltage of its circuit"
	}
	return "the air about the lamps warms", "log the temperature of the air about the lamps"
}
