package yearly

import (
	"fmt"
	"math"
	"sort"

	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/survival/future"
)

// daysAhead is how far the outlook reaches.
const daysAhead = 365

// service is the chance with which the spares are to cover the year.
const service = 0.95

// Outlook is what the next year asks of one lamp type.
type Outlook struct {
	LampType  string `json:"lamp_type"`
	InService int    `json:"lamps_in_service"`
	Under     int    `json:"already_under"`
	Dark      int    `json:"dark_now"`
	Crossings Value  `json:"crossings"`
	Failures  Value  `json:"failures"`
	Spares    int    `json:"spares_for_failures"`
	Achieved  Number `json:"chance_that_spares_suffice"`
	Lamps     Value  `json:"lamps_to_replace"` // under and dark now, crossings and failures
	Mercury   bool   `json:"holds_mercury"`    // to be disposed of as such
	Labour    Value  `json:"labour_hours"`
	Cost      Value  `json:"cost"`
	Currency  string `json:"currency,omitempty"`
}

// outlook foretells the coming year from the lamps in service.
func (in *Input) outlook(ws []watched, groups []Group) []Outlook {
	by := map[string]*Outlook{}
	get := func(t string) *Outlook {
		if by[t] == nil {
			by[t] = &Outlook{LampType: t, Mercury: fleet.LampType(t).Discharge()}
		}
		return by[t]
	}
	ages, ahead := map[string][]float64{}, map[string][]float64{}
	inService := map[lifeKey]string{}
	for i := range ws {
		w := &ws[i]
		t := string(w.LampType)
		switch {
		case w.Left == 0:
			get(t).InService++
			inService[lifeKey{w.Fixture, w.N}] = t
			ages[t] = append(ages[t], w.Exit)
			ahead[t] = append(ahead[t], daysAhead*max(0, w.HoursPerDay))
		case w.Ended == fleet.Fail && w.stillHangs(in.AsOf):
			get(t).Dark++
		}
	}
	chances := map[string][]float64{}
	for i := range in.Now {
		f := &in.Now[i]
		t, ok := inService[lifeKey{f.Fixture, f.Life}]
		switch {
		case !ok:
		case f.Status == "under":
			get(t).Under++
		case estimate.Finite(f.YearChance):
			chances[t] = append(chances[t], f.YearChance)
		}
	}
	var out []Outlook
	for _, t := range types(by) {
		o := by[t]
		o.Crossings = in.expected(chances[t])
		if len(chances[t]) == 0 {
			o.Crossings = none("sum of the lamps' chances", "no lamp of this type has a forecast, or all are under already")
		}
		in.failures(o, typeGroup(groups, t), ages[t], ahead[t])
		in.work(o)
		out = append(out, *o)
	}
	return out
}

// stillHangs says whether a lamp that failed had not been replaced by the day.
func (l *Life) stillHangs(asOf int32) bool { return l.Left+l.Dark > asOf }

func typeGroup(groups []Group, t string) *Group {
	for i := range groups {
		if groups[i].By == "lamp type" && groups[i].Name == t {
			return &groups[i]
		}
	}
	return nil
}

// failures takes the fitted Weibull where enough failures bear it, else a
// constant rate.
func (in *Input) failures(o *Outlook, g *Group, ages, ahead []float64) {
	const method = "failures to come"
	if g == nil || len(ages) == 0 {
		o.Failures, o.Achieved = none(method, "no lamp of this type in service"), Number(nan)
		return
	}
	var c future.Counts
	var err error
	if g.NoFit == "" && g.Failures-g.OnArrival >= fewFailures {
		c, err = future.Weibull(g.Fit, ages, ahead)
	}
	if err == nil && len(c.P) == 0 {
		total := 0.0
		for _, h := range ahead {
			total += h
		}
		c, err = future.Events(g.Failures, g.UnitHours, total)
		c.Warnings = append(c.Warnings, fmt.Sprintf("%d failures: too few for ageing, a constant rate is assumed",
			g.Failures))
	}
	if err != nil {
		o.Failures, o.Achieved = none(method, err.Error()), Number(nan)
		return
	}
	o.Failures = Value{c.Interval(in.Interval)}
	if stock, achieved, err := c.Spares(service); err == nil {
		o.Spares, o.Achieved = stock, Number(achieved)
	} else {
		o.Achieved = Number(nan)
	}
}

// work adds up what is to be replaced, and what that takes where the site has
// stated it.
func (in *Input) work(o *Outlook) {
	e := estimate.Estimate{Level: in.Interval, N: o.InService,
		Method: "under and dark now, crossings and failures to come",
		Warnings: []string{"the ends of both intervals are added: wide",
			"a lamp that fails before it crosses is counted twice"}}
	base := float64(o.Under + o.Dark)
	e.Centre, e.Lo, e.Hi = base, base, base
	for _, v := range []Value{o.Crossings, o.Failures} {
		if v.Known() {
			e.Centre, e.Lo, e.Hi = e.Centre+v.Centre, e.Lo+v.Lo, e.Hi+v.Hi
		}
	}
	most := float64(o.InService + o.Dark)
	e.Hi = math.Max(e.Centre, math.Min(e.Hi, math.Max(most, e.Centre)))
	o.Lamps = Value{e}
	p, ok := in.Prices[fleet.LampType(o.LampType)]
	o.Labour, o.Cost = none("minutes a lamp", "the site states no labour minutes for this lamp type"),
		none("prices of site.yaml", "the site states no lamp price for this lamp type")
	if !ok {
		return
	}
	o.Currency = p.Currency
	if estimate.Finite(p.Minutes) {
		o.Labour = Value{e.Scale(p.Minutes / 60)}
	}
	if estimate.Finite(p.Lamp) {
		each := p.Lamp
		if estimate.Finite(p.Disposal) {
			each += p.Disposal
		}
		if estimate.Finite(p.Minutes) && estimate.Finite(p.Wage) {
			each += p.Minutes / 60 * p.Wage
		}
		o.Cost = Value{e.Scale(each)}
		if !estimate.Finite(p.Wage) || !estimate.Finite(p.Minutes) {
			o.Cost.Estimate = o.Cost.Warn("without labour: the site does not state it")
		}
	}
}

// Trend is one calendar year of the record.
type Trend struct {
	Year     int    `json:"year"`
	Days     int    `json:"days"` // of the record in it
	Hours    Number `json:"lamp_hours"`
	Failures int    `json:"failures"`
	Rate     Value  `json:"failures_per_1e6_hours"`
	Faded    int    `json:"faded"`
	Relamped int    `json:"relamped"`
}

// trend gives every calendar year of the record up to this one. dayOf gives
// the first day of a year.
func (in *Input) trend(ws []watched, yearOf func(int32) int, dayOf func(int) int32) []Trend {
	if in.Record.Empty() {
		return nil
	}
	first := yearOf(in.Record.First)
	var out []Trend
	for y := first; y <= in.Year; y++ {
		span := Span{max(dayOf(y), in.Record.First), min(dayOf(y+1)-1, in.AsOf)}
		t := Trend{Year: y, Days: span.Days()}
		for i := range ws {
			w := &ws[i]
			t.Hours += Number(w.hoursIn(y))
			t.Failures += one(w.failed() && span.holds(w.Left))
			t.Faded += one(w.hasFade && span.holds(w.faded.Day()))
			t.Relamped += one(w.N > 1 && span.holds(w.Start))
		}
		t.Rate = in.rate(t.Failures, float64(t.Hours))
		out = append(out, t)
	}
	return out
}

// Mode is the failures of one kind.
type Mode struct {
	Name     string `json:"mode"`
	InYear   int    `json:"in_year"`
	InRecord int    `json:"in_record"`
	DarkDays int    `json:"dark_days_in_year"`
	LostMol  Number `json:"lost_mol_m2_in_year"` // mol/m2 under the fixtures, at their usual hours and output
	Cost     Number `json:"cost_in_year"`
	Count    Value  `json:"expected_a_year"`
}

// modes sorts the failures of lamps and gear by kind, the most first.
func (in *Input) modes(ws []watched) []Mode {
	by := map[string]*Mode{}
	get := func(n string) *Mode {
		if by[n] == nil {
			by[n] = &Mode{Name: n}
		}
		return by[n]
	}
	year := Span{in.First, min(in.Last, in.AsOf)}
	output := map[string]float64{}
	for i := range in.Fixtures {
		output[in.Fixtures[i].ID] = in.Fixtures[i].Output
	}
	for i := range ws {
		w := &ws[i]
		if !w.failed() {
			continue
		}
		name := "lamp: " + w.Mode
		if w.Mode == "" {
			name = "lamp: kind not written down"
		}
		m := get(name)
		m.InRecord++
		if year.holds(w.Left) {
			m.InYear++
			if p, ok := in.Prices[w.LampType]; ok {
				m.Cost += Number(p.Lamp)
			} else {
				m.Cost = Number(nan)
			}
		}
		m.DarkDays += int(w.DarkInYear)
		light := output[w.Fixture]
		if !estimate.Finite(light) {
			light = w.Baseline
		}
		if w.DarkInYear > 0 {
			m.LostMol += Number(light * w.HoursPerDay * 3600 * float64(w.DarkInYear) / 1e6)
		}
	}
	for _, g := range in.Gear {
		m := get("gear: ballast or driver replaced")
		m.InRecord++
		m.InYear += one(year.holds(g.Day))
		m.Cost = Number(nan)
	}
	out := make([]Mode, 0, len(by))
	for _, m := range by {
		out = append(out, *m)
	}
	sort.Slice(out, func(i, j int) bool {
		a, b := out[i], out[j]
		if a.InYear != b.InYear {
			return a.InYear > b.InYear
		}
		if a.InRecord != b.InRecord {
			return a.InRecord > b.InRecord
		}
		return a.Name < b.Name
	})
	span := Span{in.Record.First, in.AsOf}
	for i := range out {
		out[i].Count = none("chi-square", "no day of record")
		if d := span.Days(); d > 0 && !in.Record.Empty() {
			out[i].Count = in.rate(out[i].InRecord, float64(d))
			out[i].Count.Estimate = out[i].Count.Scale(365.25 / 1e6)
			out[i].Count.Method = "chi-square, failures of the record per year"
		}
	}
	return out
}
