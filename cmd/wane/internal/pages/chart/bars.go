package chart

import (
	"wane/transform/estimate"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Bar is one row of a bar chart: a length from nought, with its words.
type Bar struct {
	Label string
	Value float64
	Note  string // at the end of the bar
}

// Bars is a chart of amounts, one below the other in the order given. A bar is
// told by its length and its words alone.
type Bars struct {
	Title, Desc string
	X           Axis
	Rows        []Bar
}

var _ Chart = Bars{}

// Keys gives none: each bar stands beside its name.
func (Bars) Keys() []Key { return nil }

const barHeight = 26

// SVG draws the chart.
func (b Bars) SVG(id string) string {
	return both(id, b.Title, b.Desc, false, func(w float64, narrow bool) (float64, func(draw.Canvas)) {
		letters := 34
		if narrow {
			letters = 16
		}
		return float64(barHeight*max(len(b.Rows), 1) + 56), func(c draw.Canvas) { b.draw(c, w, letters) }
	})
}

func (b Bars) draw(c draw.Canvas, w float64, letters int) {
	most := 0.0
	var ticks []plot.Tick
	for i, r := range b.Rows {
		if estimate.Finite(r.Value) {
			most = max(most, r.Value)
		}
		ticks = append(ticks, plot.Tick{Value: float64(len(b.Rows) - 1 - i), Label: short(r.Label, letters)})
	}
	if most == 0 {
		most = 1
	}
	p := newPlot(b.X, Axis{}, int(w/95), 3)
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = 0, 1.45*most, -0.5,
		float64(max(len(b.Rows), 1))-0.5 // room for the words at the end
	namesLeft(p, ticks)
	p.Add(rangeless{barRows(b.Rows)})
	p.Draw(draw.Crop(c, 2, -8, 2, -6))
}

type barRows []Bar

// Plot draws the bars.
func (rows barRows) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	style := words(11, Ink, false)
	style.YAlign = text.YCenter
	for i, r := range rows {
		if !estimate.Finite(r.Value) || r.Value < 0 {
			continue
		}
		at := float64(len(rows) - 1 - i)
		lo, hi, end := y(at-0.3), y(at+0.3), x(r.Value)
		box := []vg.Point{{X: c.Min.X, Y: lo}, {X: end, Y: lo}, {X: end, Y: hi}, {X: c.Min.X, Y: hi}}
		c.FillPolygon(Blue.faint(), box)
		c.StrokeLines(draw.LineStyle{Color: Blue.colour(), Width: 1}, append(box, box[0]))
		c.FillText(style, vg.Point{X: end + 5, Y: y(at)}, clean(r.Note))
	}
}
