package surveysheet

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// about gives a grid what the sheet says of it: of each thing the nearest
// mention above or beside it, else the nearest below it and above the next grid.
func (g *grids) about(f *Found, boxes []box, i int) {
	b := boxes[i]
	for _, form := range factForms {
		if x, ok := g.nearest(form.what, boxes, i); ok {
			g.apply(f, x)
		}
	}
	for r := max(0, b.top-6); r < b.top; r++ {
		for c := range g.sheet.Cells[r] {
			if t := g.sheet.at(r, c).Text; t != "" && !g.used[[2]int{r, c}] && g.mine(r, c, boxes, i) {
				f.Titles = append(f.Titles, t)
			}
		}
	}
	f.Common = g.common(boxes, i)
	if g.sheet.Name != "" {
		f.Common = append(f.Common, g.sheet.Name)
	}
	g.titled(f)
}

// common gives the titles over all grids: alone in their rows, and, for a grid
// below another, parted by a blank row from what that one is called.
func (g *grids) common(boxes []box, i int) (out []string) {
	first := boxes[0].top
	for _, b := range boxes {
		first = min(first, b.top)
	}
	blank := boxes[i].top <= boxes[0].bottom // beside the first or it itself
	for r := first - 1; r >= 0; r-- {
		var texts []string
		used := false
		for c := range g.sheet.Cells[r] {
			if t := g.sheet.at(r, c).Text; t != "" {
				texts, used = append(texts, t), used || g.used[[2]int{r, c}]
			}
		}
		switch {
		case len(texts) == 0:
			blank = true
		case blank && len(texts) == 1 && !used:
			out = append(out, texts[0])
		}
	}
	return out
}

// mine says whether a cell above a grid is about it and no other: below every
// grid that ends above it, and, of grids side by side, in its own columns.
func (g *grids) mine(row, col int, boxes []box, i int) bool {
	b := boxes[i]
	for k, o := range boxes {
		switch {
		case k == i:
		case o.bottom < b.top && row <= o.bottom: // about an earlier one
			return false
		case o.top <= b.bottom && o.bottom >= b.top && g.sideBySide(row, boxes, i): // beside it
			if o.left > b.left && col >= o.left-1 || o.left < b.left && col < b.left-1 {
				return false
			}
		}
	}
	return true
}

// sideBySide says whether a row stands right above grids that lie beside each
// other, at most three rows away: what stands higher is about all of them.
func (g *grids) sideBySide(row int, boxes []box, i int) bool {
	return row >= boxes[i].top-3
}

// below says whether a fact stands under a grid and over no other, in its own
// columns where another lies beside it.
func (g *grids) below(x fact, boxes []box, i int) bool {
	b := boxes[i]
	for k, o := range boxes {
		switch {
		case k == i:
		case o.top > b.bottom && x.row >= o.top-1:
			return false
		case o.top <= b.bottom && o.bottom >= b.top && (o.left > b.left && x.col >= o.left-1 || o.left < b.left &&
			x.col < b.left-1):
			return false
		}
	}
	return x.row > b.bottom
}

func (g *grids) lowest(boxes []box) int {
	n := 0
	for _, b := range boxes {
		n = max(n, b.bottom)
	}
	return n
}

func (g *grids) nearest(what string, boxes []box, i int) (best fact, ok bool) {
	b := boxes[i]
	rank := func(x fact) int {
		switch {
		case x.row <= b.bottom && g.mine(x.row, x.col, boxes, i):
			return 1000000 + x.row // above or beside: the lowest is the nearest
		case x.row <= b.bottom && x.row < boxes[0].top: // said once for the sheet
			return 500000 + x.row
		case g.below(x, boxes, i):
			return 100000 - x.row
		case x.row > b.bottom && g.lowest(boxes) < x.row: // said once, at the foot of the sheet
			return 50000 - x.row
		}
		return 0
	}
	most := 0
	for _, x := range g.said {
		if n := rank(x); x.what == what && n > most {
			best, most = x, n
		}
	}
	return best, most > 0
}

// apply puts what a fact says into the survey, or doubts it.
func (g *grids) apply(f *Found, x fact) {
	text, where := x.value.Text, g.sheet.where(x.row, x.col)
	s := &f.Survey
	measured := func(unit string, units map[string]float64, into func(float64)) {
		v, err := quantity(text, units)
		switch {
		case err != nil:
			f.doubt("%s: %v", where, err)
		default:
			into(v)
			f.understood("%s %s %s", strings.ReplaceAll(x.what, "_", "-"), strconv.FormatFloat(v, 'f', -1, 64), unit)
		}
	}
	pointer := func(into **float64) func(float64) { return func(v float64) { *into = &v } }
	switch x.what {
	case "date":
		day, clock, err := parseDay(x.value)
		if err != nil {
			f.doubt("%s: %v", where, err)
			return
		}
		f.Clock.Day = day
		if clock != nil {
			f.Clock.Time, f.Clock.HasTime = *clock, true
		}
		f.understood("date %s", day.Format(time.DateOnly))
	case "time":
		if clock, ok := parseClock(x.value); ok {
			f.Clock.Time, f.Clock.HasTime = clock, true
			f.understood("time %s", time.Time{}.Add(clock).Format("15:04"))
		}
	case "fixture":
		s.Fixture = text
		f.understood("fixture %s", text)
	case "survey":
		s.ID = text
	case "meter":
		s.Conditions.Sensor = text
		f.understood("meter %s", text)
	case "height":
		measured("m", metres, func(v float64) { s.HeightM = v })
	case "spacing":
		measured("m", metres, func(v float64) { s.Geometry.SpacingM = v })
	case "supply":
		measured("V", map[string]float64{"": 1, "v": 1, "volt": 1, "volts": 1, "kv": 1000}, pointer(&s.Conditions.SupplyV))
	case "power":
		measured("W", map[string]float64{"": 1, "w": 1, "watt": 1, "watts": 1, "kw": 1000}, pointer(&s.Conditions.PowerW))
	case "warm_up":
		measured("min", map[string]float64{"": 1, "min": 1, "minute": 1, "minutes": 1, "h": 60, "hour": 60, "hours": 60},
			pointer(&s.Conditions.WarmUpMin))
	case "ambient":
		measured("degC", map[string]float64{"": 1, "c": 1, "°c": 1, "degc": 1}, pointer(&s.Conditions.AmbientC))
	}
}

var metres = map[string]float64{"": 1, "m": 1, "cm": .01, "mm": .001, "ft": .3048, "feet": .3048, "in": .0254,
	"inch": .0254, "inches": .0254}

// quantity reads a number with a unit of those given, "" among them being what a
// bare number is in.
func quantity(text string, units map[string]float64) (v float64, err error) {
	m := quantityForm.FindStringSubmatch(text)
	if m == nil {
		return 0, fmt.Errorf("%q is no number with its unit", clip(text))
	}
	factor, ok := units[strings.ToLower(strings.TrimSpace(m[2]))]
	if !ok {
		return 0, fmt.Errorf("%q: unit %q is not known here; write it in another", clip(text), m[2])
	}
	if v, err = number(m[1]); err != nil {
		return 0, err
	}
	return round9(v * factor), nil
}

var quantityForm = regexp.MustCompile(`^\s*([-+0-9.,]+)\s*(°?[a-zA-Z]*)\s*$`)

// round9 takes the dust off a product such as 120 x 0.01.
func round9(v float64) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 9, 64), 64)
	if err != nil {
		return v
	}
	return r
}

// parseDay reads a day, with its time where it has one. One that could be day or
// month first is an error that says so.
func parseDay(c Cell) (day time.Time, clock *time.Duration, err error) {
	text := strings.TrimSpace(c.Text)
	if m := numericDay.FindStringSubmatch(text); m != nil {
		a, _ := strconv.Atoi(m[1])
		b, _ := strconv.Atoi(m[3])
		y, _ := strconv.Atoi(m[4])
		if a <= 12 && b <= 12 && a != b && m[2] != "." {
			return day, nil, fmt.Errorf("%q can be read with the day or the month first; write it 2025-03-01, or give --at",
				clip(text))
		}
		if a > 12 || m[2] == "." || a == b {
			a, b = b, a // month, day
		}
		text = fmt.Sprintf("%04d-%02d-%02d%s", y, a, b, text[len(m[0]):])
	}
	date := text
	if m := clockBehind.FindStringSubmatch(text); m != nil {
		if d, ok := parseClock(Cell{m[2]}); ok {
			date, clock = strings.TrimRight(m[1], " ,"), &d
		}
	}
	for _, layout := range dayLayouts {
		if t, err := time.Parse(layout, strings.ReplaceAll(date, ".", "")); err == nil {
			return t, clock, nil
		}
	}
	return day, nil, fmt.Errorf("%q is no date; write it 2025-03-01, or give --at", clip(text))
}

var numericDay = regexp.MustCompile(`^([0-9]{1,2})([./-])([0-9]{1,2})[./-]([0-9]{4})`)

var dayLayouts = []string{
	"2006-01-02", "2006/01/02", "20060102", "2 January 2006", "2 Jan 2006", "January 2, 2006", "Jan 2, 2006",
	"January 2 2006", "Jan 2 2006",
	"2-Jan-2006", "2-January-2006", "Monday, 2 January 2006", "Mon 2 Jan 2006", "Monday 2 January 2006", "Mon, 2 Jan 2006",
}

// clockBehind is a day with its time behind it.
var clockBehind = regexp.MustCompile(`^(.*[0-9])[T ,]+([0-9]{1,2}[:h][0-9]{2}(?::[0-9]{2})?(?: ?[AaPp][Mm])?)$`)

// parseClock reads a time of day.
func parseClock(c Cell) (time.Duration, bool) {
	for _, layout := range []string{"15:04", "15:04:05", "3:04 PM", "3:04PM", "15.04", "15h04"} {
		if t, err := time.Parse(layout, strings.ToUpper(strings.TrimSpace(c.Text))); err == nil {
			return t.Sub(t.Truncate(24 * time.Hour)), true
		}
	}
	return 0, false
}
