package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"wane/cmd/wane/internal/pages/chart"
	"wane/transform/calendar"
	"wane/transform/due"
	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/lamp"
	"wane/transform/level"
)

// declineFigure draws the present lamp: readings, what the lamp alone does,
// where it goes, and what happened.
func declineFigure(b *book, l *lamp.Life, d *due.Lamp) (*Figure, []string) {
	ws := weeks(l)
	now := l.HoursNow()
	reach := now + 500
	desc := fmt.Sprintf("Level against run-hours of lamp life %d, %s of readings.", l.N, count(len(ws), "week", "weeks"))
	if d != nil && d.Surveyed() {
		desc = fmt.Sprintf("Level against run-hours of lamp life %d, %s.", l.N,
			count(d.Posterior.Bins, "canopy survey", "canopy surveys"))
	}
	var post *forecast.Posterior
	var layers []chart.Layer
	if d != nil && d.Posterior != nil {
		post = d.Posterior
		reach = reachOf(d, now)
		bands, says := modelLayers(b, d, now, reach)
		layers, desc = append(layers, bands...), desc+says
	}
	if len(ws) == 0 && post == nil {
		return nil, nil
	}
	layers = append(layers, readLayers(b, l, ws)...)
	if d != nil {
		marks, says := dueLayers(d)
		layers, desc = append(layers, marks...), desc+says
	}
	if flags := flagsOf(b, l); len(flags) > 0 {
		layers = append(layers, chart.Flags{Name: "logged events: the letters are explained in the table of events", List: flags})
	}
	moment := "now"
	if d == nil {
		moment = "end"
	}
	layers = append(layers, chart.Moment{Name: moment, At: now, Look: chart.Look{Tone: chart.Ink}},
		endsOf(ws, post, d, now, reach))
	from := max(0, startOf(ws, post, now))
	if b.brief { // the caption and the numbers say it
		desc = ""
	}
	x := chart.XY{Title: declineTitle(l, d), Desc: desc, Slim: b.brief,
		X:      chart.Axis{Label: "run-hours of this lamp, h", Min: from, Max: reach + 0.8*chart.NameRoom*(reach-from)},
		Y:      chart.Axis{Label: "level (1.00 = after seasoning)", Places: 2},
		Layers: layers}
	data := declineData(b, ws, post, d, now, reach)
	if d != nil && d.Surveyed() {
		data = surveyedData(b, l, d, now, reach)
	}
	fig := figure("decline", fmt.Sprintf("%s. Lamp life %d against its run-hours.", declineTitle(l, d), l.N), x, data)
	if b.brief {
		fig.Keys = nil
		fig.Caption += fmt.Sprintf(" Band: the lamp alone, with its %s interval; dots: as read, with the dirt; "+
			"broken line: the threshold; diamond: due, with its interval; letters: events.", percentage(b.interval()))
	}
	return fig, chartNotes(l, post, d, ws, b.brief)
}

// modelLayers are what the fit says of a lamp up to now and on to reach, run-hours, and
// the sentence that says it to those who see no drawing.
func modelLayers(b *book, d *due.Lamp, now, reach float64) (out []chart.Layer, says string) {
	var band []chart.Span
	var centre, ahead []chart.Point
	for _, p := range d.Posterior.Band(grid(d.Posterior.FirstHours, now, b.smooth()), d.Interval) {
		band = append(band, chart.Span{X: p.Hours, Lo: p.Lo, Hi: p.Hi})
		centre = append(centre, chart.Point{X: p.Hours, Y: p.Centre})
	}
	if reach > now {
		pieces := max(2, int(math.Ceil(float64(b.smooth())*(reach-now)/(reach-d.Posterior.FirstHours))))
		for _, p := range d.Posterior.Band(grid(now, reach, pieces), d.Interval) {
			band = append(band, chart.Span{X: p.Hours, Lo: p.Lo, Hi: p.Hi})
			ahead = append(ahead, chart.Point{X: p.Hours, Y: p.Centre})
		}
	}
	what := "the lamp alone"
	if d.Surveyed() {
		what = "the lamp with its dirt"
	}
	out = append(out,
		chart.Band{Name: what + ", " + percentage(d.Interval) + " interval", Tone: chart.Blue, Spans: band},
		chart.Series{Name: what + ", most likely", Look: chart.Look{Tone: chart.Blue, Dash: chart.Solid}, Points: centre})
	if d.Answer.Status == forecast.StatusForecast || d.Answer.Status == forecast.StatusUnder {
		out = append(out, chart.Series{Name: "forecast", Look: chart.Look{Tone: chart.Blue, Dash: chart.Dashed},
			Points: ahead})
	}
	return out, fmt.Sprintf(" %s is at %s now.", strings.ToUpper(what[:1])+what[1:], Level(d.Answer.Level))
}

// readLayers are what was read: weekly medians, and canopy surveys.
func readLayers(b *book, l *lamp.Life, ws []week) (out []chart.Layer) {
	if len(ws) > 0 && !b.brief {
		out = append(out, chart.Series{Name: "as read, not corrected (weekly median)",
			Look:   chart.Look{Tone: chart.Grey, Dash: chart.Solid, Thin: true},
			Points: line(ws, func(w week) float64 { return w.Raw })})
	}
	if points := line(ws, func(w week) float64 { return w.Level }); len(points) > 0 {
		name := "as read, corrected (weekly median)"
		if b.brief {
			name, points = "as read, corrected (medians of some weeks)", sparse(points)
		}
		out = append(out, chart.Series{Name: name,
			Look:   chart.Look{Tone: chart.Ink, Dash: chart.NoLine, Mark: chart.Dot, Thin: true},
			Points: points})
	}
	if p, ok := b.surveyPoints(l, ws); ok {
		out = append(out, p)
	}
	return out
}

// sparse leaves of a great site's dots, which are most of a page's drawing, those of
// every second week of the last year and of every fourth before.
func sparse(points []chart.Point) (out []chart.Point) {
	for i, p := range points {
		if back := len(points) - 1 - i; back%4 == 0 || back < 52 && back%2 == 0 {
			out = append(out, p)
		}
	}
	return out
}

// dueLayers are the threshold and when it is met, and the sentence that says it.
func dueLayers(d *due.Lamp) (out []chart.Layer, says string) {
	out = append(out, chart.Level{Name: "threshold " + chart.Number(d.Threshold, 2), At: d.Threshold,
		Look: chart.Look{Tone: chart.Vermilion, Dash: chart.LongDash}})
	h := d.Answer.DueHours
	whisker := chart.Whisker{Name: "not due before", Y: d.Threshold, Lo: h.Lo, Centre: h.Centre, Hi: h.Hi,
		Look: chart.Look{Tone: chart.Vermilion}}
	switch {
	case h.Known():
		whisker.Name, whisker.Look.Mark = "due, with its interval", chart.Diamond
		return append(out, whisker), fmt.Sprintf(" It meets the threshold of %s at %s.", chart.Number(d.Threshold, 2),
			Hours(h))
	case estimate.Finite(h.Lo):
		return append(out, whisker), fmt.Sprintf(" It does not meet the threshold of %s before %s.",
			chart.Number(d.Threshold, 2), chart.Number(h.Lo, 0)+" h")
	}
	return out, ""
}

// endsOf names the lines where they end.
func endsOf(ws []week, post *forecast.Posterior, d *due.Lamp, now, reach float64) (out chart.Names) {
	if post != nil {
		p := post.Band([]float64{max(reach, now)}, 0.8)[0]
		out = append(out, chart.Named{Words: "lamp", X: reach, Y: p.Centre, Tone: chart.Blue})
	}
	if n := len(ws); n > 0 && post != nil {
		out = append(out, chart.Named{Words: "as read", X: ws[n-1].Hours, Y: ws[n-1].Level, Tone: chart.Ink})
	}
	if d != nil {
		out = append(out, chart.Named{Words: chart.Number(d.Threshold, 2), X: reach, Y: d.Threshold, Tone: chart.Vermilion})
	}
	return out
}

// declineTitle says in a line what the drawing shows.
func declineTitle(l *lamp.Life, d *due.Lamp) string {
	if d == nil {
		return l.Fixture.ID + " is not in service"
	}
	level := "its level is not known"
	if d.Answer.Level.Known() {
		level = "its lamp is at " + chart.Number(d.Answer.Level.Centre, 2)
	}
	switch d.Answer.Status {
	case forecast.StatusUnder:
		return fmt.Sprintf("%s: %s, under its threshold of %s", l.Fixture.ID, level, chart.Number(d.Threshold, 2))
	case forecast.StatusForecast:
		return fmt.Sprintf("%s: %s and falls under %s about %s", l.Fixture.ID, level, chart.Number(d.Threshold, 2),
			DateOf(d.Answer.DueDay).Centre)
	case forecast.StatusBeyond:
		return fmt.Sprintf("%s: %s and stays over %s farther than can be told", l.Fixture.ID, level,
			chart.Number(d.Threshold, 2))
	case forecast.StatusDark:
		return l.Fixture.ID + ": its lamp is dark"
	}
	return fmt.Sprintf("%s: %s, and no date can be given", l.Fixture.ID, level)
}

// startOf is where the drawing begins: at nought unless the record begins late.
func startOf(ws []week, post *forecast.Posterior, now float64) float64 {
	first := now
	if len(ws) > 0 {
		first = ws[0].Hours
	}
	if post != nil {
		first = min(first, post.FirstHours)
	}
	if first < 0.4*now {
		return 0
	}
	return first - 0.05*(now-first)
}

// most that a drawing reaches past now, h.
const farthest = 40000

// reachOf is how far a forecast is drawn: to the late end of what is claimed,
// and no farther than that where only a bound is. Nothing is drawn ahead where
// nothing is claimed.
func reachOf(d *due.Lamp, now float64) float64 {
	h := d.Answer.DueHours
	switch d.Answer.Status {
	case forecast.StatusForecast, forecast.StatusUnder:
		to := now + max(500, 0.1*now)
		if estimate.Finite(h.Hi) {
			to = max(to, h.Hi*1.04)
		} else if estimate.Finite(h.Centre) {
			to = max(to, h.Centre*1.3)
		}
		return min(to, now+farthest)
	case forecast.StatusBeyond:
		if estimate.Finite(h.Lo) {
			return min(max(h.Lo*1.02, now+500), now+farthest)
		}
	}
	return now
}

// smooth is in how many pieces a band is drawn.
func (b *book) smooth() int {
	if b.brief {
		return 12
	}
	return 24
}

// grid gives the hours at which a band is drawn, in n pieces.
func grid(from, to float64, n int) []float64 {
	from = max(from, forecast.Seasoning)
	if !(to > from) {
		return []float64{from}
	}
	out := make([]float64, n+1)
	for i := range out {
		out[i] = from + (to-from)*float64(i)/float64(n)
	}
	return out
}

// chartNotes says what to know when reading the drawing.
func chartNotes(l *lamp.Life, post *forecast.Posterior, d *due.Lamp, ws []week, brief bool) []string {
	var out []string
	if post != nil && len(ws) > 0 && !brief { // where the caption says it
		out = append(out, "The dots are readings: they hold the dirt on the fixture, and rise after a cleaning. The line and its band are the lamp alone. The distance between the two is what cleaning would bring back, or what the sensor's drift is still taken to be.")
	}
	late := len(l.Levels) > 0 && l.Levels[len(l.Levels)-1].Flags&level.LateBaseline != 0
	if late {
		out = append(out, "The readings begin late in this lamp's life: their 1.00 is the lamp at that age, while the line is relative to the lamp after seasoning. So the dots may stand above the line.")
	}
	if d != nil && d.Answer.Status == forecast.StatusBeyond {
		out = append(out, "The band ends where the claim ends. What comes after is not drawn, because it is not known.")
	}
	if d != nil && (d.Answer.Status == forecast.StatusInseparable || d.Answer.Status == forecast.StatusTooEarly) {
		out = append(out, "Nothing is drawn ahead, because nothing can be claimed yet.")
	}
	return out
}

// declineData is the numbers behind the drawing: a row every fourth week, and
// the forecast.
func declineData(b *book, ws []week, post *forecast.Posterior, d *due.Lamp, now, reach float64) Table {
	t := Table{Caption: "Numbers of the drawing: readings every fourth week, then the forecast",
		Head:  columns("Week of", "#Run-hours, h", "#As read, corrected (least and greatest day)", "#As read", "#Lamp alone"),
		Plain: true}
	every := 4
	if b.brief {
		every = 52
		t.Caption = "Numbers of the drawing: readings of a week a year, then the forecast"
		t.Head = columns("Week of", "#Run-hours, h", "#As read, corrected", "#Lamp alone")
	}
	alone := func(h float64) Cell {
		if post == nil {
			return cell("not known")
		}
		p := post.Band([]float64{h}, d.Interval)[0]
		return Cell{Text: chart.Number(p.Centre, 3), Interval: chart.Number(p.Lo, 3) + " to " + chart.Number(p.Hi, 3)}
	}
	row := func(when string, hours float64, read, raw Cell) {
		c := []Cell{cell(when), cell(chart.Number(hours, 0)), read, raw, alone(hours)}
		if b.brief { // light as read before corrections is not drawn there
			c = slices.Delete(c, 3, 4)
		}
		t.Rows = append(t.Rows, Row{Cells: c})
	}
	for i, w := range ws {
		if i%every != 0 && i != len(ws)-1 {
			continue
		}
		read := cell(chart.Number(w.Level, 3))
		if !b.brief {
			read.Interval = fmt.Sprintf("%s to %s, %s", chart.Number(w.Lo, 3), chart.Number(w.Hi, 3), count(w.N, "day", "days"))
		}
		row(date(w.First), w.Hours, read, cell(chart.Number(w.Raw, 3)))
	}
	if post != nil && reach > now {
		t.Rows = append(t.Rows, Row{Heading: "Ahead"})
		steps := map[bool]int{false: 6, true: 2}[b.brief]
		for i := 1; i <= steps; i++ {
			h := now + (reach-now)*float64(i)/float64(steps)
			row("ahead", h, cell("not read yet"), cell("not read yet"))
		}
	}
	return t
}

// earlierFigure draws the lamps that hung there before.
func earlierFigure(lives []*lamp.Life) *Figure {
	var layers []chart.Layer
	t := Table{Caption: "Earlier lamps, readings every fourth week",
		Head: columns("Week of", "#Run-hours, h", "#As read, corrected (least and greatest day)"), Plain: true}
	for i, l := range lives[max(0, len(lives)-len(chart.Looks)):] {
		ws := weeks(l)
		if len(ws) == 0 {
			continue
		}
		name := fmt.Sprintf("lamp life %d", l.N)
		if l.Cohort != "" {
			name += ", cohort " + l.Cohort
		}
		look := chart.Looks[i]
		look.Thin = true
		layers = append(layers, chart.Series{Name: name + " (weekly median, corrected)", Look: look,
			Points: line(ws, func(w week) float64 { return w.Level })})
		t.Rows = append(t.Rows, Row{Heading: name})
		for k, w := range ws {
			if k%4 == 0 || k == len(ws)-1 {
				t.Rows = append(t.Rows, Row{Cells: []Cell{cell(date(w.First)), cell(chart.Number(w.Hours, 0)),
					{Text: chart.Number(w.Level, 3), Interval: chart.Number(w.Lo, 3) + " to " + chart.Number(w.Hi, 3)}}})
			}
		}
	}
	if len(layers) == 0 {
		return nil
	}
	x := chart.XY{Title: "Decline of earlier lamps in this fixture",
		Desc: fmt.Sprintf("Level as read against run-hours for %s that hung here before.",
			count(len(layers), "lamp", "lamps")),
		X:      chart.Axis{Label: "run-hours of each lamp, h"},
		Y:      chart.Axis{Label: "level (1.00 = after seasoning)", Places: 2},
		Layers: layers, Height: 320}
	return figure("earlier", "The lamps that hung here before, each against its own run-hours and its own 1.00.", x, t)
}

// letters stand for events on a drawing.
var letters = map[fleet.What]string{
	fleet.Install: "I", fleet.Relamp: "L", fleet.Fail: "F", fleet.Clean: "C", fleet.Recalibrate: "S",
	fleet.ReferenceIs: "X",
	fleet.Dim:         "D", fleet.Move: "M", fleet.Regear: "G", fleet.Outage: "O", fleet.Retire: "T",
}

// flagsOf places the events of the present life on its run-hours.
func flagsOf(b *book, l *lamp.Life) []chart.Flag {
	var out []chart.Flag
	seen := map[string]bool{}
	for _, e := range happened(b, l.Fixture, []*lamp.Life{l}) {
		day := calendar.DayOf(e.At, b.in.location())
		letter := letters[e.What]
		if letter == "" || day < l.FirstDay || day > l.LastDay {
			continue
		}
		key := fmt.Sprint(letter, day)
		if !seen[key] {
			seen[key] = true
			out = append(out, chart.Flag{Letter: letter, At: hoursOn(l, day)})
		}
	}
	return out
}
