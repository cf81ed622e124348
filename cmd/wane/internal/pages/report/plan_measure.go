package report

import (
	"fmt"
	"slices"
	"strings"

	"wane/cmd/wane/internal/measures"
	"wane/cmd/wane/internal/pages/chart"
	"wane/transform/measure"
	"wane/transform/todo"
)

// toMeasure is the section that says what to measure next.
type toMeasure struct {
	Lead string
	Next Table
}

// howToMeasure leads from the front page to how a measurement is made, and what to
// take care of.
var howToMeasure = Cell{Text: "How, and with what caution", Link: "plan.html#measure"}

// toMeasure adds the measurements that would help to the front page's lines. One of a
// sensor whose lamps ask a question already stands with it.
func (b *book) toMeasure(out []weekLine, list []todo.Action) []weekLine {
	if b.in.Measure == nil {
		return out
	}
	for i := range b.in.Measure.Chosen {
		c := &b.in.Measure.Chosen[i]
		if slices.ContainsFunc(list, func(a todo.Action) bool { return a.Kind == todo.Question && b.measureOf(&a) == c }) {
			continue
		}
		l := weekLine{Sign: "△", Head: "Would help to measure", Do: sentence(c.Settle()), Why: b.worthWords(c),
			How: howToMeasure}
		for _, e := range c.Lamps[:min(len(c.Lamps), mostNames)] {
			l.Who = append(l.Who, Cell{Text: e.Fixture, Link: b.links[e.Fixture]})
		}
		l.More = len(c.Lamps) - len(l.Who)
		out = append(out, l)
	}
	return out
}

// measureOf finds the chosen measurement of a question's sensor, which answers it: it
// is weighed for all of the site.
func (b *book) measureOf(a *todo.Action) *measure.Choice {
	if b.in.Measure == nil || a.Sensor == "" {
		return nil
	}
	for i := range b.in.Measure.Chosen {
		if c := &b.in.Measure.Chosen[i]; c.Target == a.Sensor {
			return c
		}
	}
	return nil
}

// worthWords say what a measurement takes and brings.
func (b *book) worthWords(c *measure.Choice) string {
	return sentence(spoken(fmt.Sprintf("%s minutes: %s", chart.Number(c.Cost.Minutes, 0),
		c.Why(b.in.Config.Plan, b.in.Measure.Priced))))
}

// whatToMeasure builds the section; nil where nothing was weighed.
func (p planBook) whatToMeasure() *toMeasure {
	got := p.in.Measure
	if got == nil || got.Lamps == 0 {
		return nil
	}
	s := p.in.Config.Plan
	out := toMeasure{Lead: fmt.Sprintf("%d of %s that a logger reads have a date. What would sharpen the dates most "+
		"for its cost, each weighed with those before it made.", got.Dated, count(got.Lamps, "lamp", "lamps"))}
	if !got.Priced {
		out.Lead += fmt.Sprintf(" Ranked by minutes of work, since prices are missing (%s).",
			strings.Join(got.Missing, ", "))
	}
	out.Next = Table{Caption: "What to measure next", Head: columns("Measure", "#Minutes", "What it brings", "Do"),
		Empty: "Nothing that could be measured is worth its cost now.", Wordy: true}
	for i := range got.Chosen {
		c := &got.Chosen[i]
		minutes := cell(chart.Number(c.Cost.Minutes, 0))
		if len(c.Cost.Missing) == 0 {
			minutes.Note = p.priced(c.Cost.Money)
		}
		do := cell(sentence(c.Do()))
		do.Note = "Caution: " + sentence(c.Caution())
		name := strings.TrimSuffix(sentence(measures.Name(c)), ".")
		out.Next.Rows = append(out.Next.Rows, Row{Cells: []Cell{cell(name), minutes,
			cell(sentence(spoken(c.Why(s, got.Priced)))), do}})
	}
	return &out
}
