package plan

import (
	"fmt"
	"math"
	"reflect"
	"sort"
	"strings"
)

// Validate lists every fault of the settings, in the order of the file: scopes
// site, lamp types, rooms. It changes nothing. Make leaves out a faulty value
// as if it had not been given.
func (s Settings) Validate() []Problem {
	var p problems
	if s.HorizonDays < 0 {
		p.add("horizon_days", fmt.Sprintf("%d days is not a span ahead", s.HorizonDays),
			"give a positive number of days, or leave it out for 1,095")
	}
	s.Site.validate(&p, "site")
	for _, k := range sortedKeys(s.LampTypes) {
		s.LampTypes[k].validate(&p, "lamp_types["+k+"]")
	}
	for _, k := range sortedKeys(s.Rooms) {
		s.Rooms[k].validate(&p, "rooms["+k+"]")
	}
	for _, k := range sortedKeys(s.Stock) {
		for _, x := range []struct {
			name string
			n    int
		}{{"lamps", s.Stock[k].Lamps}, {"gear", s.Stock[k].Gear}} {
			if x.n < 0 {
				p.add("stock["+k+"]."+x.name, fmt.Sprintf("stock of %d is negative", x.n),
					"count the store again; the plan takes 0 meanwhile")
			}
		}
	}
	if b := s.Budget; b != nil {
		if !(b.Cap >= 0) || math.IsInf(b.Cap, 0) {
			p.add("budget.cap", fmt.Sprintf("a cap of %g is no amount of money", b.Cap),
				"give an amount of 0 or more, or leave the budget out")
		}
		if b.Period != "month" && b.Period != "quarter" && b.Period != "year" {
			p.add("budget.period", fmt.Sprintf("period %q is not known", b.Period),
				"write month, quarter or year; the plan is made without a budget meanwhile")
		}
	}
	for _, x := range []struct {
		name string
		v    *float64
	}{{"service_level", s.ServiceLevel}, {"risk", s.Risk}} {
		if x.v != nil && !(*x.v > 0 && *x.v < 1) {
			p.add(x.name, fmt.Sprintf("%g is no chance between 0 and 1", *x.v), "write e.g. 0.95 for 95 %")
		}
	}
	s.validateMeasure(&p)
	if s.Threshold != "" && s.Threshold != "limit" && s.Threshold != "advice" {
		p.add("threshold", fmt.Sprintf("%q is not known", s.Threshold),
			`write "advice" (cost decides where it is known, the threshold where it is not) or "limit" (never later than the threshold); advice is taken meanwhile`)
	}
	return p
}

func (t Terms) validate(p *problems, path string) {
	v, typ := reflect.ValueOf(t), reflect.TypeOf(t)
	for i := 0; i < v.NumField(); i++ {
		name, _, _ := strings.Cut(typ.Field(i).Tag.Get("yaml"), ",")
		at := path + "." + name
		f, ok := v.Field(i).Interface().(*float64)
		if !ok || f == nil {
			continue
		}
		x := *f
		switch {
		case math.IsNaN(x) || math.IsInf(x, 0):
			p.add(at, fmt.Sprintf("%g is no number to reckon with", x), "give a plain number")
		case x < 0:
			p.add(at, fmt.Sprintf("%g is negative", x), "give 0 or more; it counts as not given meanwhile")
		case x > 1 && oneOf(name, "lamp_share", "min_uniformity", "clean_regain"):
			p.add(at, fmt.Sprintf("%g is no share", x), "write a share between 0 and 1, e.g. 0.4 for 40 %")
		case x == 0 && oneOf(name, "lamp_price", "gear_price"):
			p.add(at, "a price of 0", "leave it out if it is unknown; if the item is free the plan weighs labour alone")
		case x == 0 && name == "dirt_time_constant_days":
			p.add(at, "dirt that builds up in no time", "give the days in which about two thirds of it have settled, e.g. 220")
		}
	}
	if r := t.YieldResponse; r != nil && (!(r.Min >= 0) || !(r.Max >= r.Min) || math.IsInf(r.Max, 0)) {
		p.add(path+".yield_response", fmt.Sprintf("range %g to %g is not one", r.Min, r.Max),
			"give min and max in % yield per 1 % light, min first, e.g. 0.7 and 1.0")
	}
	if _, ok := cropGroups[t.CropGroup]; t.CropGroup != "" && !ok {
		p.add(path+".crop_group", fmt.Sprintf("crop group %q is not known", t.CropGroup),
			"write one of: "+strings.Join(CropGroups(), "; ")+"; or give yield_response")
	}
	for _, set := range []struct {
		name string
		w    []Window
	}{{"work", t.Work}, {"closed", t.Closed}} {
		for i, w := range set.w {
			if _, err := w.parse(); err != nil {
				p.add(fmt.Sprintf("%s.%s[%d]", path, set.name, i), err.Error(), "mend the window; it is left out meanwhile")
			}
		}
	}
}

// Validate lists the faults of the settings and of each lamp. Make plans the
// lamps that have none.
func (in Input) Validate() []Problem {
	p := problems(in.Settings.Validate())
	if in.AsOf.IsZero() {
		p.add("as_of", "the day of the plan is not given", "pass the day for which the due table was made")
	}
	seen := map[string]bool{}
	for i, l := range in.Lamps {
		at := fmt.Sprintf("lamps[%d]", i)
		if l.Fixture != "" {
			at = "lamps[" + l.Fixture + "]"
		}
		n := len(p)
		l.validate(&p, at)
		if len(p) == n && seen[l.Fixture] {
			p.add(at, "the fixture is listed twice", "give each fixture's lamp now in service once")
		}
		seen[l.Fixture] = true
	}
	return p
}

func (l Lamp) validate(p *problems, at string) {
	number := func(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
	switch {
	case l.Fixture == "":
		p.add(at+".fixture", "the lamp has no fixture", "name it as in register/fixtures.csv")
	case !(l.HoursNow >= 0) || !number(l.HoursNow):
		p.add(at+".hours_now", fmt.Sprintf("run-hours %g", l.HoursNow), "give run-hours of 0 or more")
	case !(l.BurnPerDay > 0) || l.BurnPerDay > 24:
		p.add(at+".burn_per_day", fmt.Sprintf("%g burning hours a day", l.BurnPerDay),
			"give the mean burning hours a day to come, above 0 and at most 24; without them no hour becomes a date")
	case !(l.Threshold > 0 && l.Threshold < 1):
		p.add(at+".threshold", fmt.Sprintf("threshold %g is no level between 0 and 1", l.Threshold),
			"write e.g. 0.9 for 90 %; an absolute PPFD is turned into a level before it comes here")
	case !(l.PPFD >= 0) || !(l.Area >= 0) || !(l.PowerW >= 0) || !(l.RatedW >= 0) ||
		!number(l.PPFD+l.Area+l.PowerW+l.RatedW):
		p.add(at, "PPFD, area or power is negative or no number", "give 0 where it is unknown")
	case l.Hazard.Beta < 0 || !number(l.Hazard.Beta):
		p.add(at+".hazard.beta", fmt.Sprintf("shape %g", l.Hazard.Beta),
			"give a positive Weibull shape, or 0 where it is unknown")
	}
	for i, q := range l.Due.Quantiles {
		if !(q.P > 0 && q.P < 1) || !(q.Hours > 0) || !number(q.Hours) ||
			(i > 0 && (q.P <= l.Due.Quantiles[i-1].P || q.Hours < l.Due.Quantiles[i-1].Hours)) {
			p.add(fmt.Sprintf("%s.due.quantiles[%d]", at, i), fmt.Sprintf("quantile %g at %g h is out of order", q.P, q.Hours),
				"give rising chances between 0 and 1 with rising hours")
			break
		}
	}
	d := l.Due
	if d.Hours < 0 || d.LoHours < 0 || d.HiHours < 0 || math.IsNaN(d.Hours+d.LoHours+d.HiHours) ||
		(d.Hours > 0 && (d.LoHours > d.Hours || (d.HiHours > 0 && d.HiHours < d.Hours))) {
		p.add(at+".due", fmt.Sprintf("crossing hour %g with interval %g to %g", d.Hours, d.LoHours, d.HiHours),
			"give low end, median and high end in rising order; 0 where unknown or open")
	}
}

// problems collects faults in order.
type problems []Problem

func (p *problems) add(path, what, remedy string) {
	*p = append(*p, Problem{Path: path, What: what, Remedy: remedy})
}

func oneOf(s string, names ...string) bool {
	for _, n := range names {
		if s == n {
			return true
		}
	}
	return false
}

func sortedKeys[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	return keys
}
