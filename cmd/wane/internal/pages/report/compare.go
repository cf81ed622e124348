package report

import (
	"bytes"
	"fmt"
	"math"
	"strings"

	"wane/cmd/wane/internal/beside"
	"wane/cmd/wane/internal/pages/chart"
	"wane/cmd/wane/internal/show"
	"wane/transform/due"
	"wane/transform/estimate"
	"wane/transform/forecast"
)

// comparePage is what a lab shows: fixtures side by side over years.
type comparePage struct {
	Title    string
	Lead     string
	Figure   *Figure
	Table    Table
	CSV      string // address of the table's file
	Pairs    []string
	Left     []string
	HowFar   string
	Interval string
}

// compareCSV is the table's file, beside the page.
const compareCSV = "compare.csv"

// ahead is the comparison that the page is made of; nil where fewer than two
// fixtures can be compared.
func (b *book) ahead() *due.Ahead {
	if b.in.Result == nil || b.in.Result.Lab == nil {
		return nil
	}
	a, err := b.in.Result.Lab.Ahead(nil)
	if err != nil || len(a.Lamps) < 2 { // a survey that cannot be summed up is named on the page of surveys
		return nil
	}
	return a
}

func compareOf(b *book) (any, bool) {
	a := b.ahead()
	if a == nil {
		return nil, false
	}
	end := len(a.Years) - 1
	p := &comparePage{Title: sentence(beside.Finding(a)), Figure: b.compareFigure(a), Table: b.compareTable(a),
		CSV: compareCSV, Left: a.Left,
		Interval: percentage(a.Interval)}
	p.Title = strings.TrimSuffix(p.Title, ".")
	p.Lead = fmt.Sprintf("%s, at the %s h that all of them have burned and after %g years more, by canopy surveys on one rig. What the rig may have drifted by is shared and cancels between them.",
		count(len(a.Lamps), "fixture", "fixtures"), chart.Number(a.Hours[0], 0), a.Years[end])
	for _, x := range a.Pairs {
		p.Pairs = append(p.Pairs, sentence(beside.Words(x, a.Years)))
	}
	p.HowFar = b.howFar(a)
	return p, true
}

// howFar says how much of the chart lies ahead of what was seen.
func (b *book) howFar(a *due.Ahead) string {
	longest := 0.0
	for _, k := range a.Lamps {
		longest = math.Max(longest, k.Points[len(k.Points)-1].Hours)
	}
	return fmt.Sprintf("The longest of them was read up to %s h. What comes after is drawn out of how each has faded and how lamps of its type do; it is as sure as its band is narrow.", chart.Number(longest, 0))
}

// mostCompared is how many fixtures are drawn; the rest stands in the table.
const mostCompared = 6

func (b *book) compareFigure(a *due.Ahead) *Figure {
	drawn := a.Lamps
	if len(drawn) > mostCompared { // the best and the worst
		drawn = append(append([]due.Kept(nil), drawn[:mostCompared/2]...), drawn[len(drawn)-mostCompared/2:]...)
	}
	end := a.Hours[len(a.Hours)-1]
	var bands, lines, points []chart.Layer
	var names chart.Names
	data := Table{Caption: "The surveys behind the points", Head: columns("Fixture", "Survey", "#Run-hours, h", "#Level")}
	for i := range drawn {
		k, look := &drawn[i], chart.Looks[i]
		id := k.Life.Fixture.ID
		from := math.Min(k.Points[0].Hours, k.Now)
		var spans []chart.Span
		var seen, ahead []chart.Point
		for _, x := range k.Band(grid(from, k.Now, b.smooth()), a.Interval) {
			spans = append(spans, chart.Span{X: x.Hours, Lo: x.Lo, Hi: x.Hi})
			seen = append(seen, chart.Point{X: x.Hours, Y: x.Centre})
		}
		for _, x := range k.Band(grid(k.Now, math.Max(end, k.Now), b.smooth()), a.Interval) {
			spans = append(spans, chart.Span{X: x.Hours, Lo: x.Lo, Hi: x.Hi})
			ahead = append(ahead, chart.Point{X: x.Hours, Y: x.Centre})
		}
		bands = append(bands, chart.Band{Tone: look.Tone, Spans: spans})
		lines = append(lines, chart.Series{Look: chart.Look{Tone: look.Tone, Dash: chart.Solid}, Points: seen},
			chart.Series{Look: chart.Look{Tone: look.Tone, Dash: chart.Dashed}, Points: ahead})
		points = append(points, measured(id+", its surveys", chart.Look{Tone: look.Tone, Mark: look.Mark}, k.Points))
		if n := len(ahead); n > 0 {
			names = append(names, chart.Named{Words: id, X: ahead[n-1].X, Y: ahead[n-1].Y, Tone: look.Tone})
		}
		data.Rows = append(data.Rows, Row{Heading: b.modelled(id, k.Model)})
		for _, x := range k.Points {
			data.Rows = append(data.Rows, Row{Cells: []Cell{cell(id), cell(x.Survey), cell(chart.Number(x.Hours, 0)),
				of(valueOf(x.Level, "at least", func(v float64) string { return chart.Number(v, 3) }))}})
		}
	}
	layers := append(append(append(bands, lines...), points...), names,
		chart.Moment{Name: "all have reached this", At: a.Hours[0], Look: chart.Look{Tone: chart.Ink, Thin: true}})
	x := chart.XY{Title: "Light kept against run-hours", Desc: beside.Finding(a) + ". The table below gives the numbers.",
		X:      chart.Axis{Label: "run-hours, h", Min: 0, Max: end * (1 + chart.NameRoom)},
		Y:      chart.Axis{Label: "light kept (1.00 = after seasoning)", Places: 2},
		Layers: layers}
	caption := fmt.Sprintf("Points: surveys, the rig's drift and the supply taken out, with %s intervals. Lines and bands: the light each lamp keeps; dashed ahead of its own hours.", percentage(a.Interval))
	if len(a.Lamps) > len(drawn) {
		caption += fmt.Sprintf(" Drawn are the %d that keep most and the %d that keep least of %d.", mostCompared/2,
			mostCompared/2, len(a.Lamps))
	}
	return figure("compare", caption, x, data)
}

// measured makes surveys points of a chart.
func measured(name string, look chart.Look, list []forecast.SurveyPoint) chart.Points {
	out := chart.Points{Name: name, Look: look}
	for _, p := range list {
		out.List = append(out.List, chart.Measured{X: p.Hours, Y: p.Level.Centre, Lo: p.Level.Lo, Hi: p.Level.Hi})
	}
	return out
}

func (b *book) modelled(id, model string) string {
	if model == "" {
		return id
	}
	return id + " (" + model + ")"
}

func (b *book) compareTable(a *due.Ahead) Table {
	end := len(a.Years) - 1
	t := Table{Caption: "Side by side at equal run-hours, that which keeps most first, with " + percentage(a.Interval) +
		" intervals",
		Head: columns("Fixture", "#Surveys", fmt.Sprintf("#Light kept at %s h", chart.Number(a.Hours[0], 0)))}
	for i := 2; i <= end; i++ {
		t.Head = append(t.Head, columns(fmt.Sprintf("#after %g years (%s h)", a.Years[i], chart.Number(a.Hours[i], 0)))...)
	}
	t.Head = append(t.Head, columns(fmt.Sprintf("#On the grid then and after %g years, µmol/m²/s", a.Years[end]),
		"#Min/avg, first and latest")...)
	efficacy := beside.Measured(a, func(k *due.Kept) estimate.Estimate { return k.Last.Efficacy })
	if efficacy {
		t.Head = append(t.Head, columns("#Efficacy on the grid, µmol/J, first and latest")...)
	}
	t.Head = append(t.Head, columns("Against the next one, after "+fmt.Sprintf("%g years", a.Years[end]))...)
	share := func(e estimate.Estimate) Cell {
		return of(valueOf(e, "at least", func(x float64) string { return chart.Number(100*x, 1) }).unit("%"))
	}
	for n := range a.Lamps {
		k := &a.Lamps[n]
		id := k.Life.Fixture.ID
		row := []Cell{{Text: id, Note: k.Model, Link: b.links[id]}, cell(fmt.Sprint(k.Levels[0].N)), share(k.Levels[0])}
		for i := 2; i <= end; i++ {
			row = append(row, share(k.Levels[i]))
		}
		row = append(row, pairOf(k.Light[0], k.Light[end], 0), pairOf(k.First.MinAvg, k.Last.MinAvg, 2))
		if efficacy {
			row = append(row, pairOf(k.First.Efficacy, k.Last.Efficacy, 2))
		}
		row = append(row, against(a, n))
		t.Rows = append(t.Rows, Row{Cells: row})
	}
	return t
}

// pairOf writes the first and the latest of two.
func pairOf(first, latest estimate.Estimate, places int) Cell {
	if !latest.Known() {
		return cell("not measured")
	}
	c := of(plainValue(latest, places, ""))
	if first.Known() {
		c.Text = chart.Number(first.Centre, places) + ", " + c.Text
	}
	return c
}

func against(a *due.Ahead, n int) Cell {
	h, ok := beside.OverNext(a, n)
	if !ok {
		return cell("the last")
	}
	next := a.Lamps[n+1].Life.Fixture.ID
	if h.First < beside.Sure {
		return Cell{Text: "not told apart from " + next, Note: "keeps more with a chance of " + beside.Chance(h.First)}
	}
	pct := func(v float64) string { return signedNumber(100 * (v - 1)) }
	return Cell{Text: pct(h.Ratio.Centre) + "\u00a0% over " + next, Interval: pct(h.Ratio.Lo) + " to " + pct(h.Ratio.Hi),
		Note: "chance " + beside.Chance(h.First)}
}

// compareFile is the table as a file; ok is false where there is no page.
func (b *book) compareFile() (made, bool, error) {
	a := b.ahead()
	if a == nil {
		return made{}, false, nil
	}
	var buf bytes.Buffer
	if err := beside.Table(a).Print(&buf, show.CSV); err != nil {
		return made{}, false, fmt.Errorf("write comparison: %w", err)
	}
	return made{compareCSV, buf.Bytes()}, true, nil
}

// labOn puts the finding on the front page, and its chart where surveys are all
// that the site has.
func (b *book) labOn(o *overview) {
	a := b.ahead()
	if a == nil {
		return
	}
	o.Lab = sentence(beside.Finding(a))
	if b.unlogged() {
		o.LabChart = b.compareFigure(a)
	}
}
