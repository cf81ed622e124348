// Package todo makes the one list of what is to be done at a site: one decision
// a lamp, and actions in the order in which they are to be done. The overview,
// the plan's needs and the exit status read the same list, so that they cannot
// contradict each other.
//
//  1. Decide gives each lamp one Kind from its answer, and what the plan does
//     about it.
//  2. List puts lamps that are alike together, adds orders, questions and silent
//     loggers, and sorts: order, dark, under, due, question, silent, missing.
//
// What is not known is never taken for nothing: a lamp without an answer is
// counted as Missing, apart from those of which nothing need be done.
package todo

import (
	"fmt"
	"slices"
	"sort"
	"strings"
	"time"

	"wane/transform/estimate"
	"wane/transform/forecast"
	"wane/transform/plan"
)

// Kind is what an action is about, in the order in which actions are done.
type Kind int

// The kinds; Nothing is of lamps only.
const (
	Order    Kind = iota // to be ordered within OrderDays
	Dark                 // gives no light
	Under                // under its threshold
	Due                  // expected under it within DueDays
	Question             // a person's word would settle it
	Silent               // its logger brings nothing
	Missing              // no answer yet
	Nothing              // answered for, nothing to do
)

// The horizons, days.
const (
	OrderDays = 14
	DueDays   = 90
)

// Lamp is what is known of one lamp in service.
type Lamp struct {
	Fixture, Room, LampType string
	Status                  forecast.Status
	Rival                   forecast.Rival // what the ageing of an inseparable lamp can't be told from
	Threshold               float64
	Level                   estimate.Estimate
	DueDay                  estimate.Estimate // days since 1970
	Reason                  string            // why there is no answer, or what to know of it
	Settle                  string            // what would settle an inseparable lamp
	Sensor                  string            // that watched it last
	Silent                  int               // days for which that sensor brought nothing; 0 = it brings readings
	Plan                    *plan.LampPlan    // nil where no plan was made
}

// Kind is the one kind of the lamp. asOf is the last day of the record.
func (l *Lamp) Kind(asOf int32) Kind {
	switch l.Status {
	case forecast.StatusDark:
		return Dark
	case forecast.StatusUnder:
		return Under
	case forecast.StatusForecast:
		if l.DueDay.Known() && l.DueDay.Centre <= float64(asOf)+DueDays {
			return Due
		}
		return Nothing
	case forecast.StatusBeyond:
		return Nothing
	case forecast.StatusInseparable:
		return Question
	}
	return Missing
}

// Decision is what is done about one lamp.
type Decision struct {
	Kind Kind
	Do   plan.Decision // empty where no plan was made
	On   time.Time     // zero where there is no day
	Why  string        // the plan's first reason
}

// Decide gives the lamp its one decision.
func (l *Lamp) Decide(asOf int32) Decision {
	d := Decision{Kind: l.Kind(asOf)}
	if l.Plan != nil {
		d.Do, d.On = l.Plan.Decision, l.Plan.Date
		if len(l.Plan.Reasons) > 0 {
			d.Why = l.Plan.Reasons[0]
		}
	}
	return d
}

// Asked is a question that only a person can answer.
type Asked struct {
	Fixtures []string
	What, Do string
}

// Input is what the list is made of.
type Input struct {
	AsOf      int32 // last day of the record, days since 1970
	Lamps     []Lamp
	Orders    []plan.Order
	Today     time.Time // the plan's day; orders due by OrderDays after it are listed
	Questions []Asked
}

// Action is one line of the list.
type Action struct {
	Kind     Kind
	Room     string
	Fixtures []string // sorted by urgency
	Decision Decision // of all its lamps
	Order    *plan.Order
	Lamps    []*Lamp
	Sensor   string // of a silent logger, or of a question
	Days     int    // for which it has been silent
	What, Do string // of a question: what it is, and what to do
	// WaitYear is what waiting costs, money a year, as far as it is known.
	WaitYear  float64
	WaitKnown bool
}

// List gives the actions, in order. Every lamp whose kind is neither Nothing
// nor Missing is in exactly one action of its kind; one that is Missing is in
// one action unless its logger is silent, which says why.
func List(in Input) []Action {
	var out []Action
	for i := range in.Orders {
		if o := &in.Orders[i]; o.Quantity > 0 && !o.OrderBy.After(in.Today.AddDate(0, 0, OrderDays)) {
			out = append(out, Action{Kind: Order, Order: o})
		}
	}
	at := map[string]int{}
	into := func(key string, a Action, l *Lamp) {
		n, ok := at[key]
		if !ok {
			n = len(out)
			at[key] = n
			out = append(out, a)
		}
		x := &out[n]
		x.Lamps, x.Fixtures = append(x.Lamps, l), append(x.Fixtures, l.Fixture)
		if l.Plan != nil && l.Plan.LossPerYear.Known() {
			x.WaitYear, x.WaitKnown = x.WaitYear+l.Plan.LossPerYear.Centre, true
		}
	}
	for _, l := range byUrgency(in.Lamps) {
		d := l.Decide(in.AsOf)
		switch d.Kind {
		case Dark, Under, Due:
			into(fmt.Sprintf("%d %q %q %s", d.Kind, l.Room, d.Do, d.On.Format(time.DateOnly)),
				Action{Kind: d.Kind, Room: l.Room, Decision: d}, l)
		case Question:
			key := "q " + l.Sensor
			if l.Sensor == "" || l.Rival == forecast.RivalStep { // which a measurement does not settle
				key = "q: " + l.Settle
			}
			into(key, Action{Kind: Question, Decision: d, Sensor: l.Sensor}, l)
		case Missing:
			if l.Silent == 0 {
				into("m "+string(l.Status)+l.Reason, Action{Kind: Missing, Decision: d, What: l.Reason}, l)
			}
		}
		if l.Silent > 0 {
			into("s "+l.Sensor, Action{Kind: Silent, Sensor: l.Sensor}, l)
			out[at["s "+l.Sensor]].Days = max(out[at["s "+l.Sensor]].Days, l.Silent)
		}
	}
	for i := range out {
		if out[i].Kind == Question {
			out[i].settle()
		}
	}
	for _, q := range in.Questions {
		out = append(out, Action{Kind: Question, Fixtures: q.Fixtures, What: q.What, Do: q.Do})
	}
	sort.SliceStable(out, func(i, j int) bool { return before(&out[i], &out[j]) })
	return out
}

// settle words the question that the lamps under a sensor ask: what their ageing cannot be
// told from, the step that most of them name, and whom another would serve better.
func (a *Action) settle() {
	by := map[string][]string{}
	var steps []string
	for _, l := range a.Lamps {
		if by[l.Settle] == nil {
			steps = append(steps, l.Settle)
		}
		by[l.Settle] = append(by[l.Settle], l.Fixture)
	}
	sort.SliceStable(steps, func(i, j int) bool { return len(by[steps[i]]) > len(by[steps[j]]) })
	a.Do, a.What = steps[0], "ageing cannot be told from "+rivals(a.Lamps)
	for _, s := range steps[1:] {
		if s != "" {
			a.What += fmt.Sprintf("; for %s rather: %s", strings.Join(by[s], ", "), s)
		}
	}
}

// Rivals names what the ageing of the inseparable lamps cannot be told from.
func Rivals(in Input) string { return rivals(byUrgency(in.Lamps)) }

func rivals(lamps []*Lamp) string {
	var out []string
	for _, l := range lamps {
		if r := string(l.Rival); l.Status == forecast.StatusInseparable && !slices.Contains(out, r) {
			out = append(out, r)
		}
	}
	return strings.Join(out, " or from ")
}

// before orders actions: by kind, then by day, work with a day first, then what
// costs most.
func before(a, b *Action) bool {
	if a.Kind != b.Kind {
		return a.Kind < b.Kind
	}
	if a.Order != nil && b.Order != nil {
		return a.Order.OrderBy.Before(b.Order.OrderBy)
	}
	x, y := a.Decision.On, b.Decision.On
	if !x.Equal(y) {
		return y.IsZero() || !x.IsZero() && x.Before(y)
	}
	return a.WaitYear > b.WaitYear
}

// byUrgency sorts lamps: the lowest against its threshold first, those without
// a level by their date, then by name.
func byUrgency(lamps []Lamp) []*Lamp {
	out := make([]*Lamp, len(lamps))
	for i := range lamps {
		out[i] = &lamps[i]
	}
	margin := func(l *Lamp) float64 {
		if l.Level.Known() && l.Threshold > 0 {
			return l.Level.Centre - l.Threshold
		}
		return 1
	}
	sort.SliceStable(out, func(i, j int) bool {
		if x, y := margin(out[i]), margin(out[j]); x != y {
			return x < y
		}
		return out[i].Fixture < out[j].Fixture
	})
	return out
}

// Count is how many lamps are of each kind.
func Count(in Input) (by [Nothing + 1]int) {
	for i := range in.Lamps {
		by[in.Lamps[i].Kind(in.AsOf)]++
	}
	return by
}
