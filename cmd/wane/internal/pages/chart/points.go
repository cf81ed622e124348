package chart

import (
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"wane/transform/estimate"
)

// Measured is one measurement with its interval.
type Measured struct{ X, Y, Lo, Hi float64 }

// Points are measurements, each a mark with its interval up and down.
type Points struct {
	Name string
	Look Look
	List []Measured
}

func (p Points) key() string { return p.Name }

func (p Points) extent(b *box) {
	for _, m := range p.List {
		if estimate.Finite(m.X) && estimate.Finite(m.Y) {
			b.x(m.X)
			b.y(m.Y)
			b.y(m.Lo)
			b.y(m.Hi)
		}
	}
}

func (p Points) plotters(*box) []plot.Plotter { return []plot.Plotter{p} }

// Plot draws them; what lies outside the axes is left out.
func (p Points) Plot(c draw.Canvas, on *plot.Plot) {
	x, y := on.Transforms(&c)
	for _, m := range p.List {
		if !(m.X >= on.X.Min && m.X <= on.X.Max && m.Y >= on.Y.Min && m.Y <= on.Y.Max) {
			continue
		}
		lo, hi := max(m.Lo, on.Y.Min), min(m.Hi, on.Y.Max)
		if lo < hi { // nor NaN
			p.bar(&c, x(m.X), y(lo), y(hi))
		}
		c.DrawGlyph(p.glyph(), vg.Point{X: x(m.X), Y: y(m.Y)})
	}
}

func (p Points) glyph() draw.GlyphStyle {
	g := p.Look.glyph()
	g.Radius = 3.5
	return g
}

func (p Points) bar(c *draw.Canvas, x, lo, hi vg.Length) {
	style := draw.LineStyle{Color: p.Look.Tone.colour(), Width: 1.2}
	c.StrokeLine2(style, x, lo, x, hi)
	for _, y := range []vg.Length{lo, hi} {
		c.StrokeLine2(style, x-3, y, x+3, y)
	}
}

// Thumbnail draws the key's sample.
func (p Points) Thumbnail(c *draw.Canvas) {
	at := c.Center()
	p.bar(c, at.X, c.Min.Y+1, c.Max.Y-1)
	c.DrawGlyph(p.glyph(), at)
}
