package plan

import (
	"fmt"
	"math"

	"wane/transform/plan/renewal"
)

// lotPolicy is how the lamps of one type in one room are kept up in the long
// run.
type lotPolicy struct {
	known     bool
	group     bool
	spotHours float64 // planned age of lamps changed singly
	grpHours  float64 // planned interval of the group
	spotRate  float64 // money an hour and lamp, long run
	grpRate   float64
	spotYear  float64 // money a year, the lot
	grpYear   float64
	perVisit  float64 // lamps changed in one spot visit, estimated
	spot, grp Interval
	why       string
	words     []string
}

// lot is the lamps of one type in one room.
type lot struct {
	room, lampType string
	lamps          []*lampCase
	pool           fade
	how            lotPolicy
	block          *renewal.Optimum // of the group, found once
}

func lots(all []*lampCase, pools map[string]fade) []*lot {
	var out []*lot
	at := map[[2]string]*lot{}
	for _, k := range all {
		key := [2]string{k.Room, k.LampType}
		if at[key] == nil {
			at[key] = &lot{room: k.Room, lampType: k.LampType, pool: pools[k.LampType]}
			out = append(out, at[key])
		}
		at[key].lamps = append(at[key].lamps, k)
	}
	return out
}

// typical is a lamp of the lot with the lot's mean value of light and burning
// hours: the successor of any of them.
func (q *lot) typical() *lampCase {
	k := *q.lamps[0]
	k.v.perHour, k.BurnPerDay, k.Threshold = 0, 0, 0
	n := float64(len(q.lamps))
	for _, l := range q.lamps {
		k.v.perHour += l.v.perHour / n
		k.BurnPerDay += l.BurnPerDay / n
		k.Threshold += l.Threshold / n
		if l.life.known() {
			k.life = l.life
		}
	}
	k.f = q.pool
	return &k
}

// policy finds the long-run costs of spot and group relamping and takes the
// cheaper; within the tolerance of the flat optimum it takes the group, which
// needs fewer visits and keeps the room even.
func (q *lot) policy(perVisit float64, s Settings) lotPolicy {
	risk, limit := s.risk(), s.limit()
	k := q.typical()
	p := lotPolicy{perVisit: perVisit, why: k.unpriced()}
	if p.why != "" {
		return p
	}
	n := float64(len(q.lamps))
	year := k.BurnPerDay * daysPerYear
	// The successor's own crossing: the pool's hour at which the chance of having crossed is risk.
	crossed := (1 - k.Threshold) / k.f.slopes[int(risk*float64(len(k.f.slopes)))]
	cap := math.Inf(1)
	if limit {
		cap = crossed
	}

	spotPlanned := k.spot + k.t.visit()/perVisit
	spot := k.model(k.f, spotPlanned, k.f.cv)
	so := spot.BestAge()
	p.spot = k.interval(so, k.f)
	p.spotHours, p.spotRate = held(so.Known, so.T, so.Rate, cap, spot.AgeRate)

	grpPlanned := k.group + k.t.visit()/n
	grp := k.model(k.f, grpPlanned, k.f.cv)
	if q.block == nil {
		o := grp.BestBlock()
		q.block = &o
	}
	gro := *q.block
	p.grp = k.interval(gro, k.f)
	p.grpHours, p.grpRate = held(gro.Known, gro.T, gro.Rate, cap, grp.BlockRate)

	p.known = p.spotRate > 0
	if !p.known {
		p.why = so.Why
		return p
	}
	// Ages in a room of spot relamps lie evenly over the interval, which spreads
	// the levels; a group's spread is that of its fades alone and is in its model.
	ages := k.f.mean * p.spotHours / math.Sqrt(12)
	p.spotYear = n * year * (p.spotRate + k.v.spread(ages))
	p.grpYear = n * year * p.grpRate
	p.group = len(q.lamps) >= 3 && p.grpRate > 0 && p.grpYear <= p.spotYear*1.02
	// What it costs to hold the threshold, in the policy taken.
	o, at, hours := so, spot.AgeRate, p.spotHours
	if p.group {
		o, at, hours = gro, grp.BlockRate, p.grpHours
	}
	if extra := n * year * (at(crossed) - o.Rate); crossed < searchHours && (!o.Known || crossed < o.T) && o.Rate > 0 {
		if limit {
			p.words = append(p.words, fmt.Sprintf("the threshold is a limit: lamps are changed at %.0f h where %.0f h would cost least, which costs %s a year more", hours, o.T, s.money(extra)))
		} else {
			p.words = append(p.words, fmt.Sprintf("the cost optimum of %.0f h lies past the threshold (%.0f h at the risk taken): holding the threshold would cost %s a year more", o.T, crossed, s.money(extra)))
		}
	}
	return p
}

// held cuts an optimum at cap, the hour at which the threshold forbids more.
func held(known bool, t, rate, cap float64, at func(float64) float64) (hours, r float64) {
	switch {
	case known && t <= cap:
		return t, rate
	case cap < searchHours:
		return cap, at(cap)
	case known:
		return t, rate
	}
	return 0, 0
}

// compare words the choice.
func (p lotPolicy) compare(s Settings, lamps int) string {
	if !p.known {
		return p.why
	}
	if p.grpRate == 0 || lamps < 3 {
		return fmt.Sprintf("spot relamping costs %s a year; %d lamps are too few for a group or no group interval pays",
			s.money(p.spotYear), lamps)
	}
	name, other, a, b := "spot", "group", p.spotYear, p.grpYear
	if p.group {
		name, other, a, b = "group", "spot", p.grpYear, p.spotYear
	}
	if p.group && p.grpYear > p.spotYear {
		return fmt.Sprintf("group relamping, at %s a year, is within 2 %% of spot relamping (%s) and needs fewer visits",
			s.money(a), s.money(b))
	}
	return fmt.Sprintf("%s relamping costs %s a year (work, light lost, failures, uneven light), %s relamping %s", name,
		s.money(a), other, s.money(b))
}

// responseRange gives the two intervals' optima at the ends of the yield
// response, which is a range in the literature and not a number.
func (q *lot) responseRange(group, spot *Interval) {
	k := q.typical()
	if k.v.response <= 0 || k.unpriced() != "" {
		return
	}
	centre := k.v.perHour
	at := func(response float64) (g, s float64) {
		k.v.perHour = centre * response / k.v.response
		if o := k.model(k.f, k.group+k.t.visit()/float64(len(q.lamps)), k.f.cv).BestBlock(); o.Known {
			g = o.T
		}
		if o := k.model(k.f, k.spot+k.t.visit()/math.Max(q.how.perVisit, 1), k.f.cv).BestAge(); o.Known {
			s = o.T
		}
		return g, s
	}
	group.ResponseLo, spot.ResponseLo = at(k.t.response.Max)
	group.ResponseHi, spot.ResponseHi = at(k.t.response.Min)
}
