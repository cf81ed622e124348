package chart

import (
	"sort"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"wane/transform/estimate"
)

// Named is words that stand right of a place on the chart, such as a line's
// end.
type Named struct {
	Words string
	X, Y  float64
	Tone  Tone
}

// Names write what lines are beside their ends, so that no key has to be looked
// up. Those that would overlap move apart. The caller leaves room on the right:
// see NameRoom.
type Names []Named

// NameRoom is the share of the X axis' length that names take.
const NameRoom = .18

// widest is by how much a reader's face may be wider than the one that is reckoned
// with.
const widest = 1.2

// namesLeft gives a chart's rows their names, with room between them and the axis for
// as much wider as a reader's face may be.
func namesLeft(p *plot.Plot, names []plot.Tick) {
	p.Y.Tick.Marker = plot.ConstantTicks(names)
	p.Y.Tick.Length = 0
	p.Y.LineStyle.Width = 0
	for _, n := range names {
		p.Y.Padding = max(p.Y.Padding, (widest-1)*p.Y.Tick.Label.Width(n.Label))
	}
}

// nameHeight is the least distance between two names.
const nameHeight = vg.Length(12)

func (n Names) key() string                  { return "" }
func (n Names) plotters(*box) []plot.Plotter { return []plot.Plotter{n} }

func (n Names) extent(b *box) {
	for _, e := range n {
		b.x(e.X)
		b.y(e.Y)
	}
}

// Thumbnail draws nothing: names say themselves what they are.
func (n Names) Thumbnail(*draw.Canvas) {}

// Plot writes them.
func (n Names) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	list := make(Names, 0, len(n))
	for _, e := range n {
		if estimate.Finite(e.X) && estimate.Finite(e.Y) {
			list = append(list, e)
		}
	}
	sort.SliceStable(list, func(i, j int) bool { return list[i].Y < list[j].Y })
	at := make([]vg.Length, len(list))
	for i, e := range list {
		at[i] = min(max(y(e.Y), c.Min.Y+nameHeight/2), c.Max.Y-nameHeight/2)
	}
	apart(at, c.Min.Y+nameHeight/2, c.Max.Y-nameHeight/2)
	for i, e := range list {
		style := words(11, e.Tone, true)
		style.YAlign = text.YCenter
		from := min(x(e.X)+6, c.Max.X-20)
		w := clean(e.Words)
		for n := len([]rune(w)); n > 2 && widest*style.Width(w) > c.Max.X+6-from; n-- {
			w = short(e.Words, n-1)
		}
		c.FillText(style, vg.Point{X: from, Y: at[i]}, w)
	}
}

// apart moves heights, given from low to high, so far that each two leave room,
// between two ends where all of them fit there.
func apart(at []vg.Length, lo, hi vg.Length) {
	if len(at) > 0 {
		at[0] = max(at[0], lo)
	}
	for i := 1; i < len(at); i++ {
		at[i] = max(at[i], at[i-1]+nameHeight)
	}
	over := hi
	for i := len(at) - 1; i >= 0; i-- {
		at[i] = max(min(at[i], over), lo)
		over = at[i] - nameHeight
	}
}
