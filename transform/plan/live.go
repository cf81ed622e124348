package plan

import (
	"math"
	"math/rand/v2"
)

// visitKeyDay is a visit in the simulation: a room and a day from AsOf.
type visitKeyDay struct {
	room string
	day  int
}

// tally sums one draw.
type tally struct {
	days                   float64
	work, light, left, mol float64
	visits, lamps          int
	lifted                 map[visitKeyDay]bool
}

// snapDays is the grid to which successors' planned days are drawn together,
// so that single lamps share their visits.
const snapDays = reviewDays

// live follows one fixture through the horizon. Every lamp it gets draws its
// fade and its life from rng in turn, whatever the habit.
func (t *tally) live(q *lot, k *lampCase, h habit, law float64, rng *rand.Rand, ref float64) {
	eta := k.life.eta * math.Exp(law*k.life.lnSd)
	lifetime := func(age float64) float64 {
		u := rng.ExpFloat64()
		if !k.life.known() {
			return math.Inf(1)
		}
		return eta * math.Pow(math.Pow(age/eta, k.life.beta)+u, 1/k.life.beta)
	}
	slopeOf := func(f fade) float64 {
		u := rng.Float64()
		if len(f.slopes) == 0 {
			return 0
		}
		return f.slopes[min(int(u*float64(len(f.slopes))), len(f.slopes)-1)]
	}
	age, slope, at := k.HoursNow, slopeOf(k.f), 0.0
	if k.Status != "dark" {
		t.left -= k.group * math.Max(0, 1-age/ref)
	}
	life := lifetime(age)
	planned, group := t.first(q, k, h)
	gear := math.Inf(1)
	if h == byPlan && k.work != nil && k.work.needsGear && !k.work.date.IsZero() {
		gear = k.work.fromToday
	}
	if k.Status == "dark" {
		back := k.t.wait
		if h == byPlan {
			back = math.Min(planned, gear)
		}
		back = math.Min(back, t.days)
		t.dark(k, back)
		at = back
		if back >= t.days {
			return
		}
		if back == gear {
			t.pay(k, gear, k.work.cost)
		} else {
			t.relamp(k, at, false)
			age, slope, life = 0, slopeOf(q.pool), lifetime(0)
		}
		planned, group = t.next(q, k, h, at, age)
	}
	for at < t.days {
		fails := at + (life-age)/k.BurnPerDay
		end := math.Min(math.Min(fails, planned), t.days)
		end = math.Max(end, at)
		to := age + (end-at)*k.BurnPerDay
		t.lose(k, fadedOver(slope, age, to))
		age, at = to, end
		switch {
		case end >= t.days:
			t.left += k.group * math.Max(0, 1-age/ref)
			return
		case fails <= planned:
			back := math.Min(at+k.t.wait, t.days)
			t.dark(k, back-at)
			at = back
			if at >= t.days {
				return
			}
			t.relamp(k, at, false)
		case group && age < q.how.grpHours/2 && h == byPlan:
			// Too young to go with the group: it waits for the next.
			planned, group = t.next(q, k, h, at, age)
			continue
		default:
			t.relamp(k, at, group)
		}
		age, slope, life = 0, slopeOf(q.pool), lifetime(0)
		planned, group = t.next(q, k, h, at, age)
	}
}

// first is the day of the lamp's first planned change, and whether it goes
// with its group.
func (t *tally) first(q *lot, k *lampCase, h habit) (day float64, group bool) {
	switch h {
	case byHours:
		return q.fixedDay(-1), true
	case byPlan:
		if k.work != nil && k.work.needsLamp && !k.work.date.IsZero() {
			return k.work.fromToday, k.work.do == GroupRelamp
		}
		if q.how.group {
			if d := q.groupDay(); d < t.days && k.hoursIn(d) < q.how.grpHours/2 {
				return d, true
			}
		}
	}
	return math.Inf(1), false
}

// next is the day of the next planned change of a lamp of the given age on day at.
func (t *tally) next(q *lot, k *lampCase, h habit, at, age float64) (day float64, group bool) {
	switch {
	case h == byHours:
		return q.fixedDay(at), true
	case h == byPlan && q.how.known && q.how.group && q.how.grpHours > 0:
		step := q.how.grpHours / k.BurnPerDay
		d := q.groupDay()
		if math.IsInf(d, 1) {
			return d, true
		}
		for d <= at+1e-9 {
			d += step
		}
		return d, true
	case h == byPlan && q.how.spotHours > 0:
		d := at + (q.how.spotHours-age)/k.BurnPerDay
		return math.Max(at+1, math.Round(d/snapDays)*snapDays), false
	}
	return math.Inf(1), false
}

// groupDay is the day of the lot's planned group relamp.
func (q *lot) groupDay() float64 {
	for _, k := range q.lamps {
		if k.work != nil && k.work.do == GroupRelamp && !k.work.date.IsZero() {
			return k.work.fromToday
		}
	}
	return math.Inf(1)
}

// fixedDay is the first day after at on which the habit replaces the room: its
// mean age reaches the habit's hours, and every so many hours again.
func (q *lot) fixedDay(at float64) float64 {
	age, burn := 0.0, 0.0
	for _, k := range q.lamps {
		age += k.HoursNow / float64(len(q.lamps))
		burn += k.BurnPerDay / float64(len(q.lamps))
	}
	hours := HabitHours(q.lampType)
	d := math.Max(0, (hours-age)/burn)
	for d <= at+1e-9 {
		d += hours / burn
	}
	return math.Ceil(d)
}

func (t *tally) relamp(k *lampCase, at float64, group bool) {
	cost := k.spot
	if group {
		cost = k.group
	}
	t.pay(k, at, cost)
	t.lamps++
}

func (t *tally) pay(k *lampCase, at, cost float64) {
	t.work += cost
	if key := (visitKeyDay{k.Room, int(at)}); !t.lifted[key] {
		t.lifted[key] = true
		t.work += k.t.visit()
		t.visits++
	}
}

// dark counts days without any light.
func (t *tally) dark(k *lampCase, days float64) { t.lose(k, days*k.BurnPerDay) }

// lose counts hours of full output lost.
func (t *tally) lose(k *lampCase, hours float64) {
	t.light += k.v.perHour * hours
	t.mol += k.v.molHour * hours
}

// fadedOver is the integral of min(1, slope*h) between two ages.
func fadedOver(slope, from, to float64) float64 {
	if slope <= 0 || to <= from {
		return 0
	}
	f := func(h float64) float64 {
		if full := 1 / slope; h > full {
			return full/2 + h - full
		}
		return slope * h * h / 2
	}
	return f(to) - f(from)
}
