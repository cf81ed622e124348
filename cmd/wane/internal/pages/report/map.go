package report

import (
	"cmp"
	"fmt"
	"html"
	"html/template"
	"math"
	"slices"
	"strings"

	"wane/cmd/wane/internal/pages/chart"
	"wane/transform/due"
	"wane/transform/forecast"
	"wane/transform/todo"
)

// Map is a room seen from above, with a mark a lamp.
type Map struct {
	Caption string
	Drawing template.HTML
	Key     []FigureKey
}

// look is how a lamp is drawn on a map: no two states share a shape.
type look struct{ path, fill, stroke, dash, words string }

// The looks, on a mark of markWide by markHigh.
const markWide, markHigh = 56, 34

var (
	darkMark  = look{"M17 0h22a17 17 0 0 1 0 34h-22a17 17 0 0 1 0-34z", "#1a1a1a", "#1a1a1a", "", "dark"}
	underMark = look{"M0 0h56v20l-28 14-28-14z", "#f6d9c6", "#b84600", "", "under its threshold"}
	dueMark   = look{"M10 0h36l10 17-10 17h-36l-10-17z", "#fbe9b7", "#8f6600", "",
		fmt.Sprintf("due in %d days", todo.DueDays)}
	standsMark  = look{"M0 0h56v34h-56z", "#d5ebe3", "#007455", "", "nothing to do in that time"}
	unknownMark = look{"M0 0h56v34h-56z", "#ffffff", "#6b6b6b", "4 3", "no date can be given"}
)

func markOf(k todo.Kind) look {
	switch k {
	case todo.Dark:
		return darkMark
	case todo.Under:
		return underMark
	case todo.Due:
		return dueMark
	case todo.Nothing:
		return standsMark
	}
	return unknownMark
}

// placed is a lamp with its place on the drawing.
type placed struct {
	d    *due.Lamp
	x, y float64
}

// mapOf draws the room's lamps where they hang; where the register does not say
// where, by bay, in the order of their names.
func (b *book) mapOf(r *roomBook) Map {
	var list []placed
	for _, d := range r.due {
		if f := d.Life.Fixture; f.Spot.Known && f.Bay == d.Life.Place.Bay { // one that was moved hangs elsewhere
			list = append(list, placed{d, f.Spot.X, f.Spot.Y})
		}
	}
	m := Map{Caption: "Where the fixtures hang, seen from above, by x and y of fixtures.csv."}
	var headings []string
	w, h := 0.0, 0.0
	if 2*len(list) >= len(r.due) && len(list) > 0 {
		w, h = spread2(list)
		if rest := without(r.due, list); len(rest) > 0 {
			more, names, w2, h2 := byBay(rest)
			list, headings = append(list, lower(more, h+3*markRoom)...), lowered(names, h+3*markRoom)
			w, h = max(w, w2), h+3*markRoom+h2
			m.Caption += " Below, by bay, those whose place fixtures.csv does not tell, or that were moved since."
		}
	} else {
		var names []heading
		list, names, w, h = byBay(r.due)
		headings = lowered(names, 0)
		m.Caption = "By bay: a row a bay, in the order of names. With columns x and y in fixtures.csv they are drawn where they hang."
	}
	m.Drawing = b.drawMap(r.name, list, headings, w, h)
	for _, l := range []look{darkMark, underMark, dueMark, standsMark, unknownMark} {
		m.Key = append(m.Key, FigureKey{template.HTML(`<svg class="sample" viewBox="-1 -1 58 36" width="36" height="22" aria-hidden="true">` + l.svg() + `</svg>`), l.words})
	}
	return m
}

func (l look) svg() string {
	dash := ""
	if l.dash != "" {
		dash = ` stroke-dasharray="` + l.dash + `"`
	}
	return fmt.Sprintf(`<path d="%s" fill="%s" stroke="%s"%s/>`, l.path, l.fill, l.stroke, dash)
}

// heading is a bay's name on the drawing.
type heading struct {
	words string
	y     float64
}

func lowered(list []heading, by float64) (out []string) {
	for _, h := range list {
		out = append(out, fmt.Sprintf(`<text x="0" y="%.0f" font-size="12" font-weight="bold" fill="#1a1a1a">%s</text>`,
			h.y+by, html.EscapeString(h.words)))
	}
	return out
}

func lower(list []placed, by float64) []placed {
	for i := range list {
		list[i].y += by
	}
	return list
}

// without gives the lamps that have no place yet.
func without(lamps []*due.Lamp, list []placed) (out []*due.Lamp) {
	has := map[*due.Lamp]bool{}
	for _, p := range list {
		has[p.d] = true
	}
	for _, d := range lamps {
		if !has[d] {
			out = append(out, d)
		}
	}
	return out
}

// Room between marks, and the width of a map that is not stretched by its lamps.
const (
	markRoom = 10
	mapWide  = 1000
	// mapShrinks is how wide a map may be and still be read at the width of a phone.
	mapShrinks = 460
	mostHigh   = 3000
)

// spread2 puts places in metres on the drawing, so that no two neighbours lie on
// each other, and gives its size. North, where y grows, is up.
func spread2(list []placed) (w, h float64) {
	x0, x1, y0, y1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, p := range list {
		x0, x1, y0, y1 = min(x0, p.x), max(x1, p.x), min(y0, p.y), max(y1, p.y)
	}
	// pixels a metre: the nearest neighbours in a row, and in a column, keep apart
	scale := func(get func(placed) (along, across float64), mark, extent, most float64) float64 {
		near := math.Inf(1)
		s := slices.Clone(list)
		slices.SortFunc(s, func(a, b placed) int {
			a1, a2 := get(a)
			b1, b2 := get(b)
			return cmp.Or(cmp.Compare(a2, b2), cmp.Compare(a1, b1))
		})
		for i := 1; i < len(s); i++ {
			a1, a2 := get(s[i-1])
			b1, b2 := get(s[i])
			if a2 == b2 && b1 > a1 {
				near = min(near, b1-a1)
			}
		}
		if math.IsInf(near, 1) || extent == 0 {
			near = max(extent, 1)
		}
		return min(mark/near, most/max(extent, 1e-9))
	}
	sx := scale(func(p placed) (float64, float64) { return p.x, p.y }, markWide+markRoom, x1-x0, 3*mapWide)
	sy := scale(func(p placed) (float64, float64) { return p.y, p.x }, markHigh+2*markRoom, y1-y0, mostHigh)
	for i := range list {
		list[i].x, list[i].y = (list[i].x-x0)*sx, (y1-list[i].y)*sy
	}
	return (x1-x0)*sx + markWide, (y1-y0)*sy + markHigh
}

// byBay puts lamps in rows, a bay after the other.
func byBay(lamps []*due.Lamp) (list []placed, names []heading, w, h float64) {
	s := slices.Clone(lamps)
	slices.SortStableFunc(s, func(a, b *due.Lamp) int { return cmp.Compare(a.Life.Place.Bay, b.Life.Place.Bay) })
	const perRow = mapWide / (markWide + markRoom)
	y, n := 0.0, 0
	for i, d := range s {
		if i == 0 || s[i-1].Life.Place.Bay != d.Life.Place.Bay {
			if i > 0 {
				y += markHigh + 2*markRoom
			}
			names = append(names, heading{bayWords(d.Life.Place.Bay), y + 12})
			y, n = y+18, 0
		}
		if n == perRow {
			y, n = y+markHigh+2*markRoom, 0
		}
		list = append(list, placed{d, float64(n) * (markWide + markRoom), y})
		n++
		w, h = max(w, float64(n)*(markWide+markRoom)), y+markHigh
	}
	return list, names, w, h
}

func bayWords(bay string) string {
	if bay == "" {
		return "no bay named"
	}
	return "bay " + bay
}

func (b *book) drawMap(room string, list []placed, headings []string, w, h float64) template.HTML {
	var out strings.Builder
	class := "sized" // a little too wide for a narrow page: it shrinks to it
	if w > mapShrinks {
		class = "sized map"
	}
	fmt.Fprintf(&out, `<svg class="%s" viewBox="-4 -4 %.0f %.0f" width="%.0f" role="group" aria-label="%s from above, a mark a fixture">`, class, w+8, h+20, w+8, html.EscapeString(roomWords(room)))
	out.WriteString(strings.Join(headings, ""))
	for _, p := range list {
		id := p.d.Life.Fixture.ID
		k := b.kinds[id]
		l := markOf(k)
		text, ink := "?", "#1a1a1a"
		switch {
		case p.d.Answer.Status == forecast.StatusDark:
			text, ink = "dark", "#ffffff"
		case p.d.Answer.Level.Known():
			text = chart.Number(p.d.Answer.Level.Centre, 2)
		}
		said := fmt.Sprintf("%s: %s, %s", id, statusOf(p.d.Answer.Status).Word, levelWords(p.d))
		fmt.Fprintf(&out, `<a href="../%s"><g transform="translate(%.0f %.0f)"><title>%s</title>%s<text x="28" y="21" text-anchor="middle" font-size="13" fill="%s" class="plain">%s</text><text x="28" y="45" text-anchor="middle" font-size="10" fill="#1a1a1a">%s</text></g></a>`,
			html.EscapeString(b.links[id]), p.x, p.y, html.EscapeString(said), l.svg(), ink, text,
			html.EscapeString(chart.Short(id, 10)))
	}
	out.WriteString("</svg>")
	return template.HTML(out.String())
}
