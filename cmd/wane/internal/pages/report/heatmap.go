package report

import (
	"fmt"
	"html"
	"html/template"
	"math"
	"strings"

	"wane/transform/survey"
)

// spot is one cell of a drawn grid.
type spot struct {
	Text      string
	Fill, Ink string // #rrggbb
	Ring      bool   // stands out
}

// Sizes of a drawn grid; the writing in it is 13 high.
const (
	spotWide = 56
	spotHigh = 40
)

// spotGrid draws a grid of spots with the value in each. What it shows is also in
// the figure's table; the title and the description are for those who do not
// see it.
func spotGrid(id, title, desc string, rows, cols int, at func(row, col int) spot) template.HTML {
	var b strings.Builder
	w, h := cols*spotWide, rows*spotHigh
	fmt.Fprintf(&b, `<svg viewBox="0 0 %d %d" role="img" aria-labelledby="%s-t %s-d" class="sized" width="%d">`, w, h, id,
		id, w*5/4)
	fmt.Fprintf(&b, `<title id="%s-t">%s</title><desc id="%s-d">%s</desc>`, id, html.EscapeString(title), id,
		html.EscapeString(desc))
	for r := 1; r <= rows; r++ {
		for c := 1; c <= cols; c++ {
			s := at(r, c)
			x, y := (c-1)*spotWide, (r-1)*spotHigh
			fmt.Fprintf(&b, `<rect x="%d" y="%d" width="%d" height="%d" fill="%s" stroke="#fff"/>`,
				x, y, spotWide, spotHigh, s.Fill)
			if s.Ring {
				fmt.Fprintf(&b, `<rect x="%d" y="%d" width="%d" height="%d" fill="none" stroke="%s" stroke-width="2" stroke-dasharray="4 2"/>`, x+3, y+3, spotWide-6, spotHigh-6, s.Ink)
			}
			fmt.Fprintf(&b, `<text x="%d" y="%d" text-anchor="middle" font-size="13" fill="%s" class="plain">%s</text>`,
				x+spotWide/2, y+spotHigh/2+5, s.Ink, html.EscapeString(s.Text))
		}
	}
	b.WriteString("</svg>")
	return template.HTML(b.String())
}

// scaleBar draws a scale of colours with its ends written on it.
func scaleBar(id, title string, steps int, colour func(share float64) string, lo, hi string) template.HTML {
	var b strings.Builder
	const w, h = 360, 40
	fmt.Fprintf(&b, `<svg viewBox="0 0 %d %d" role="img" aria-labelledby="%s-t" class="sized" width="%d"><title id="%s-t">%s</title>`, w, h, id, w, id, html.EscapeString(title))
	for i := range steps {
		fmt.Fprintf(&b, `<rect x="%.1f" y="0" width="%.1f" height="18" fill="%s"/>`, float64(i)*w/float64(steps),
			float64(w)/float64(steps)+.5, colour((float64(i)+.5)/float64(steps)))
	}
	fmt.Fprintf(&b, `<text x="0" y="34" font-size="13">%s</text><text x="%d" y="34" text-anchor="end" font-size="13">%s</text></svg>`, html.EscapeString(lo), w, html.EscapeString(hi))
	return template.HTML(b.String())
}

// ends of the scale of changes and its middle: "PuOr" of C. Brewer's
// ColorBrewer (Apache 2.0), which red-green colour blindness leaves apart.
var fallen, level0, risen = [3]float64{0xb3, 0x58, 0x06}, [3]float64{0xf7, 0xf7, 0xf7}, [3]float64{0x54, 0x27, 0x88}

// changeColour gives the colour of a change in per cent on a scale from -most
// to most.
func changeColour(pct, most float64) string {
	t := 0.0
	if most > 0 {
		t = math.Max(-1, math.Min(1, pct/most))
	}
	end := risen
	if t < 0 {
		end = fallen
	}
	k := math.Abs(t)
	var c [3]int
	for i := range c {
		c[i] = int(math.Round((1-k)*level0[i] + k*end[i]))
	}
	return fmt.Sprintf("#%02x%02x%02x", c[0], c[1], c[2])
}

// changeInk is the writing on it: white from where black would be hard to read.
func changeInk(pct, most float64) string {
	if most > 0 && pct/most > .55 || most > 0 && pct/most < -.75 {
		return "#ffffff"
	}
	return "#000000"
}

// gridTable is the numbers of a drawn grid, a row a row.
func gridTable(caption string, rows, cols int, at func(row, col int) spot) Table {
	t := Table{Caption: caption, Head: []Column{{Name: "Row"}}}
	for c := 1; c <= cols; c++ {
		t.Head = append(t.Head, Column{Name: fmt.Sprintf("Column %d", c), Numbers: true})
	}
	for r := 1; r <= rows; r++ {
		row := Row{Cells: []Cell{cell(fmt.Sprint(r))}}
		for c := 1; c <= cols; c++ {
			s := at(r, c)
			k := cell(s.Text)
			if s.Ring {
				k.Note = "stands out"
			}
			row.Cells = append(row.Cells, k)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// heat draws a survey on a scale of PPFD.
func heat(id string, s survey.Survey, scale survey.Scale, title, caption string) *Figure {
	rows, cols := s.Size()
	by := map[int]float64{}
	for _, p := range s.Spots {
		by[survey.Number(p.Row, p.Col, cols)] = p.PPFD
	}
	at := func(r, c int) spot {
		v, ok := by[survey.Number(r, c, cols)]
		if !ok {
			return spot{Text: "–", Fill: "#ffffff", Ink: "#1a1a1a"}
		}
		return spot{Text: fmt.Sprintf("%.0f", v), Fill: scale.Colour(v), Ink: scale.Ink(v)}
	}
	desc := "A grid of PPFD readings; its table is below the drawing."
	return &Figure{ID: id, Caption: caption, Drawing: spotGrid(id, title, desc, rows, cols, at),
		Data: gridTable("PPFD, µmol/m²/s", rows, cols, at)}
}
