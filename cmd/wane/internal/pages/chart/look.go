package chart

import (
	"image/color"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Tone is a colour, chosen to stay apart on paper and for any eye.
type Tone int

// The tones.
const (
	Ink Tone = iota
	Blue
	Vermilion
	Green
	Purple
	Ochre
	Grey
)

var tones = [...]color.NRGBA{
	Ink: {0x1a, 0x1a, 0x1a, 0xff}, Blue: {0x00, 0x5f, 0x99, 0xff}, Vermilion: {0xb8, 0x46, 0x00, 0xff},
	Green: {0x00, 0x74, 0x55, 0xff}, Purple: {0x8a, 0x3f, 0x70, 0xff}, Ochre: {0x8f, 0x66, 0x00, 0xff},
	Grey: {0x6b, 0x6b, 0x6b, 0xff},
}

func (t Tone) colour() color.Color { return tones[t] }

// faint is the tone as a wash under other marks.
func (t Tone) faint() color.Color {
	c := tones[t]
	c.A = 0x2e
	return c
}

// Dash is how a line is broken.
type Dash int

// The dashes; NoLine draws marks only.
const (
	Solid Dash = iota
	Dashed
	Dotted
	DashDot
	LongDash
	NoLine
)

var dashes = [...][]vg.Length{
	Solid: nil, Dashed: {6, 3}, Dotted: {1.5, 2.5}, DashDot: {7, 2.5, 1.5, 2.5}, LongDash: {12, 4}, NoLine: nil,
}

// Mark is the shape at each point.
type Mark int

// The marks.
const (
	NoMark Mark = iota
	Dot
	Ring
	Square
	Triangle
	Cross
	Plus
	Diamond
)

var glyphs = [...]draw.GlyphDrawer{
	NoMark: nil, Dot: draw.CircleGlyph{}, Ring: draw.RingGlyph{}, Square: draw.BoxGlyph{}, Triangle: draw.PyramidGlyph{},
	Cross: draw.CrossGlyph{}, Plus: draw.PlusGlyph{}, Diamond: diamond{},
}

// diamond is a filled square on its point.
type diamond struct{}

func (diamond) DrawGlyph(c *draw.Canvas, sty draw.GlyphStyle, pt vg.Point) {
	c.SetColor(sty.Color)
	r := sty.Radius * 1.35
	var p vg.Path
	p.Move(vg.Point{X: pt.X - r, Y: pt.Y})
	p.Line(vg.Point{X: pt.X, Y: pt.Y + r})
	p.Line(vg.Point{X: pt.X + r, Y: pt.Y})
	p.Line(vg.Point{X: pt.X, Y: pt.Y - r})
	p.Close()
	c.Fill(p)
}

// Look is how a series is drawn.
type Look struct {
	Tone Tone
	Dash Dash
	Mark Mark
	Thin bool
}

// Looks are looks for series that are compared with each other: no two share a
// dash or a mark. Beyond the last, a chart is too full to read.
var Looks = []Look{
	{Blue, Solid, Dot, false}, {Vermilion, Dashed, Square, false}, {Green, DashDot, Triangle, false},
	{Purple, LongDash, Cross, false}, {Ochre, Dotted, Ring, false}, {Ink, Dashed, Plus, false},
}

func (l Look) line() draw.LineStyle {
	w := vg.Length(1.8)
	if l.Thin {
		w = 1
	}
	return draw.LineStyle{Color: l.Tone.colour(), Width: w, Dashes: dashes[l.Dash]}
}

func (l Look) glyph() draw.GlyphStyle {
	r := vg.Length(3)
	if l.Thin {
		r = 2
	}
	return draw.GlyphStyle{Color: l.Tone.colour(), Radius: r, Shape: glyphs[l.Mark]}
}
