package chart

import (
	"math"

	weight "golang.org/x/image/font"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Chart is something that can be drawn at two sizes.
type Chart interface {
	// SVG gives the drawing, wide and narrow, for setting into HTML. id must
	// be unique on the page and safe in an attribute: letters, digits, hyphens.
	SVG(id string) string
	// Keys gives what the key below the drawing says.
	Keys() []Key
}

// Key is one entry of a chart's key: a sample as SVG, and its words.
type Key struct {
	Sample string
	Words  string
}

// XY is a chart of layers over two axes; the first layer lies lowest.
type XY struct {
	Title  string // what it shows, in a few words
	Desc   string // what there is to see, for those who do not see it
	X, Y   Axis
	Layers []Layer
	Height float64 // of the wide drawing; 0: 420
	Slim   bool    // one drawing for every width, the narrow one
}

var _ Chart = XY{}

// Widths of the two drawings, in units of which the writing is 12 high.
const (
	wideWidth   = 940
	narrowWidth = 400
	// stripHeight is the room above a chart for events.
	stripHeight = 34
)

// SVG draws the chart.
func (x XY) SVG(id string) string {
	h := x.Height
	if h == 0 {
		h = 420
	}
	return both(id, x.Title, x.Desc, x.Slim, func(w float64, narrow bool) (float64, func(draw.Canvas)) {
		height := h
		if narrow {
			height = min(h, 330)
		}
		return height, func(c draw.Canvas) { x.draw(c, w, height) }
	})
}

func (x XY) draw(c draw.Canvas, w, h float64) {
	b := x.box()
	p := newPlot(x.X, x.Y, int(w/95), int(h/60))
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = b.x0, b.x1, b.y0, b.y1
	for _, l := range x.Layers {
		for _, d := range l.plotters(b) {
			p.Add(rangeless{d})
		}
	}
	top := vg.Length(6)
	if x.strip() {
		top = stripHeight
	}
	p.Draw(draw.Crop(c, 2, -8, 2, -top))
}

// leastRange is the least range of an axis, as a share of its values: below it
// ticks run out of digits.
const leastRange = 1e-9

// box is the range of the axes: as asked for, or that of the data and a little.
func (x XY) box() *box {
	b := emptyBox()
	for _, l := range x.Layers {
		l.extent(b)
	}
	if x.X.Min < x.X.Max {
		b.x0, b.x1 = x.X.Min, x.X.Max
	}
	if x.Y.Min < x.Y.Max {
		b.y0, b.y1 = x.Y.Min, x.Y.Max
	} else if b.y0 < b.y1 {
		room := 0.05 * (b.y1 - b.y0)
		b.y0, b.y1 = b.y0-room, b.y1+room
	}
	open := func(lo, hi *float64) {
		if !(*lo <= *hi) {
			*lo, *hi = 0, 1
		}
		if *hi-*lo <= leastRange*max(1e-6, math.Abs(*lo), math.Abs(*hi)) {
			*lo, *hi = *lo-0.5, *hi+0.5
		}
	}
	open(&b.x0, &b.x1)
	open(&b.y0, &b.y1)
	return b
}

// strip says whether something stands above the chart.
func (x XY) strip() bool {
	for _, l := range x.Layers {
		switch l.(type) {
		case Moment, Flags:
			return true
		}
	}
	return false
}

// Keys gives an entry for each layer that has a name.
func (x XY) Keys() []Key {
	var out []Key
	for _, l := range x.Layers {
		if l.key() != "" {
			out = append(out, Key{Sample: sample(l), Words: l.key()})
		}
	}
	return out
}

// rangeless hides a plotter's own range: the box is the range.
type rangeless struct{ plot.Plotter }

// newPlot is an empty plot in the house's style, with about nx and ny ticks.
func newPlot(x, y Axis, nx, ny int) *plot.Plot {
	p := plot.New()
	p.BackgroundColor = nil
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.LineStyle = draw.LineStyle{Color: Ink.colour(), Width: 0.8}
		a.Tick.LineStyle = a.LineStyle
		a.Tick.Length = 4
		a.Padding = 0
	}
	set := func(s *text.Style, size float64) {
		s.Font, s.Color = sans(size, false), Ink.colour()
	}
	set(&p.X.Label.TextStyle, 12)
	set(&p.Y.Label.TextStyle, 12)
	set(&p.X.Tick.Label, 11)
	set(&p.Y.Tick.Label, 11)
	p.X.Label.Text, p.Y.Label.Text = clean(x.Label), clean(y.Label)
	p.X.Label.Padding, p.Y.Label.Padding = 4, 6
	p.X.Tick.Marker, p.Y.Tick.Marker = ticker{x, max(nx, 3)}, ticker{y, max(ny, 3)}
	grid := plotter.NewGrid()
	grid.Vertical = draw.LineStyle{}
	grid.Horizontal = draw.LineStyle{Color: tones[Grey], Width: 0.3}
	p.Add(grid)
	return p
}

// sans is the face that the layout is made with.
func sans(size float64, bold bool) font.Font {
	f := font.Font{Typeface: "Liberation", Variant: "Sans", Size: vg.Length(size)}
	if bold {
		f.Weight = weight.WeightBold
	}
	return f
}

// words is a style of writing on the chart itself.
func words(size float64, t Tone, bold bool) text.Style {
	return text.Style{Color: t.colour(), Font: sans(size, bold), Handler: plot.DefaultTextHandler}
}
