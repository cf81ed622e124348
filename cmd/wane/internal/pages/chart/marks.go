package chart

import (
	"sort"
	"wane/transform/estimate"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Level is a line across the chart at a height, with its words above its left
// end.
type Level struct {
	Name string
	At   float64
	Look Look
}

func (l Level) key() string                  { return l.Name }
func (l Level) extent(b *box)                { b.y(l.At) }
func (l Level) plotters(*box) []plot.Plotter { return []plot.Plotter{l} }

// Plot draws it.
func (l Level) Plot(c draw.Canvas, p *plot.Plot) {
	if !(l.At >= p.Y.Min && l.At <= p.Y.Max) { // nor NaN
		return
	}
	_, y := p.Transforms(&c)
	c.StrokeLine2(l.Look.line(), c.Min.X, y(l.At), c.Max.X, y(l.At))
}

// Thumbnail draws the key's sample.
func (l Level) Thumbnail(c *draw.Canvas) { Series{Look: l.Look}.Thumbnail(c) }

// Moment is a line up the chart, with its name in the strip above it.
type Moment struct {
	Name string
	At   float64
	Look Look
}

func (m Moment) key() string                  { return "" }
func (m Moment) extent(b *box)                { b.x(m.At) }
func (m Moment) plotters(*box) []plot.Plotter { return []plot.Plotter{m} }

// Thumbnail draws nothing: the moment is named where it stands.
func (m Moment) Thumbnail(*draw.Canvas) {}

// Plot draws it.
func (m Moment) Plot(c draw.Canvas, p *plot.Plot) {
	if !(m.At >= p.X.Min && m.At <= p.X.Max) { // nor NaN
		return
	}
	x, _ := p.Transforms(&c)
	c.StrokeLine2(m.Look.line(), x(m.At), c.Min.Y, x(m.At), c.Max.Y+stripHeight-11)
	style := words(11, m.Look.Tone, true)
	style.YAlign = text.YBottom
	style.XAlign = text.XCenter
	at := vg.Point{X: x(m.At), Y: c.Max.Y + stripHeight - 10}
	if half := style.Width(m.Name) / 2; at.X+half > c.Max.X {
		at.X = c.Max.X - half
	}
	c.FillText(style, at, clean(m.Name))
}

// Flag is a thing that happened, as a letter in the strip above the chart.
type Flag struct {
	Letter string
	At     float64
}

// Flags are the events of a chart.
type Flags struct {
	Name string
	List []Flag
}

func (f Flags) key() string { return f.Name }

func (f Flags) extent(b *box) {
	for _, e := range f.List {
		b.x(e.At)
	}
}

func (f Flags) plotters(*box) []plot.Plotter { return []plot.Plotter{f} }

// Plot draws the lines and then their letters; letters that would overlap stand
// one above the other.
func (f Flags) Plot(c draw.Canvas, p *plot.Plot) {
	x, _ := p.Transforms(&c)
	list := append([]Flag(nil), f.List...)
	sort.SliceStable(list, func(i, j int) bool { return list[i].At < list[j].At })
	style := words(10, Ink, true)
	style.XAlign, style.YAlign = text.XCenter, text.YBottom
	row, last := 0, vg.Length(-1e6)
	var letters []vg.Point
	var said []string
	for _, e := range list {
		if !(e.At >= p.X.Min && e.At <= p.X.Max) {
			continue
		}
		at := x(e.At)
		if at-last < 11 {
			row = 1 - row
		} else {
			row = 0
		}
		last = at
		top := vg.Point{X: at, Y: c.Max.Y + 2 + vg.Length(row)*10}
		c.StrokeLine2(draw.LineStyle{Color: Grey.colour(), Width: 0.7, Dashes: []vg.Length{1.5, 2.5}}, at, c.Min.Y, at, top.Y)
		letters, said = append(letters, top), append(said, clean(e.Letter))
	}
	for i := range letters {
		c.FillText(style, letters[i], said[i])
	}
}

// Thumbnail draws the key's sample.
func (f Flags) Thumbnail(c *draw.Canvas) {
	x := c.Center().X
	c.StrokeLine2(draw.LineStyle{Color: Grey.colour(), Width: 0.7, Dashes: []vg.Length{1.5, 2.5}}, x, c.Min.Y, x, c.Max.Y)
}

// Whisker is one value with its interval along the X axis, at a height. An
// infinite Hi is drawn as an arrow; a Centre that is not finite is left out.
type Whisker struct {
	Name           string
	Y              float64
	Lo, Centre, Hi float64
	Look           Look
}

func (w Whisker) key() string { return w.Name }

func (w Whisker) extent(b *box) {
	b.x(w.Lo)
	b.x(w.Centre)
	b.x(w.Hi)
	b.y(w.Y)
}

func (w Whisker) plotters(*box) []plot.Plotter { return []plot.Plotter{w} }

// Plot draws it.
func (w Whisker) Plot(c draw.Canvas, p *plot.Plot) {
	if !(w.Y >= p.Y.Min && w.Y <= p.Y.Max) {
		return
	}
	x, y := p.Transforms(&c)
	whisker(&c, w.Look, c.Min.X, c.Max.X, y(w.Y), place(x, w.Lo), place(x, w.Centre), place(x, w.Hi))
}

// Thumbnail draws the key's sample.
func (w Whisker) Thumbnail(c *draw.Canvas) {
	at := func(v vg.Length) *vg.Length { return &v }
	whisker(c, w.Look, c.Min.X, c.Max.X, c.Center().Y, at(c.Min.X+2), at(c.Center().X), at(c.Max.X-2))
}

// place is where a value stands, nil where it is not finite.
func place(x func(float64) vg.Length, v float64) *vg.Length {
	if !estimate.Finite(v) {
		return nil
	}
	at := x(v)
	return &at
}

// whisker draws a range between the edges of the chart: an end that lies
// outside, or is open, is an arrow.
func whisker(c *draw.Canvas, look Look, left, right, y vg.Length, lo, centre, hi *vg.Length) {
	style := look.line()
	style.Dashes = nil
	from, to := left, right
	if lo == nil && centre == nil && hi == nil {
		return
	}
	const tick, head = 4, 5
	arrow := func(at, turn vg.Length) {
		c.StrokeLines(style, []vg.Point{{X: at + turn, Y: y - tick}, {X: at, Y: y}, {X: at + turn, Y: y + tick}})
	}
	switch {
	case lo != nil && *lo > right: // wholly outside: an arrow says on which side
		arrow(right, -head)
		return
	case hi != nil && *hi < left:
		arrow(left, head)
		return
	}
	if lo != nil && *lo >= left {
		from = *lo
		c.StrokeLine2(style, from, y-tick, from, y+tick)
	} else {
		arrow(from, head)
	}
	if hi != nil && *hi <= right {
		to = *hi
		c.StrokeLine2(style, to, y-tick, to, y+tick)
	} else {
		arrow(to, -head)
	}
	c.StrokeLine2(style, from, y, to, y)
	if centre != nil && *centre >= left && *centre <= right && look.Mark != NoMark {
		g := look.glyph()
		g.Radius = 3.5
		c.DrawGlyph(g, vg.Point{X: *centre, Y: y})
	}
}
