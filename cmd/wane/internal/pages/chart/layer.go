package chart

import (
	"math"
	"slices"

	"wane/transform/estimate"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Point is a point of a line; a Y (or X) that is not finite breaks the line.
type Point struct{ X, Y float64 }

// Span is a point of a band: between Lo and Hi at X.
type Span struct{ X, Lo, Hi float64 }

// Layer is one thing drawn on an XY chart. The layers of this package are
// Series, Band, Level, Moment, Flags and Whisker.
type Layer interface {
	// extent stretches the axes to what is drawn.
	extent(b *box)
	// plotters draw it once the axes are known.
	plotters(b *box) []plot.Plotter
	// key names it; empty where it needs no entry.
	key() string
	plot.Thumbnailer
}

// box is the range of the axes.
type box struct{ x0, x1, y0, y1 float64 }

func emptyBox() *box { return &box{math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)} }

func (b *box) x(v float64) {
	if estimate.Finite(v) {
		b.x0, b.x1 = min(b.x0, v), max(b.x1, v)
	}
}

func (b *box) y(v float64) {
	if estimate.Finite(v) {
		b.y0, b.y1 = min(b.y0, v), max(b.y1, v)
	}
}

func (b *box) clampY(v float64) float64 { return min(max(v, b.y0), b.y1) }

// Series is a line, marks, or both.
type Series struct {
	Name   string
	Look   Look
	Points []Point
}

func (s Series) key() string { return s.Name }

func (s Series) extent(b *box) {
	for _, p := range s.Points {
		if estimate.Finite(p.X) && estimate.Finite(p.Y) {
			b.x(p.X)
			b.y(p.Y)
		}
	}
}

// runs cuts the points where one is missing.
func (s Series) runs() []plotter.XYs {
	var out []plotter.XYs
	var run plotter.XYs
	for _, p := range s.Points {
		if estimate.Finite(p.X) && estimate.Finite(p.Y) {
			run = append(run, plotter.XY{X: p.X, Y: p.Y})
			continue
		}
		if len(run) > 0 {
			out = append(out, run)
		}
		run = nil
	}
	if len(run) > 0 {
		out = append(out, run)
	}
	return out
}

func (s Series) plotters(*box) []plot.Plotter {
	var out []plot.Plotter
	for _, run := range s.runs() {
		if s.Look.Dash != NoLine && len(run) > 1 {
			out = append(out, &plotter.Line{XYs: run, LineStyle: s.Look.line()})
		}
		if s.Look.Mark != NoMark {
			out = append(out, &plotter.Scatter{XYs: run, GlyphStyle: s.Look.glyph()})
		}
	}
	return out
}

// Thumbnail draws the key's sample.
func (s Series) Thumbnail(c *draw.Canvas) {
	y := c.Center().Y
	if s.Look.Dash != NoLine {
		c.StrokeLine2(s.Look.line(), c.Min.X, y, c.Max.X, y)
	}
	if s.Look.Mark != NoMark {
		c.DrawGlyph(s.Look.glyph(), c.Center())
	}
}

// Band is the area between two lines.
type Band struct {
	Name  string
	Tone  Tone
	Spans []Span
}

func (a Band) key() string { return a.Name }

func (a Band) extent(b *box) {
	for _, s := range a.Spans {
		if estimate.Finite(s.X) && estimate.Finite(s.Lo) && estimate.Finite(s.Hi) {
			b.x(s.X)
			b.y(s.Lo)
			b.y(s.Hi)
		}
	}
}

func (a Band) plotters(b *box) []plot.Plotter {
	var upper, lower plotter.XYs
	for _, s := range a.Spans {
		if estimate.Finite(s.X) && estimate.Finite(s.Lo) && estimate.Finite(s.Hi) && s.X >= b.x0 && s.X <= b.x1 {
			upper = append(upper, plotter.XY{X: s.X, Y: b.clampY(s.Hi)})
			lower = append(lower, plotter.XY{X: s.X, Y: b.clampY(s.Lo)})
		}
	}
	if len(upper) < 2 {
		return nil
	}
	slices.Reverse(lower)
	return []plot.Plotter{area{append(upper, lower...), a.Tone}}
}

// area is filled, with its edge.
type area struct {
	ring plotter.XYs
	tone Tone
}

// Plot draws it.
func (a area) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	var path vg.Path
	for i, at := range a.ring {
		to := vg.Point{X: x(at.X), Y: y(at.Y)}
		if i == 0 {
			path.Move(to)
		} else {
			path.Line(to)
		}
	}
	path.Close()
	c.SetColor(a.tone.faint())
	c.Fill(path)
	c.SetLineStyle(draw.LineStyle{Color: a.tone.colour(), Width: 0.6})
	c.Stroke(path)
}

// DataRange is the ring's.
func (a area) DataRange() (xmin, xmax, ymin, ymax float64) { return plotter.XYRange(a.ring) }

// Thumbnail draws the key's sample.
func (a Band) Thumbnail(c *draw.Canvas) {
	y, h := c.Center().Y, vg.Length(4.5)
	c.FillPolygon(a.Tone.faint(), []vg.Point{{X: c.Min.X, Y: y - h}, {X: c.Max.X, Y: y - h}, {X: c.Max.X, Y: y + h},
		{X: c.Min.X, Y: y + h}})
	for _, at := range []vg.Length{y - h, y + h} {
		c.StrokeLine2(draw.LineStyle{Color: a.Tone.colour(), Width: 0.6}, c.Min.X, at, c.Max.X, at)
	}
}
