package plan

import (
	"fmt"
	"math"
	"time"

	"wane/transform/plan/renewal"
)

// recleanDays is the least time between cleanings that a threshold alone asks
// for. A judgement of this program, without a source.
const recleanDays = 180

// cleanFirst marks a lamp that is under its threshold only because of dirt: it
// is cleaned, and measured again, before a lamp is bought for it. Its crossing
// is then that of the cleaned lamp.
func (k *lampCase) cleanFirst(in Input) {
	k.dirty = ""
	if !k.Level.Known() || !k.DirtShare.Known() || k.Level.Centre > k.Threshold ||
		!(in.Settings.limit() || k.unpriced() != "" || math.IsNaN(k.t.cleanRoom+k.t.cleanFixture)) {
		return
	}
	if d, ok := sinceCleaned(in, k.Room); ok && d < recleanDays {
		return
	}
	cleaned := func(share float64) float64 { return 1 - (1-k.Level.Centre)*(1-share*k.t.regain) }
	after := cleaned(k.dirtShare())
	if after <= k.Threshold {
		return
	}
	k.dirty = fmt.Sprintf("at %.0f %%, under its threshold of %.0f %%, but dirt explains %.0f %% of the loss: cleaned it should give %.0f %%. Clean, then measure again before ordering a lamp",
		100*k.Level.Centre, 100*k.Threshold, 100*k.dirtShare(), 100*after)
	if k.DirtShare.Bounded() && cleaned(math.Max(0, k.DirtShare.Lo)) <= k.Threshold {
		k.dirty += ". The share of dirt is uncertain: if the lamp stays under after cleaning, relamp it"
	}
	if len(k.c.nodes) > 0 && k.c.at(0.5) <= k.HoursNow && after < 1 {
		k.c = crossing{nodes: []float64{k.HoursNow * (1 - k.Threshold) / (1 - after)}}
		k.f = newFade(k.c, k.Threshold)
	}
}

// soonDays is within how many days of a cleaning a relamp makes it needless for
// the lamp: a new lamp comes with a wiped fixture.
const soonDays = 30

// needless takes out the cleanings that only lamps under their threshold asked
// for, where all of these are relamped soon anyway.
func needless(acts, cleanActs []*action, rooms map[string][]*lampCase,
	cleans map[string]CleanPlan) (left, cleaning []*action) {
	drop := map[*action]bool{}
	for _, c := range cleanActs {
		if !c.forDirt || c.date.IsZero() {
			continue
		}
		soon := map[*lampCase]bool{}
		for _, a := range acts {
			if a.lamp != nil && a.needsLamp && !a.date.IsZero() && !a.date.After(c.date.AddDate(0, 0, soonDays)) {
				soon[a.lamp] = true
			}
		}
		drop[c] = true
		for _, k := range rooms[c.room] {
			if k.dirty != "" && !soon[k] {
				drop[c] = false
			}
		}
		if drop[c] {
			p := cleans[c.room]
			p.Do = false
			p.Reasons = append(p.Reasons, fmt.Sprintf("those are relamped within %d days, so no round of its own is planned",
				soonDays))
			cleans[c.room] = p
		}
	}
	for _, a := range acts {
		if !drop[a] {
			left = append(left, a)
		}
	}
	for _, a := range cleanActs {
		if !drop[a] {
			cleaning = append(cleaning, a)
		}
	}
	return left, cleaning
}

// sinceCleaned is the days since the room's last cleaning.
func sinceCleaned(in Input, room string) (float64, bool) {
	for _, r := range in.Rooms {
		if r.Name == room && !r.LastCleaned.IsZero() && !r.LastCleaned.After(in.AsOf) {
			return math.Max(1, day(in.AsOf).Sub(day(r.LastCleaned)).Hours()/24), true
		}
	}
	return 0, false
}

// cleanRoom weighs cleaning for one room: the dirt that a cleaning would take
// off builds up as 1-exp(-t/tau), and the cleaning interval is the one of least
// long-run cost (package renewal, in days).
func cleanRoom(in Input, room string, ks []*lampCase, horizon int) (CleanPlan, float64, *action) {
	var dirt, value float64 // mean level lost to dirt; money a day at 100 % loss
	known, first := 0, 0
	for _, k := range ks {
		if k.Level.Known() && k.DirtShare.Known() {
			dirt += math.Max(0, 1-k.Level.Centre) * k.dirtShare()
			known++
		}
		value += k.v.perHour * k.BurnPerDay
		if k.dirty != "" {
			first++
		}
	}
	t := ks[0].t
	c := CleanPlan{Cost: or(t.cleanRoom, 0) + float64(len(ks))*or(t.cleanFixture, 0)}
	say := func(format string, a ...any) { c.Reasons = append(c.Reasons, fmt.Sprintf(format, a...)) }
	if known == 0 {
		say("no share of dirt is known here: cleaning two fixtures and leaving two would settle it")
		return c, 0, nil
	}
	dirt /= float64(known)
	full, since := dirt, math.NaN() // dirt when fully settled; days since the last cleaning
	if d, ok := sinceCleaned(in, room); ok {
		since, full = d, dirt/-math.Expm1(-d/t.dirtDays)
	}
	full = math.Min(full, 0.9)
	act := &action{room: room, do: Clean, cost: c.Cost, lossYear: dirt * t.regain * value * daysPerYear,
		late: float64(horizon)}
	if first > 0 {
		who := fmt.Sprintf("%d fixtures are", first)
		if first == 1 {
			who = "1 fixture is"
		}
		say("%s under the threshold because of dirt: cleaning comes before relamping", who)
		c.Do, act.forDirt = true, true
	}
	switch {
	case math.IsNaN(t.cleanRoom) && math.IsNaN(t.cleanFixture):
		say("no cleaning cost given: cleaning is planned only where dirt brings a lamp under its threshold")
	case value == 0:
		say("light has no value here: cleaning is planned only where dirt brings a lamp under its threshold")
	case c.Cost == 0:
		say("a cleaning that costs nothing has no cost-optimal interval: check clean_per_room and clean_per_fixture")
	default:
		o := renewal.Model{Planned: c.Cost, Max: 3650, Loss: func(d float64) float64 {
			return value * full * t.regain * -math.Expm1(-d/t.dirtDays)
		}}.BestAge()
		if !o.Known {
			say("cleaning does not pay here: a round costs %s and the dirt is back before it has brought back %s",
				in.Settings.money(c.Cost), in.Settings.money(value*full*t.regain*t.dirtDays))
			break
		}
		c.IntervalDays = o.T
		c.GainYear = (value*full*t.regain - o.Rate) * daysPerYear
		next := o.T - or(since, o.T)
		if math.IsNaN(since) {
			say("the day of the last cleaning is not known; the dirt is taken as settled")
			if value*dirt*t.regain < o.Rate {
				next = float64(horizon)
			}
		}
		pays := math.Max(0, next) < float64(horizon)
		if !c.Do {
			act.prefer = math.Max(0, next)
			c.Do = pays
		}
		act.forDirt = act.forDirt && !pays
		say("dirt takes %.1f %% of the light; cleaning every %.0f days costs least and is worth %s a year", 100*dirt, o.T,
			in.Settings.money(c.GainYear))
	}
	if !c.Do {
		return c, dirt, nil
	}
	act.why = c.Reasons[0]
	return c, dirt, act
}

// uneven finds lamps that hold down the room's uniformity below the asked
// lowest/mean, and the room's figures.
func uneven(ks []*lampCase) (mean, uniformity float64, low []*lampCase) {
	lowest, n := math.Inf(1), 0
	for _, k := range ks {
		if k.Level.Known() && k.Status != "dark" {
			mean += k.Level.Centre
			lowest = math.Min(lowest, k.Level.Centre)
			n++
		}
	}
	if n == 0 || mean <= 0 {
		return 0, 0, nil
	}
	mean /= float64(n)
	for _, k := range ks {
		if k.Level.Known() && k.Status != "dark" && k.t.minUniformity > 0 && k.Level.Centre < k.t.minUniformity*mean {
			low = append(low, k)
		}
	}
	return mean, lowest / mean, low
}

// cleanDay settles the lamps that wait for the room's cleaning on day d: the
// cleaning is their decision unless they are relamped by then.
func cleanDay(ks []*lampCase, d time.Time) {
	for _, k := range ks {
		p := &k.plan
		if k.dirty == "" || d.IsZero() || p.Decision == ReplaceGear {
			continue
		}
		if !p.Date.IsZero() && !p.Date.After(d.AddDate(0, 0, soonDays)) {
			continue
		}
		if !p.Date.IsZero() {
			k.because(fmt.Sprintf("relamping is foreseen for %s", p.Date.Format(time.DateOnly)))
		}
		k.plan.Reasons = append([]string{k.dirty}, k.plan.Reasons...)
		p.Decision, p.Date, p.Cost, p.CostMissing = Clean, d, 0, nil
	}
}
