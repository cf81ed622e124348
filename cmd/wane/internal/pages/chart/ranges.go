package chart

import (
	"image/color"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"wane/transform/estimate"
)

// Range is one row: a value with its interval. An infinite end is an arrow; a
// Centre that is not finite is left out.
type Range struct {
	Label          string
	Lo, Centre, Hi float64
	Look           Look
	Note           string  // words right of the interval
	At             float64 // where the Note stands where there is no interval
}

// RangeGroup is the rows under one heading.
type RangeGroup struct {
	Heading string
	Rows    []Range
}

// Ranges is a chart of values with their intervals, one below the other.
type Ranges struct {
	Title, Desc string
	X           Axis
	Groups      []RangeGroup
	Moments     []Moment
	Samples     []Key   // what the looks mean; see Sample
	Row         float64 // height of a row; 0 = the usual
}

var _ Chart = Ranges{}

// Sample makes an entry of a key for a look of rows.
func Sample(look Look, words string) Key {
	return Key{Sample: sample(Whisker{Look: look}), Words: words}
}

// Keys gives the samples.
func (r Ranges) Keys() []Key { return r.Samples }

const rowHeight = 16

func (r Ranges) row() float64 {
	if r.Row > 0 {
		return r.Row
	}
	return rowHeight
}

// SVG draws the chart.
func (r Ranges) SVG(id string) string {
	lines := 0
	for _, g := range r.Groups {
		lines += 1 + len(g.Rows)
	}
	return both(id, r.Title, r.Desc, false, func(w float64, narrow bool) (float64, func(draw.Canvas)) {
		h := r.row()*float64(max(lines, 1)) + 56 + stripHeight
		letters := 30
		if narrow {
			letters = 13
		}
		return h, func(c draw.Canvas) { r.draw(c, w, lines, letters) }
	})
}

func (r Ranges) draw(c draw.Canvas, w float64, lines, letters int) {
	b := emptyBox()
	for _, g := range r.Groups {
		for _, row := range g.Rows {
			b.x(row.Lo)
			b.x(row.Centre)
			b.x(row.Hi)
		}
	}
	for _, m := range r.Moments {
		b.x(m.At)
	}
	x := XY{X: r.X, Layers: nil}
	if !(r.X.Min < r.X.Max) {
		x.X.Min, x.X.Max = b.x0, b.x1
	}
	x.Y.Min, x.Y.Max = -0.5, float64(max(lines, 1))-0.5
	b = x.box()
	p := newPlot(r.X, Axis{}, int(w/95), 3)
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = b.x0, b.x1, b.y0, b.y1
	rows := rowsOf(r.Groups, lines, letters)
	namesLeft(p, rows.ticks)
	for _, m := range r.Moments {
		p.Add(rangeless{m})
	}
	p.Add(rangeless{rows})
	c = draw.Crop(c, 2, -8, 2, -stripHeight)
	area := p.DataCanvas(c)
	p.Draw(draw.Crop(c, 0, -rows.noteRoom(area.Max.X-area.Min.X, b), 0, 0))
}

// noteGap is between an interval and its note.
const noteGap = 8

// noteRoom is how much of a width the notes need right of the axis, so that none
// lies over an interval: as much as leaves each its room right of its own.
func (r *rowsAt) noteRoom(width vg.Length, b *box) (room vg.Length) {
	note := noteStyle()
	for _, row := range r.ranges {
		if row.Note == "" || row.beyond(b.x1) {
			continue
		}
		share := vg.Length(min(max((row.noteAt()-b.x0)/(b.x1-b.x0), 0), 1))
		free := width - noteGap - widest*note.Width(clean(row.Note))
		if share > 0 && free > 0 && share*width > free {
			room = max(room, width-free/share)
		}
	}
	return min(room, width/2)
}

// noteAt is where a row's note stands: right of what is drawn, or where it says.
func (r Range) noteAt() float64 {
	at := r.At
	for _, v := range []float64{r.Lo, r.Centre, r.Hi} {
		if estimate.Finite(v) {
			at = v
		}
	}
	if math.IsInf(r.Hi, 1) {
		return r.Hi
	}
	return at
}

// beyond says whether the row begins right of the axis, so that it is an arrow.
func (r Range) beyond(right float64) bool { return estimate.Finite(r.Lo) && r.Lo > right }

func noteStyle() text.Style {
	s := words(10, Grey, false)
	s.YAlign = text.YCenter
	return s
}

// rowsAt is the rows with their heights, headings among them.
type rowsAt struct {
	ticks    []plot.Tick
	heights  []float64
	ranges   []Range
	headings map[float64]string
	order    []float64
}

func rowsOf(groups []RangeGroup, lines, letters int) *rowsAt {
	out := &rowsAt{headings: map[float64]string{}}
	y := float64(lines - 1)
	for _, g := range groups {
		out.headings[y] = g.Heading
		out.order = append(out.order, y)
		y--
		for _, row := range g.Rows {
			out.ticks = append(out.ticks, plot.Tick{Value: y, Label: short(row.Label, letters)})
			out.heights = append(out.heights, y)
			out.ranges = append(out.ranges, row)
			y--
		}
	}
	return out
}

// Plot draws the rows.
func (r *rowsAt) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	heading := words(12, Ink, true)
	heading.YAlign = text.YCenter
	for _, at := range r.order {
		top := y(at + 0.5)
		c.StrokeLine2(draw.LineStyle{Color: Grey.colour(), Width: 0.8}, c.Min.X, top, c.Max.X, top)
		name := clean(r.headings[at])
		w := heading.Width(name) + 8
		c.FillPolygon(color.White, []vg.Point{{X: c.Min.X, Y: top - 1}, {X: c.Min.X + w, Y: top - 1},
			{X: c.Min.X + w, Y: y(at - 0.45)}, {X: c.Min.X, Y: y(at - 0.45)}})
		c.FillText(heading, vg.Point{X: c.Min.X + 3, Y: y(at) + heading.FontExtents().Descent/2}, name)
	}
	note := noteStyle()
	for i, row := range r.ranges {
		at := y(r.heights[i])
		whisker(&c, row.Look, c.Min.X, c.Max.X, at, place(x, row.Lo), place(x, row.Centre), place(x, row.Hi))
		if row.Note == "" {
			continue
		}
		left := min(max(x(row.noteAt()), c.Min.X), c.Max.X) + noteGap
		if row.beyond(p.X.Max) {
			left = c.Max.X - 2*noteGap - note.Width(clean(row.Note))
		}
		c.FillText(note, vg.Point{X: left, Y: at + note.FontExtents().Descent}, clean(row.Note))
	}
}
