package measures

import (
	"fmt"
	"math"
	"strings"

	"wane/cmd/wane/internal/show"
	"wane/transform/measure"
	"wane/transform/plan"
)

// kinds names measurements for people.
var kinds = map[string]string{plan.Recalibrate: "recalibrate sensor", plan.Reference: "reference meter beside sensor",
	plan.CleanHalf: "clean every other fixture under sensor", plan.Voltage: "voltage logger on circuit",
	plan.Lab: "laboratory, lamp of", plan.Survey: "canopy survey of"}

// Name is a measurement in few words.
func Name(c *measure.Choice) string {
	return fmt.Sprintf("%s %s (%s)", kinds[c.Kind], c.Target, rooms(c.Rooms))
}

func rooms(names []string) string {
	if len(names) == 1 {
		return "room " + names[0]
	}
	return "rooms " + strings.Join(names, ", ")
}

// Cost is what it costs, in words.
func Cost(in *measure.Input, c *measure.Choice) string {
	out := fmt.Sprintf("%.0f min", c.Cost.Minutes)
	if len(c.Cost.Missing) == 0 {
		return out + ", " + in.Settings.InMoney(c.Cost.Money)
	}
	return out + ", not priced (" + strings.Join(c.Cost.Missing, ", ") + ")"
}

// Together sums up what was chosen.
func Together(in *measure.Input, r *measure.Result) string {
	var minutes, money, gain float64
	dates := 0
	for i := range r.Chosen {
		c := &r.Chosen[i]
		minutes, money, gain, dates = minutes+c.Cost.Minutes, money+c.Cost.Money, gain+c.Gain, dates+c.Dated
	}
	out := fmt.Sprintf("Together: %.0f min", minutes)
	if r.Priced {
		out += fmt.Sprintf(", %s, expected to save %s", in.Settings.InMoney(money), in.Settings.InMoney(gain))
	}
	return out + fmt.Sprintf("; %d of %d lamps would have a date.", r.Dated+dates, r.Lamps)
}

// Notes are what must be known of the figures.
func Notes() []string {
	return []string{
		"They are expectations, made before anything is measured: what a reading would leave of each interval hangs " +
			"on the reading's error, not on its value.",
		"Minutes and prices are those under plan: measure in site.yaml; where none stand there they are usual ones " +
			"(common practice, no source).",
		"No reading of an hour meter by hand is among them: run-hours that are off all along shift the hours at which " +
			"a lamp is due and the hours it burns each day alike, and its date hardly.",
		"The savings are of the plan's horizon, on the plan's prices: a lamp replaced too early wastes the rest of " +
			"its life, one replaced too late loses light under the threshold.",
	}
}

// Table lists the chosen measurements, and with all every other by itself.
func Table(in *measure.Input, r *measure.Result, all bool) *show.Table {
	t := &show.Table{Columns: append(append(show.Columns("step", "measurement", "target", "room", "minutes", "cost",
		"lamps_moved", "lamps_dated"),
		show.Column{Name: "width_before_d"}, show.Column{Name: "width_after_d"}, show.Column{Name: "interval_days"},
		show.Column{Name: "saves"}, show.Column{Name: "pays"}),
		show.Column{Name: "with_visit"}, show.Column{Name: "fixtures", Wide: true}, show.Column{Name: "do",
			Wide: true}, show.Column{Name: "why", Wide: true}, show.Column{Name: "caution", Wide: true})}
	add := func(step any, c *measure.Choice) {
		var cost, saves, pays, with any
		if len(c.Cost.Missing) == 0 {
			cost = c.Cost.Money
		}
		if r.Priced {
			saves, pays = c.Gain, c.Pays()
		}
		if !c.With.IsZero() {
			with = show.Date(c.With)
		}
		why := any(nil)
		if step != nil {
			why = c.Why(in.Settings, r.Priced)
		}
		t.Add(step, c.Kind, c.Target, strings.Join(c.Rooms, " "), c.Cost.Minutes, cost, c.Moved, c.Dated, some(c.Before),
			some(c.After), c.Days, saves, pays,
			with, strings.Join(c.Fixtures, " "), c.Do(), why, c.Caution())
	}
	for i := range r.Chosen {
		add(i+1, &r.Chosen[i])
	}
	if all {
		for i := range r.Others {
			add(nil, &r.Others[i])
		}
	}
	return t
}

// some is nothing for a width that none of its lamps has.
func some(x float64) float64 {
	if x == 0 {
		return math.NaN()
	}
	return x
}
