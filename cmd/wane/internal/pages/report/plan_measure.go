package report

import (
	"fmt"
	"strings"

	"wane/cmd/wane/internal/measures"
	"wane/cmd/wane/internal/pages/chart"
)

// toMeasure is the section that says what to measure next.
type toMeasure struct {
	Lead string
	Next Table
}

// toMeasure builds it; nil where nothing was weighed.
func (p planBook) toMeasure() *toMeasure {
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
