package forecast

import (
	"math"
	"time"

	"wane/transform/estimate"
)

// day gives the day on which so many more hours will have burnt, by the
// room's habit; +Inf where the room does not burn.
func (b Burn) day(from int, hours float64) float64 {
	if hours <= 0 {
		return float64(from)
	}
	sum := 0.0
	for _, x := range b.Month {
		sum += x
	}
	if sum <= 0 || b.PerDay <= 0 {
		if b.PerDay <= 0 {
			return math.Inf(1)
		}
		return float64(from) + hours/b.PerDay
	}
	// Whole years first: the mean of the months, then month by month.
	year := 0.0
	for m, x := range b.Month {
		year += x * float64(monthDays[m])
	}
	n := math.Floor(hours / year)
	hours -= n * year
	at := float64(from) + n*365.25
	for k := 0; k < 800; k++ {
		x := b.Month[month(int(at))]
		if hours <= x {
			return at + hours/math.Max(x, 1e-9)
		}
		hours -= x
		at++
	}
	return at
}

var monthDays = [12]int{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}

func month(day int) int { return int(time.Unix(int64(day)*86400, 0).UTC().Month()) - 1 }

// dueDay turns due hours into a day. The habit's spread widens the interval:
// yearly hours differ by the room's spread, and the present habit is itself
// known from a year or less.
func (p *Posterior) dueDay(h estimate.Estimate, z, relSD float64) estimate.Estimate {
	const method = "due hours by the room's burning habit"
	if p.Burn.PerDay <= 0 {
		return estimate.None(method, "the room has not burnt in the last year: no date can be given")
	}
	out := h
	out.Method, out.Warnings = method, nil
	rel := p.Burn.RelSD
	if rel == 0 {
		rel = relSD
	}
	centre := h.Centre
	if math.IsNaN(centre) {
		centre = h.Lo
	}
	left := centre - p.HoursNow
	if left <= 0 { // already under: reckon back
		past := func(x float64) float64 {
			if x <= p.HoursNow {
				return float64(p.AsOf) - (p.HoursNow-x)/p.Burn.PerDay
			}
			return p.Burn.day(p.AsOf, x-p.HoursNow)
		}
		out.Centre, out.Lo, out.Hi = past(h.Centre), past(h.Lo), past(h.Hi)
		return out
	}
	years := left / (p.Burn.PerDay * 365.25)
	known := 1.0
	if p.Burn.Days > 0 && p.Burn.Days < 365 {
		known = float64(p.Burn.Days) / 365
	}
	rel *= math.Sqrt(1/math.Max(years, 1) + 1/known)
	out.Centre = p.Burn.day(p.AsOf, left)
	if math.IsNaN(h.Centre) {
		out.Centre = h.Centre
	}
	lo := h.Lo - p.HoursNow
	if lo <= 0 {
		out.Lo = float64(p.AsOf)
	} else {
		out.Lo = p.Burn.day(p.AsOf, left*math.Exp(-math.Hypot(math.Log(left/lo), z*rel)))
	}
	if math.IsInf(h.Hi, 1) {
		out.Hi = h.Hi
	} else {
		out.Hi = p.Burn.day(p.AsOf, left*math.Exp(math.Hypot(math.Log((h.Hi-p.HoursNow)/left), z*rel)))
	}
	return out
}
