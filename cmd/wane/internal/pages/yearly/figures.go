package yearly

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"wane/cmd/wane/internal/pages/chart"
	"wane/transform/estimate"
	"wane/transform/survival"
	"wane/transform/yearly"
)

// figure is a drawing with its caption and key. Its numbers stand in a table
// or in the file that the caption names.
type figure struct {
	ID, Caption string
	Drawing     template.HTML
	Keys        []figureKey
	CSV         string
}

type figureKey struct {
	Sample template.HTML
	Words  string
}

// draw sets a chart. Its markup comes from package chart, which escapes the words it
// is given.
func draw(id, caption, csv string, c chart.Chart) *figure {
	f := &figure{ID: id, Caption: caption, Drawing: template.HTML(c.SVG(id))}
	if csv != "" {
		f.CSV = "tables/" + csv + ".csv"
	}
	for _, k := range c.Keys() {
		f.Keys = append(f.Keys, figureKey{template.HTML(k.Sample), k.Words})
	}
	return f
}

// mostSeries is how many lines one chart takes.
const mostSeries = 5

// stairs makes a curve of steps: value from before until t, then the next.
func stairs(from, start float64, n int, at func(i int) (t, v float64), end float64) []chart.Point {
	out := []chart.Point{{X: from, Y: start}}
	last := start
	for i := range n {
		t, v := at(i)
		out = append(out, chart.Point{X: t, Y: last}, chart.Point{X: t, Y: v})
		last = v
	}
	return append(out, chart.Point{X: end, Y: last})
}

// survivalFigure shows the share working of a lamp type, and of its makes;
// nil where too few are under watch.
func survivalFigure(s *yearly.Summary, lampTypeCode string) *figure {
	var layers []chart.Layer
	lines := 0
	desc := ""
	var all *yearly.Group
	for i := range s.Groups {
		g := &s.Groups[i]
		if g.LampType != lampTypeCode || g.By == "cohort" {
			continue
		}
		if g.End <= g.Curve.From {
			continue
		}
		if g.By == "lamp type" {
			desc = fmt.Sprintf("%s: %d lamps, %d failures, the oldest %s hours.", lampType(lampTypeCode), g.Units, g.Failures,
				inHours(g.Oldest))
			layers = append(layers, chart.Band{Name: fmt.Sprintf("%.0f %% limits of all makes together", 100*s.Level),
				Tone: chart.Grey, Spans: stepBand(&g.Curve, g.End)})
			all = g
			continue
		}
		if lines == mostSeries {
			continue
		}
		look := chart.Looks[lines]
		look.Mark = chart.NoMark
		lines++
		layers = append(layers, chart.Series{Name: fmt.Sprintf("%s (%d lamps, %d failed)", g.Name, g.Units, g.Failures),
			Look: look, Points: stepLine(&g.Curve, g.End)})
	}
	switch {
	case all == nil:
		return nil
	case lines == 0:
		layers = append(layers, chart.Series{Name: "all makes", Look: chart.Look{Tone: chart.Ink, Dash: chart.Solid},
			Points: stepLine(&all.Curve, all.End)})
	}
	id := "survival-" + lampTypeCode
	return draw(id, fmt.Sprintf("Share of %s lamps still working against run-hours, by make, where at least %d are "+
		"under watch.",
		lampType(lampTypeCode), yearly.LeastAtRisk),
		"survival_curves", chart.XY{
			Title: "Survival of " + lampType(lampTypeCode) + " lamps", Desc: desc + " The curves step down at each failure.",
			X: chart.Axis{Label: "run-hours, h"}, Y: chart.Axis{Label: "share working", Min: 0, Max: 1.02, Places: 1},
			Layers: layers, Height: 340,
		})
}

func failing(c *survival.Curve) []survival.Step {
	var out []survival.Step
	for _, st := range c.Steps {
		if st.Expected > 0 {
			out = append(out, st)
		}
	}
	return out
}

func stepLine(c *survival.Curve, end float64) []chart.Point {
	st := failing(c)
	for len(st) > 0 && st[len(st)-1].Time > end {
		st = st[:len(st)-1]
	}
	return stairs(c.From, 1, len(st), func(i int) (float64, float64) { return st[i].Time, st[i].Survival }, end)
}

// stepBand reads the limits at even ages, where the number at risk shows too.
func stepBand(c *survival.Curve, end float64) []chart.Span {
	var out []chart.Span
	const n = 400
	for i := 0; i <= n; i++ {
		t := c.From + (end-c.From)*float64(i)/n
		if e := c.At(t); estimate.Finite(e.Lo) && estimate.Finite(e.Hi) {
			out = append(out, chart.Span{X: t, Lo: e.Lo, Hi: e.Hi})
		}
	}
	return out
}

// weibullFigure draws failures on Weibull axes; nil where nothing was fitted.
func weibullFigure(s *yearly.Summary, g *yearly.Group) *figure {
	if g.NoFit != "" || len(g.Points) < 2 {
		return nil
	}
	x0, x1 := math.Inf(1), math.Inf(-1)
	var points []chart.Point
	for _, p := range g.Points {
		if estimate.Finite(p.X) && estimate.Finite(p.Y) {
			points = append(points, chart.Point{X: p.X, Y: p.Y})
			x0, x1 = min(x0, p.X), max(x1, p.X)
		}
	}
	if len(points) < 2 {
		return nil
	}
	x0, x1 = x0-0.35, max(x1+0.2, math.Log(max(g.Oldest, 1)))
	var line []chart.Point
	var band []chart.Span
	for i := 0; i <= 60; i++ {
		x := x0 + (x1-x0)*float64(i)/60
		e := g.Fit.FailedAt(math.Exp(x))
		line = append(line, chart.Point{X: x, Y: onWeibull(e.Centre)})
		if lo, hi := onWeibull(e.Lo), onWeibull(e.Hi); estimate.Finite(lo) && estimate.Finite(hi) {
			band = append(band, chart.Span{X: x, Lo: lo, Hi: hi})
		}
	}
	xAxis := chart.Axis{Label: "run-hours, h (logarithmic)", Min: x0, Max: x1}
	for _, p := range []float64{1, 10, 100, 1000, 1e4, 1e5} {
		for _, k := range []float64{1, 2, 3, 5, 7} {
			label := chart.Number(k*p, 0)
			if k == 7 || k == 3 {
				label = ""
			}
			xAxis.Ticks = append(xAxis.Ticks, chart.Tick{At: math.Log(k * p), Label: label})
		}
	}
	yAxis := chart.Axis{Label: "share failed (Weibull scale)", Min: onWeibull(0.005), Max: onWeibull(0.99)}
	for _, f := range []float64{0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.3, 0.5, 0.7, 0.9, 0.99} {
		places := 0
		if f < 0.01 {
			places = 1
		}
		yAxis.Ticks = append(yAxis.Ticks, chart.Tick{At: onWeibull(f), Label: chart.Number(100*f, places) + " %"})
	}
	return draw("weibull-"+g.LampType, fmt.Sprintf("Failures of %s lamps on Weibull axes: a Weibull is a straight "+
		"line. Points by %s.", lampType(g.LampType), g.Axes), "survival", chart.XY{
		Title: "Weibull plot of " + lampType(g.LampType) + " lamps",
		Desc: fmt.Sprintf("%d failures and the fitted line with its %.0f %% limits. %s", g.Failures, 100*s.Level,
			sentence(g.Say)),
		X: xAxis, Y: yAxis, Height: 400,
		Layers: []chart.Layer{
			chart.Band{Name: fmt.Sprintf("%.0f %% limits of the fit", 100*s.Level), Tone: chart.Grey, Spans: band},
			chart.Series{Name: "fitted Weibull", Look: chart.Look{Tone: chart.Ink, Dash: chart.Solid}, Points: line},
			chart.Series{Name: "failures", Look: chart.Look{Tone: chart.Vermilion, Dash: chart.NoLine, Mark: chart.Dot},
				Points: points},
		},
	})
}

// onWeibull is where a share failed stands on the scale.
func onWeibull(f float64) float64 { return math.Log(-math.Log1p(-f)) }

// repairFigure draws failures per position; nil where there are none.
func repairFigure(s *yearly.Summary, r *yearly.Repair) *figure {
	if r.Failures == 0 || len(r.Curve.Steps) == 0 {
		return nil
	}
	st := r.Curve.Steps
	end := r.Longest
	var band []chart.Span
	for i, k := range st {
		to := end
		if i+1 < len(st) {
			to = st[i+1].Time
		}
		if estimate.Finite(k.Lo) && estimate.Finite(k.Hi) {
			band = append(band, chart.Span{X: k.Time, Lo: k.Lo, Hi: k.Hi}, chart.Span{X: to, Lo: k.Lo, Hi: k.Hi})
		}
	}
	return draw("positions-"+r.LampType, fmt.Sprintf("Failures per position of %s lamps, each replaced when it failed. "+
		"A curve that bends upwards says that replacing does not renew.", lampType(r.LampType)), "failures_per_position", chart.XY{
		Title: "Mean cumulative failures per position, " + lampType(r.LampType),
		Desc:  fmt.Sprintf("%d positions, %d failures.", r.Positions, r.Failures),
		X:     chart.Axis{Label: "burning hours of the position, h", Min: 0, Max: end},
		Y:     chart.Axis{Label: "failures per position"}, Height: 300,
		Layers: []chart.Layer{
			chart.Band{Name: fmt.Sprintf("%.0f %% limits", 100*s.Level), Tone: chart.Blue, Spans: band},
			chart.Series{Name: "mean cumulative failures", Look: chart.Look{Tone: chart.Blue},
				Points: stairs(0, 0, len(st), func(i int) (float64, float64) { return st[i].Time, st[i].Mean }, end)},
		},
	})
}

// declineFigure draws the makes of a lamp type side by side; nil without any.
func declineFigure(s *yearly.Summary, lampTypeCode string) *figure {
	var bands, lines []chart.Layer
	n := 0
	low := 1.0
	var tell []string
	for i := range s.Maintenance {
		m := &s.Maintenance[i]
		if m.LampType != lampTypeCode || m.Make == "" || len(m.Curve) < 2 || n == mostSeries {
			continue
		}
		look := chart.Looks[n]
		look.Mark = chart.NoMark
		n++
		var spans []chart.Span
		var points []chart.Point
		last := m.Curve[0].Hours
		for _, p := range m.Curve {
			if p.Hours-last > 500 {
				points = append(points, chart.Point{X: math.NaN(), Y: math.NaN()})
			}
			last = p.Hours
			points = append(points, chart.Point{X: p.Hours, Y: p.Median})
			low = min(low, p.Median)
			if estimate.Finite(p.Lo) && estimate.Finite(p.Hi) {
				spans = append(spans, chart.Span{X: p.Hours, Lo: p.Lo, Hi: p.Hi})
				low = min(low, p.Lo)
			}
		}
		if len(spans) > 1 {
			bands = append(bands, chart.Band{Tone: look.Tone, Spans: spans})
		}
		lines = append(lines, chart.Series{Name: fmt.Sprintf("%s (%d lamps)", m.Make, m.Lamps), Look: look, Points: points})
		end := m.Curve[len(m.Curve)-1]
		tell = append(tell, fmt.Sprintf("%s is at %.2f after %s hours", m.Make, end.Median, inHours(end.Hours)))
	}
	if n == 0 {
		return nil
	}
	caption := fmt.Sprintf("Median level of %s lamps against run-hours, by make.", lampType(lampTypeCode))
	if len(bands) > 0 {
		caption += fmt.Sprintf(" The wash holds the median with at least %.0f %% where there are lamps enough.", 100*s.Level)
	} else {
		caption += " No make has lamps enough for a band."
	}
	return draw("decline-"+lampTypeCode, caption, "decline_by_make", chart.XY{
		Title: "Decline of " + lampType(lampTypeCode) + " lamps by make", Desc: strings.Join(tell, "; ") + ".",
		X: chart.Axis{Label: "run-hours, h"}, Y: chart.Axis{Label: "level", Min: math.Floor(20*low-0.2) / 20, Max: 1.05,
			Places: 2},
		Layers: append(bands, lines...), Height: 340,
	})
}

// paretoFigure draws the record's failures by kind; nil where there are none.
func paretoFigure(s *yearly.Summary) *figure {
	total, sum := 0, 0
	for _, m := range s.Modes {
		total += m.InRecord
	}
	if total == 0 {
		return nil
	}
	modes := append([]yearly.Mode(nil), s.Modes...)
	for i := range modes { // by the record: one year is too few to rank
		for k := i; k > 0 && modes[k].InRecord > modes[k-1].InRecord; k-- {
			modes[k], modes[k-1] = modes[k-1], modes[k]
		}
	}
	c := chart.Bars{Title: "Failures by kind", X: chart.Axis{Label: "failures in the record"}}
	step := max(1, (modes[0].InRecord+5)/6)
	for n := 0; n <= 2*modes[0].InRecord; n += step { // there is no half failure
		c.X.Ticks = append(c.X.Ticks, chart.Tick{At: float64(n), Label: chart.Number(float64(n), 0)})
	}
	var tell []string
	for _, m := range modes {
		sum += m.InRecord
		c.Rows = append(c.Rows, chart.Bar{Label: m.Name, Value: float64(m.InRecord),
			Note: fmt.Sprintf("%d (%.0f %% so far)", m.InRecord, 100*float64(sum)/float64(total))})
		tell = append(tell, fmt.Sprintf("%s %d", m.Name, m.InRecord))
	}
	c.Desc = strings.Join(tell, "; ") + "."
	return draw("pareto", "Failures of the whole record by kind, the most first, with the share of all that they and "+
		"those above make up.", "failures_by_mode", c)
}
