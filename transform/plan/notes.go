package plan

import (
	"fmt"
	"math"
	"sort"
)

// notes says what was left out of the input and what follows from it, most far-reaching first.
func notes(in Input, all []*lampCase, acts []*action, r Result) []string {
	var out []string
	say := func(format string, a ...any) { out = append(out, fmt.Sprintf(format, a...)) }
	if len(all) == 0 {
		say("no lamp could be planned: the list is empty or every lamp has a problem")
		return out
	}
	count := func(f func(*lampCase) bool) int {
		n := 0
		for _, k := range all {
			if f(k) {
				n++
			}
		}
		return n
	}
	of := func(n int) string {
		if n == len(all) {
			return "all lamps"
		}
		return fmt.Sprintf("%d of %d lamps", n, len(all))
	}
	gap := func(f func(*lampCase) bool, format string) {
		if n := count(f); n > 0 {
			say(format, of(n))
		}
	}
	nan := math.IsNaN
	gap(func(k *lampCase) bool { return nan(k.t.lamp) },
		"lamp_price is not given (%s): no cost-optimal interval, the threshold alone says when; costs leave the lamps out")
	gap(func(k *lampCase) bool { return k.t.lamp == 0 },
		"lamp_price is 0 (%s): only labour, disposal and lift speak against changing lamps, so intervals come out short; check it")
	gap(func(k *lampCase) bool { return nan(k.t.cropM2) && nan(k.t.cropMol) && k.v.byEnergy },
		"no crop value is given (%s): light is valued by the electricity that makes it, less than a crop pays for it, so intervals come out long")
	gap(func(k *lampCase) bool { return nan(k.t.cropM2) && nan(k.t.cropMol) && k.v.perHour == 0 },
		"neither crop value nor energy price with measured power is given (%s): light lost has no price, the threshold alone says when, and spot and group cannot be compared")
	gap(func(k *lampCase) bool { return !nan(k.t.cropM2) && nan(k.t.share) && k.v.response == 0 },
		"crop_value_per_m2_year is given without lamp_share (%s): the share of the crop's light that the lamps give is needed to value their light")
	gap(func(k *lampCase) bool {
		return (!nan(k.t.cropM2) || !nan(k.t.cropMol)) && k.v.response == 0 && (k.PPFD == 0 || k.Area == 0)
	}, "PPFD or area of the fixture is not known (%s; area_m2_per_fixture states the area): its light cannot be valued by the crop")
	gap(func(k *lampCase) bool { return k.v.response > 0 && k.t.responseAssumed },
		"neither crop_group nor yield_response is given (%s): 0.5 to 1.0 %% yield per 1 %% light is taken, the range of most crops (Marcelis et al. 2006)")
	gap(func(k *lampCase) bool { return nan(k.t.spotMin) || nan(k.t.wage) },
		"labour_spot_min or wage_per_hour is not given (%s): work costs leave labour out and intervals come out short")
	gap(func(k *lampCase) bool { return nan(k.t.disposal) }, "disposal_per_lamp is not given (%s): costs leave it out")
	gap(func(k *lampCase) bool { return nan(k.t.lift) },
		"lift_per_visit is not given (%s): visits cost nothing by themselves, so spot relamping looks better than it is")
	gap(func(k *lampCase) bool { return k.t.leadLamp == 0 },
		"lead_lamp_days is not given (%s): orders fall on the day of the work")
	gap(func(k *lampCase) bool { return !k.life.known() },
		"no failure law is known (%s): failures are not counted, neither in intervals nor in spares")
	gap(func(k *lampCase) bool { return k.standIn }, "no forecast of their own (%s): where the group is weighed they are taken to fade as others of their type")
	gap(func(k *lampCase) bool { return len(k.f.slopes) == 0 },
		"no forecast, own or of their type (%s): kept until there is one or they go dark")
	gap(func(k *lampCase) bool { return !(k.PowerW > 0) },
		"power is not measured (%s): efficacy and energy per mol are left out")
	gap(func(k *lampCase) bool { return len(k.t.cal.work) == 0 && len(k.t.cal.closed) == 0 },
		"no work windows are given (%s): any day is taken as possible")
	if !in.Settings.limit() && count(func(k *lampCase) bool { return k.unpriced() == "" }) > 0 {
		say("threshold is advice: where cost is known it decides, and lamps may be kept under their threshold or changed before it. Write threshold: limit to hold it")
	}
	if in.Settings.Budget == nil {
		say("no budget is given: spending is not capped")
	}
	return append(out, unfinished(in, all, acts, r)...)
}

// unfinished says what work has no date, comes late or is not paid for.
func unfinished(in Input, all []*lampCase, acts []*action, r Result) []string {
	var out []string
	say := func(format string, a ...any) { out = append(out, fmt.Sprintf(format, a...)) }
	closed := map[string]bool{}
	late := 0
	for _, a := range acts {
		if a.noWindow {
			closed[a.room] = true
		}
		if !a.date.IsZero() && a.date.After(r.Until) {
			late++
		}
	}
	for _, room := range sortedKeys(closed) {
		say("room %s: no open day in the ten years from %s, so its work has no date; the rest is planned. Give a window that opens", room, r.AsOf.Format("2006-01-02"))
	}
	long := map[string]bool{}
	for _, k := range all {
		if lead := math.Max(k.t.leadLamp, k.t.leadGear); lead > float64(in.Settings.horizon()) {
			long[fmt.Sprintf("%s: a lead time of %.0f days is longer than the horizon of %d: what is not in the store arrives after it; order today and lengthen the horizon", k.LampType, lead, in.Settings.horizon())] = true
		}
	}
	out = append(out, sortedKeys(long)...)
	if late > 0 {
		say("%d pieces of work fall after the horizon ends on %s", late, r.Until.Format("2006-01-02"))
	}
	unpaid := 0
	for _, a := range acts {
		if a.noMoney {
			unpaid++
		}
	}
	if unpaid > 0 {
		say("the budget leaves %d pieces of work undone within the horizon", unpaid)
	}
	return out
}

// assumptions prints the declared defaults that were used.
func assumptions(in Input, all []*lampCase) []string {
	out := []string{
		"levels fall along a straight line from 100 % through the threshold at the crossing hour",
		"a replaced lamp fades as the lamps of its type do now",
		"costs are long-run averages without interest or inflation",
		fmt.Sprintf("the plan is made again at least every %.0f days", reviewDays),
	}
	s := in.Settings
	if s.HorizonDays <= 0 {
		out = append(out, fmt.Sprintf("horizon %d days (default)", defaultHorizonDays))
	}
	if s.Risk == nil {
		out = append(out, fmt.Sprintf("risk %.0f %%: a lamp's day is that by which it is under its threshold with this chance (default, common practice)", 100*defaultRisk))
	}
	if s.ServiceLevel == nil {
		out = append(out, fmt.Sprintf("service level %.0f %% for spares (default, common practice)", 100*defaultServiceLevel))
	}
	used := map[string]bool{}
	for _, k := range all {
		if k.t.wait == defaultFailureWait {
			used[fmt.Sprintf("a dark lamp waits %.0f days for its change (default, common practice)", defaultFailureWait)] = true
		}
		if k.DirtShare.Known() && k.t.regain == defaultCleanRegain {
			used[fmt.Sprintf("a cleaning takes off %.0f %% of the dirt (default, assumption)", 100*defaultCleanRegain)] = true
		}
		if k.DirtShare.Known() && k.t.dirtDays == defaultDirtDays {
			used[fmt.Sprintf("dirt builds up as 1-exp(-t/%.0f d) (default, assumption)", defaultDirtDays)] = true
		}
		if k.Due.Hours > 0 && (k.Due.HiHours == 0 || math.IsInf(k.Due.HiHours, 0)) && k.Status == "forecast" {
			used["where the upper end of a crossing hour is open, its spread above the median is taken to be that below it"] = true
		}
	}
	words := make([]string, 0, len(used))
	for w := range used {
		words = append(words, w)
	}
	sort.Strings(words)
	return append(out, words...)
}
