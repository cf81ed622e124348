package report

import (
	"fmt"
	"math"
	"strings"

	"wane/cmd/wane/internal/pages/chart"
	"wane/transform/calendar"
	"wane/transform/due"
	"wane/transform/forecast"
	"wane/transform/lamp"
	"wane/transform/survey/surveys"
)

// unlogged says whether the register names no series of light at all: a site
// that lives by surveys.
func (b *book) unlogged() bool {
	if b.in.Result == nil || b.in.Result.Register == nil {
		return false
	}
	return len(b.in.Result.Register.Sensors) == 0
}

// surveysOn lists the surveys of a fixture, the latest first; nil where there is
// none.
func (b *book) surveysOn(id string) *Table {
	if b.in.Surveys == nil {
		return nil
	}
	es := b.in.Surveys.Of(id)
	if len(es) == 0 {
		return nil
	}
	s := surveysBuilder{book: b, s: b.in.Surveys}
	level := map[string]Cell{}
	for _, l := range b.lives[id] {
		for _, p := range b.in.Result.Lab.Points(l) {
			level[p.Survey] = of(Level(p.Level))
		}
	}
	t := &Table{Caption: "Its canopy surveys, the latest first",
		Head: columns("Taken", "Survey", "#Average, µmol/m²/s", "#Min/avg"), Wordy: true}
	if len(level) > 0 {
		t.Head = append(t.Head, columns("#Level, the rig's drift out")...)
	} else {
		t.Head = append(t.Head, columns("#Change since the first, the rig's drift out")...)
		level = s.changesOf(id)
	}
	t.Head = append(t.Head, columns("Off the declared conditions, and corrections")...)
	for i := len(es) - 1; i >= 0; i-- {
		e := es[i]
		row := []Cell{cell(s.when(e.TakenAt)), cell(e.ID)}
		if n, err := b.in.Surveys.Numbers(e); err == nil {
			row = append(row, of(plainValue(n.Average, 0, "")), of(plainValue(n.MinAvg, 2, "")))
		} else {
			row = append(row, cell("not known"), cell("not known"))
		}
		c, ok := level[e.ID]
		if !ok {
			c = cell("not used")
		}
		t.Rows = append(t.Rows, Row{Cells: append(row, c, cell(sentence(offWords(e))))})
	}
	return t
}

// offWords says what of a survey was off, and what was corrected.
func offWords(e *surveys.Entry) string {
	var w []string
	for _, f := range e.Flags {
		w = append(w, f.Words)
	}
	for _, c := range e.Corrections {
		w = append(w, c.Words)
	}
	if len(w) == 0 {
		return "as declared"
	}
	return strings.Join(w, "; ")
}

// changesOf are the changes of a fixture since its first survey, by survey.
func (s *surveysBuilder) changesOf(id string) map[string]Cell {
	out := map[string]Cell{}
	list, _ := s.s.Changes(id) // what cannot be compared is said on the page of surveys
	for _, c := range list {
		out[c.First.ID], out[c.Later.ID] = cell("the first"), of(signed(c.Level))
	}
	return out
}

// surveyPoints are the surveys of a lamp life for its chart: as levels where they
// are what the lamp is known by, else tied to the level as read at the first.
func (b *book) surveyPoints(l *lamp.Life, ws []week) (chart.Points, bool) {
	look := chart.Look{Tone: chart.Purple, Mark: chart.Dot}
	if list := b.in.Result.Lab.Points(l); len(list) > 0 {
		return measured(fmt.Sprintf("canopy surveys, the rig's drift out, %s interval", percentage(b.interval())), look,
			list), true
	}
	if b.in.Surveys == nil || len(ws) == 0 {
		return chart.Points{}, false
	}
	out := chart.Points{Name: "canopy surveys, tied to the level as read at the first (95 % interval of the change)",
		Look: look}
	list, _ := b.in.Surveys.Changes(l.Fixture.ID)
	for _, c := range list {
		first, day := calendar.DayOf(c.First.TakenAt, b.in.location()), calendar.DayOf(c.Later.TakenAt, b.in.location())
		start := levelNear(ws, first)
		if first < l.FirstDay || day > l.LastDay || math.IsNaN(start) {
			continue
		}
		if len(out.List) == 0 {
			out.List = append(out.List, chart.Measured{X: hoursOn(l, first), Y: start, Lo: start, Hi: start})
		}
		out.List = append(out.List, chart.Measured{X: hoursOn(l, day), Y: start * c.Level.Centre, Lo: start * c.Level.Lo,
			Hi: start * c.Level.Hi})
	}
	return out, len(out.List) > 0
}

// levelNear is the level of the week nearest a day, within four weeks of it.
func levelNear(ws []week, day int32) float64 {
	best, level := int32(28), math.NaN()
	for _, w := range ws {
		if d := max(w.First+3-day, day-w.First-3); d < best {
			best, level = d, w.Level
		}
	}
	return level
}

// surveyedData is the numbers behind the chart of a lamp known by surveys.
func surveyedData(b *book, l *lamp.Life, d *due.Lamp, now, reach float64) Table {
	t := Table{Caption: "Numbers of the drawing: the surveys, then the forecast",
		Head: columns("Survey", "#Run-hours, h", "#As surveyed", "#Lamp with its dirt")}
	alone := func(h float64) Cell {
		p := d.Posterior.Band([]float64{h}, d.Interval)[0]
		return Cell{Text: chart.Number(p.Centre, 3), Interval: chart.Number(p.Lo, 3) + " to " + chart.Number(p.Hi, 3)}
	}
	for _, p := range b.in.Result.Lab.Points(l) {
		t.Rows = append(t.Rows, Row{Cells: []Cell{cell(p.Survey), cell(chart.Number(p.Hours, 0)), of(Level(p.Level)),
			alone(max(p.Hours, forecast.Seasoning))}})
	}
	if reach > now {
		t.Rows = append(t.Rows, Row{Heading: "Ahead"})
		for i := 1; i <= 6; i++ {
			h := now + (reach-now)*float64(i)/6
			t.Rows = append(t.Rows, Row{Cells: []Cell{cell("ahead"), cell(chart.Number(h, 0)), cell("not surveyed yet"),
				alone(h)}})
		}
	}
	return t
}
