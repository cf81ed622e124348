package chart

import (
	"bytes"
	"fmt"
	"html"
	"image"
	"image/color"
	"math"
	"strconv"
	"strings"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// canvas writes drawings as short SVG: a tenth of a unit is the grain, strokes of
// one look in a row are one path, words of one look in a row say it once, and a
// filled circle is a dot of a round pen. A
// site of thousands of fixtures has thousands of drawings. Looks are attributes,
// not styles, so that a page may forbid styles but its own.
type canvas struct {
	w, h  vg.Length
	out   bytes.Buffer
	attrs string       // of the path that is being written
	path  bytes.Buffer // its data
	dot   [2]int       // the last one in it
	area  vg.Path      // what it fills, where it is one area
	look  string       // of the words that are being written
	words []word
	stack []state
}

// word is what is written at a place; a single letter that stands upright is told its
// place apart, so that those in a row are written in one.
type word struct {
	where, text string
	x, y        string
}

// state is what Push saves.
type state struct {
	colour color.Color
	width  vg.Length
	dashes []vg.Length
	m      [6]float64 // x' = m0 x + m2 y + m4, y' = m1 x + m3 y + m5
}

var _ vg.CanvasSizer = (*canvas)(nil)

func newCanvas(w, h vg.Length) *canvas {
	c := &canvas{w: w, h: h, stack: []state{{m: [6]float64{1, 0, 0, -1, 0, float64(h)}}}}
	vg.Initialize(c)
	return c
}

func (c *canvas) top() *state { return &c.stack[len(c.stack)-1] }

// Size is that of the drawing.
func (c *canvas) Size() (w, h vg.Length) { return c.w, c.h }

// SetLineWidth, SetLineDash and SetColor set how is drawn from here.
func (c *canvas) SetLineWidth(w vg.Length) { c.top().width = w }

// SetLineDash sets the dashes; an offset is not drawn here.
func (c *canvas) SetLineDash(d []vg.Length, _ vg.Length) { c.top().dashes = d }

// SetColor sets the colour of strokes and fills.
func (c *canvas) SetColor(col color.Color) { c.top().colour = col }

// Push and Pop keep the state.
func (c *canvas) Push() { c.stack = append(c.stack, *c.top()) }

// Pop takes up the state that was pushed last.
func (c *canvas) Pop() { c.stack = c.stack[:len(c.stack)-1] }

// Translate moves what is drawn from here.
func (c *canvas) Translate(p vg.Point) {
	m := &c.top().m
	m[4], m[5] = m[4]+m[0]*float64(p.X)+m[2]*float64(p.Y), m[5]+m[1]*float64(p.X)+m[3]*float64(p.Y)
}

// Rotate turns it.
func (c *canvas) Rotate(rad float64) {
	s, k := math.Sincos(rad)
	m := &c.top().m
	m[0], m[1], m[2], m[3] = m[0]*k+m[2]*s, m[1]*k+m[3]*s, m[2]*k-m[0]*s, m[3]*k-m[1]*s
}

// Scale stretches it.
func (c *canvas) Scale(x, y float64) {
	m := &c.top().m
	m[0], m[1], m[2], m[3] = m[0]*x, m[1]*x, m[2]*y, m[3]*y
}

// at gives a point in tenths of a unit, from the upper left corner.
func (c *canvas) at(p vg.Point) (x, y int) {
	m := &c.top().m
	return int(math.Round(10 * (m[0]*float64(p.X) + m[2]*float64(p.Y) + m[4]))),
		int(math.Round(10 * (m[1]*float64(p.X) + m[3]*float64(p.Y) + m[5])))
}

// tenths writes so many tenths in the fewest letters.
func tenths(n int) string {
	s := strconv.FormatFloat(float64(n)/10, 'f', -1, 64)
	if strings.HasPrefix(s, "0.") {
		return s[1:]
	}
	return strings.Replace(s, "-0.", "-.", 1)
}

// pair writes two numbers, a space only where they would run together.
func pair(x, y int) string {
	a, b := tenths(x), tenths(y)
	if b[0] != '-' && !(b[0] == '.' && strings.Contains(a, ".")) {
		a += " "
	}
	return a + b
}

// paint gives the attributes of a colour.
func paint(what string, col color.Color) string {
	if col == nil {
		col = color.Black
	}
	n := color.NRGBAModel.Convert(col).(color.NRGBA)
	s := fmt.Sprintf(` %s="#%02x%02x%02x"`, what, n.R, n.G, n.B)
	if n.A != 0xff {
		s += fmt.Sprintf(` %s-opacity="%.2g"`, what, float64(n.A)/255)
	}
	return s
}

// flush ends the path or the words that are being written.
func (c *canvas) flush() {
	if c.path.Len() > 0 {
		fmt.Fprintf(&c.out, `<path d="%s"%s/>`, c.path.String(), c.attrs)
		c.path.Reset()
	}
	c.area = nil
	list := inRows(c.words)
	c.words = nil
	if len(list) == 1 {
		fmt.Fprintf(&c.out, `<text %s%s>%s</text>`, list[0].where, c.look, list[0].text)
		return
	}
	if len(list) > 1 {
		fmt.Fprintf(&c.out, `<g%s>`, c.look)
		for _, w := range list {
			fmt.Fprintf(&c.out, `<text %s>%s</text>`, w.where, w.text)
		}
		c.out.WriteString("</g>")
	}
}

// inRows writes letters of one height as one word, each at its own place.
func inRows(words []word) (out []word) {
	row := map[string]int{}
	for _, w := range words {
		i, ok := row[w.y]
		if len(w.text) != 1 || w.y == "" || w.text < "A" || w.text > "Z" { // figures are an axis'
			out = append(out, w)
		} else if !ok {
			row[w.y] = len(out)
			out = append(out, w)
		} else {
			o := &out[i]
			o.x, o.text = o.x+" "+w.x, o.text+w.text
			o.where = fmt.Sprintf(`x="%s" y="%s"`, o.x, o.y)
		}
	}
	return out
}

// begin goes on with the present path where it has the same look.
func (c *canvas) begin(attrs string) {
	if attrs != c.attrs || len(c.words) > 0 {
		c.flush()
		c.attrs = attrs
	}
}

// Stroke draws a line, or the edge of the area that was filled last.
func (c *canvas) Stroke(p vg.Path) {
	s := c.top()
	if s.width <= 0 {
		return
	}
	attrs := paint("stroke", s.colour)
	if s.width != 1 {
		attrs += fmt.Sprintf(` stroke-width="%s"`, tenths(int(math.Round(10*float64(s.width)))))
	}
	if len(s.dashes) > 0 {
		var d []string
		for _, x := range s.dashes {
			d = append(d, tenths(int(math.Round(10*float64(x)))))
		}
		attrs += ` stroke-dasharray="` + strings.Join(d, " ") + `"`
	}
	if len(c.area) > 0 && len(c.area) == len(p) && &c.area[0] == &p[0] {
		c.attrs += attrs
		c.flush()
		return
	}
	c.begin(` fill="none"` + attrs)
	c.data(p)
}

// Fill fills an area. Areas that let what lies below shine through are paths of
// their own: where they overlap, it shows.
func (c *canvas) Fill(p vg.Path) {
	if len(p) > 1 && p[1].Type == vg.ArcComp && math.Abs(p[1].Angle) >= 2*math.Pi {
		x, y := c.at(p[1].Pos)
		c.begin(fmt.Sprintf(` stroke-linecap="round" fill="none" stroke-width="%s"`,
			tenths(int(math.Round(20*float64(p[1].Radius))))) + paint("stroke", c.top().colour))
		if c.path.Len() == 0 {
			fmt.Fprintf(&c.path, "M%sh0", pair(x, y))
		} else {
			fmt.Fprintf(&c.path, "m%sh0", pair(x-c.dot[0], y-c.dot[1]))
		}
		c.dot = [2]int{x, y}
		return
	}
	c.begin(paint("fill", c.top().colour))
	if strings.Contains(c.attrs, "opacity") {
		c.flush()
		c.area = p
	}
	c.data(p)
}

// data writes a path's moves, from one rounded point to the next, so that what is
// rounded off does not add up.
func (c *canvas) data(p vg.Path) {
	x, y := 0, 0
	letter := byte(0)
	put := func(l byte, s string) {
		if l != letter || l == 'M' {
			c.path.WriteByte(l)
		} else if s[0] != '-' {
			c.path.WriteByte(' ')
		}
		letter = l
		c.path.WriteString(s)
	}
	line := func(to vg.Point) {
		nx, ny := c.at(to)
		switch {
		case nx != x && ny != y:
			put('l', pair(nx-x, ny-y))
		case nx != x:
			put('h', tenths(nx-x))
		case ny != y:
			put('v', tenths(ny-y))
		}
		x, y = nx, ny
	}
	for _, k := range p {
		switch k.Type {
		case vg.MoveComp:
			x, y = c.at(k.Pos)
			put('M', pair(x, y))
		case vg.LineComp:
			line(k.Pos)
		case vg.CurveComp: // none of ours is drawn with curves: its ends are right
			line(k.Pos)
		case vg.ArcComp:
			n := max(int(math.Ceil(math.Abs(k.Angle)/(math.Pi/8))), 1)
			for i := range n + 1 {
				s, q := math.Sincos(k.Start + k.Angle*float64(i)/float64(n))
				line(vg.Point{X: k.Pos.X + k.Radius*vg.Length(q), Y: k.Pos.Y + k.Radius*vg.Length(s)})
			}
		case vg.CloseComp:
			c.path.WriteByte('z')
			letter = 'z'
		}
	}
}

// FillString writes words. Their face is the page's.
func (c *canvas) FillString(f font.Face, pt vg.Point, s string) {
	m := &c.top().m
	x, y := c.at(pt)
	w := word{x: tenths(x), y: tenths(y), text: html.EscapeString(s)}
	w.where = fmt.Sprintf(`x="%s" y="%s"`, w.x, w.y)
	if m[0] < 0.999 { // turned
		w.y, w.where = "", fmt.Sprintf(`transform="translate(%s) rotate(%.0f)"`, pair(x, y), math.Atan2(m[1], m[0])*180/math.Pi)
	}
	look := fmt.Sprintf(` font-size="%s"`, tenths(int(math.Round(10*float64(f.Font.Size)))))
	if f.Font.Weight > 0 {
		look += ` font-weight="bold"`
	}
	look += paint("fill", c.top().colour)
	if c.path.Len() > 0 || look != c.look {
		c.flush()
		c.look = look
	}
	c.words = append(c.words, w)
}

// DrawImage draws nothing: no chart of ours holds a picture.
func (c *canvas) DrawImage(vg.Rectangle, image.Image) {}

// body is what was drawn.
func (c *canvas) body() string {
	c.flush()
	return c.out.String()
}
