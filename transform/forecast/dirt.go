package forecast

import (
	"fmt"
	"math"
	"slices"

	"wane/transform/estimate"
)

// Where nobody cleaned, dirt and ageing look alike, and what the fit takes for
// dirt is mostly what is assumed of it. The due hours are then those of a room that
// may be clean or gather twice the usual dirt.

// dirtSure is how many posterior spreads from the fitted dirt the readings allow.
const dirtSure = 2

// dirtWiden widens the band at either end: in a room without dirt the other
// assumptions lean the same way.
const dirtWiden = 1.3

// dirtSeen says whether a cleaning shows what the dirt is worth.
func (p *Posterior) dirtSeen() bool { return p.StaysClean || p.Cleanings > 0 || p.RoomDirt[1] < .004 }

// oddTail is from which widening of the type's slope on its readings contradict
// what is assumed of it.
const oddTail = 1.1

func (p *Posterior) contradicted() bool { return p.TypeTail > oddTail }

// dirtLimit is how far the due hours may hang on dirt. Where the readings contradict
// what is assumed of the lamps, what is assumed of dirt is trusted less.
func (p *Posterior) dirtLimit(l Limits) float64 {
	if p.contradicted() {
		return l.DirtOdd
	}
	return l.Dirt
}

// dirtEnds is the due hours with no dirt, and with twice the usual, as far as the
// readings allow either.
func (p *Posterior) dirtEnds(d Defaults, level, z float64) (none, twice Crossing) {
	usual := d.Dirt.Amplitude.Mean
	at, sd := p.RoomDirt[0], p.RoomDirt[1]
	lo := math.Max(0, at-dirtSure*sd)
	hi := math.Min(math.Max(2*usual, at), at+dirtSure*sd)
	none, twice = p.withDirt(lo, level, z), p.withDirt(math.Max(lo, hi), level, z)
	if p.NoDirt != nil {
		c := p.NoDirt.Cross(level, z)
		none.Centre, none.Lo = math.Min(none.Centre, c.Centre), math.Min(none.Lo, c.Lo)
	}
	return none, twice
}

// neverCleaned gives the rooms in which no cleaning was ever logged, of those that are
// not declared to stay clean.
func (m *model) neverCleaned() []string {
	if m.d.Dirt.Amplitude.Mean <= 0 {
		return nil
	}
	cleaned := make([]bool, len(m.rooms))
	for _, l := range m.lamps {
		for _, c := range m.in.Lamps[l.in].Cleanings {
			if c.Day <= m.asOf && c.Part != CleanRelamp {
				cleaned[l.room] = true
			}
		}
	}
	var out []string
	for k, name := range m.rooms {
		if !cleaned[k] && !slices.Contains(m.in.Clean, name) {
			out = append(out, name)
		}
	}
	return out
}

// withDirt is the due hours were the amplitude of the room's dirt known.
func (p *Posterior) withDirt(amplitude, level, z float64) Crossing {
	return p.given(&p.DirtPull, p.PastPull, amplitude-p.RoomDirt[0], p.RoomDirt[1]).Cross(level, z)
}

// dirtWidens gives the interval of the due hours over what dirt may be, and half the
// log ratio of the due hours at its ends.
func (p *Posterior) dirtWidens(d Defaults, c Crossing, level, z float64) (Crossing, float64) {
	if p.dirtSeen() || len(p.PastPull) != len(p.Past) {
		return c, 0
	}
	none, twice := p.dirtEnds(d, level, dirtWiden*z)
	c.Lo, c.Hi = math.Min(c.Lo, none.Lo), math.Max(c.Hi, twice.Hi)
	return c, math.Log(math.Min(twice.Centre, horizon)/math.Min(none.Centre, horizon)) / 2
}

// stepsWiden widens the interval by what upward steps may mean that nothing explains:
// either the light jumped, or something went that had dimmed it before, as dirt and
// leaves do, and what was taken for decline of the lamp was not. It gives half the log
// ratio of the due hours by the one and by the other too.
func (p *Posterior) stepsWiden(c Crossing, level, z float64) (Crossing, float64) {
	undone := 0.0
	for _, s := range p.Steps {
		if s.Size > 0 && !s.Relamp {
			undone += s.Size
		}
	}
	now, _ := p.Output(max(p.HoursNow, Seasoning))
	if undone == 0 || now >= 0 {
		return c, 0
	}
	left := max(1+undone/now, .05) // share of the decline that is the lamp's all the same
	less := p.cross(math.Log(level)/left, z, nil, nil)
	c.Hi = math.Max(c.Hi, less.Hi)
	return c, math.Log(math.Min(less.Centre, horizon)/math.Min(c.Centre, horizon)) / 2
}

// dirtRange is all that can be said where dirt decides.
func dirtRange(c Crossing, ask Asking, n int) estimate.Estimate {
	lo := c.Lo
	if math.IsInf(lo, 1) {
		lo = horizon
	}
	return estimate.Estimate{Centre: math.NaN(), Lo: lo, Hi: c.Hi, Level: ask.Interval, N: n, Method: Method}
}

func (p *Posterior) dirtWords(d Defaults, a *Answer) string {
	return fmt.Sprintf("no cleaning logged: dirt and ageing of the lamp can't be told apart; due between %s and %s "+
		"from a room without dirt to one with %.0f %%",
		hourWords(a.DueHours.Lo), hourWords(a.DueHours.Hi), 200*d.Dirt.Amplitude.Mean)
}

func hourWords(x float64) string {
	if math.IsInf(x, 1) || x >= horizon {
		return "an open end"
	}
	return fmt.Sprintf("%.0f h", x)
}
