package plan

import (
	"fmt"
	"math"
	"strings"

	"wane/transform/plan/renewal"
)

// searchHours is the longest replacement age looked at.
const searchHours = 150000

// model is the renewal model of lamps that fade by f, changed singly or as a
// group at the given cost of a planned replacement.
func (k *lampCase) model(f fade, planned float64, cv func(h float64) float64) renewal.Model {
	m := renewal.Model{Planned: planned, Failure: k.failure(), Max: searchHours}
	if k.v.perHour > 0 && len(f.slopes) > 0 {
		m.Loss = func(h float64) float64 {
			loss := k.v.perHour * f.lost(h)
			if cv != nil {
				loss += k.v.spread(cv(h))
			}
			return loss
		}
	}
	if k.life.known() {
		m.Survive = k.life.survive
	}
	return m
}

// interval words an optimum for the plan. k gives burning hours and units.
func (k *lampCase) interval(o renewal.Optimum, f fade) Interval {
	year := k.BurnPerDay * daysPerYear
	iv := Interval{Known: o.Known, Hours: o.T, Lo: o.Lo, Hi: o.Hi, HiOpen: o.HiOpen, RateYear: o.Rate * year, Why: o.Why}
	if o.Known {
		iv.LevelAt = 1 - f.lost(o.T)
	}
	for _, p := range o.Curve {
		if o.Known && (p.T < o.T/8 || p.T > o.T*4) {
			continue // far from the least the curve only hides it
		}
		iv.Curve = append(iv.Curve, CurvePoint{Hours: p.T, RateYear: p.Rate * year})
	}
	return iv
}

// unpriced says in words why no cost-optimal interval can be given, or "".
func (k *lampCase) unpriced() string {
	var lack []string
	if math.IsNaN(k.t.lamp) {
		lack = append(lack, "lamp_price")
	}
	if k.v.perHour == 0 {
		lack = append(lack, k.v.missing...)
	}
	switch {
	case len(lack) > 0:
		return "no cost-optimal interval without " + strings.Join(lack, " and ") + "; the threshold alone decides"
	case k.spot <= 0:
		return "a lamp that costs nothing to replace has no cost-optimal interval; the threshold alone decides: check lamp_price and labour"
	case len(k.f.slopes) == 0:
		return "no cost-optimal interval without a forecast of this lamp or of others of its type"
	}
	return ""
}

// excess is the expected cost of keeping the lamp for each number of days in
// grid, over what a successor at the long-run rate (money an hour) would cost
// in the same time:
//
//	J(x) = int_0^x S(h|now) [ v lost(h) + hazard(h) (Cf - Cp) - rate ] dh
//
// A lamp changed singly is best replaced where J is least: on failure its
// successor starts early, which the whole bracket's survival says. In a group
// (block replacement) a failure does not move the group's day, so it costs all
// of Cf and the rate runs on:
//
//	J(x) = int_0^x S(h|now) [ v lost(h) + hazard(h) Cf ] - rate dh
func (k *lampCase) excess(grid []float64, rate, planned float64, group bool) []float64 {
	j := make([]float64, len(grid))
	now := k.life.cum(k.HoursNow)
	fails := k.failure()
	if !group {
		fails = math.Max(0, fails-planned)
	}
	at := func(days float64) float64 {
		h := k.hoursIn(days)
		s := math.Exp(now - k.life.cum(h))
		if group {
			return s*(k.v.perHour*k.f.lost(h)+k.life.hazard(h)*fails) - rate
		}
		return s * (k.v.perHour*k.f.lost(h) + k.life.hazard(h)*fails - rate)
	}
	before := at(grid[0])
	for i := 1; i < len(grid); i++ {
		here := at(grid[i])
		j[i] = j[i-1] + (before+here)/2*(grid[i]-grid[i-1])*k.BurnPerDay
		before = here
	}
	return j
}

// least gives the index of the least of j and the nearest indices on both
// sides within slack of it.
func least(j []float64, slack float64) (lo, best, hi int) {
	for i := range j {
		if j[i] < j[best] {
			best = i
		}
	}
	lo, hi = best, best
	for lo > 0 && j[lo-1] <= j[best]+slack {
		lo--
	}
	for hi < len(j)-1 && j[hi+1] <= j[best]+slack {
		hi++
	}
	return lo, best, hi
}

// weeks is the grid of days on which replacement is weighed.
func weeks(horizon int) []float64 {
	var g []float64
	for d := 0; d < horizon; d += 7 {
		g = append(g, float64(d))
	}
	return append(g, float64(horizon))
}

func hoursText(h float64) string { return fmt.Sprintf("%.0f h", h) }
