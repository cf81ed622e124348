package surveysheet

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"wane/transform/survey"
)

// list reads a sheet that has a line a spot under a header that names the reading
// and its place: row and column, x and y, or a number; or a line a survey under
// a header that names the spots. ok is false where it is no such sheet. Its
// surveys are told apart by their columns for fixture, survey, date and height,
// where it has them; what stands above the header holds for all.
func list(s *Sheet) (found []Found, ok bool, err error) {
	for r := range s.Cells {
		h := headerOf(s.Cells[r])
		switch {
		case h == nil:
			continue
		case len(h.spots) > 0:
			found, err = readWide(s, r, h)
		case len(h.named) > 0:
			found, err = readNamed(s, r, h)
		default:
			found, err = readList(s, r, h)
		}
		if err != nil {
			return nil, true, err
		}
		g := &grids{sheet: s, used: map[[2]int]bool{}}
		g.facts(r)
		for k := range found {
			g.above(&found[k], r)
		}
		return found, true, g.unit()
	}
	return nil, false, nil
}

// columns is the columns of a list by what they hold.
type columns struct {
	at    map[string]int
	unit  map[string]string
	spots []spotColumn // of a line a survey
	named []int        // of a line a spot with a column a survey, under the name of a fixture or a day
}

// spotColumn is a column that holds one spot.
type spotColumn struct {
	column int
	place
}

// place is where a spot lies: row and column, or a number, all from 1.
type place struct{ row, col, number int }

var headerForms = []struct {
	what string
	form *regexp.Regexp
}{
	{"row", regexp.MustCompile(`^(?:row|r|reihe|zeile|rij)$`)},
	{"col", regexp.MustCompile(`^(?:col|column|c|spalte|kolom)$`)},
	{"x", regexp.MustCompile(`^x(?: ?pos(?:ition)?)?$`)},
	{"y", regexp.MustCompile(`^y(?: ?pos(?:ition)?)?$`)},
	{"spot", regexp.MustCompile(`^(?:spot|point|pos(?:ition)?|punkt|punt)(?: ?(?:no\.?|nr\.?|number|id))?$`)},
	{"ppfd", regexp.MustCompile(`^(?:ppfd|reading|value|[uµμ]mol.*|par|ppfd reading|measured ppfd|light)$`)},
}

// headerOf gives the columns of a list; nil where the row is no header of one.
func headerOf(row []Cell) *columns {
	h := &columns{at: map[string]int{}, unit: map[string]string{}}
	for c, cell := range row {
		name, unit := withUnit(strings.ToLower(cell.Text))
		if p, ok := spotName(name); ok {
			h.spots = append(h.spots, spotColumn{c, p})
			continue
		}
		what := factOf(name)
		for _, f := range headerForms {
			if f.form.MatchString(name) {
				what = f.what
			}
		}
		if _, twice := h.at[what]; what != "" && !twice {
			h.at[what], h.unit[what] = c, unit
		} else if name != "" && what == "" && !summary(name) {
			h.named = append(h.named, c)
		}
	}
	has := func(names ...string) bool {
		return !slices.ContainsFunc(names, func(n string) bool { _, ok := h.at[n]; return !ok })
	}
	switch {
	case len(h.spots) >= 4 && (has("date") || has("fixture") || has("survey")):
		h.named = nil
		return h
	case has("ppfd") && (has("row", "col") || has("x", "y") || has("spot")):
		h.spots, h.named = nil, nil
		return h
	case len(h.named) > 0 && (has("row", "col") || has("x", "y") || has("spot")):
		h.spots = nil
		return h
	}
	return nil
}

// spotName reads the name of a spot's column: R1C2, r1 c2, P7, spot 7.
func spotName(name string) (place, bool) {
	m := spotForm.FindStringSubmatch(name)
	if m == nil {
		return place{}, false
	}
	num := func(s string) int { n, _ := strconv.Atoi(s); return n } // digits by the form
	p := place{num(m[1]), num(m[2]), num(m[3])}
	return p, p.number > 0 || p.row > 0 && p.col > 0
}

var spotForm = regexp.MustCompile(`^(?:r(?:ow)?[ ._-]*([0-9]{1,3})[ ,._/-]*c(?:ol(?:umn)?)?[ ._-]*([0-9]{1,3})|(?:p|s|spot|point|pos|position)[ ._#-]*([0-9]{1,4}))$`)

// gathered is the surveys of a list on their way.
type gathered struct {
	sheet *Sheet
	h     *columns
	out   []Found
	index map[string]int
	sums  []map[place][]float64 // of each survey, the readings of each spot
	order [][]place
}

func (l *gathered) cell(r int, what string) Cell {
	if c, ok := l.h.at[what]; ok {
		return l.sheet.at(r, c)
	}
	return Cell{}
}

// survey gives the survey that a line belongs to, made at its first line.
func (l *gathered) survey(r int) int {
	key := ""
	for _, what := range []string{"survey", "fixture", "date", "height"} {
		key += l.cell(r, what).Text + "\x00"
	}
	k, known := l.index[key]
	if known {
		return k
	}
	k = len(l.out)
	l.index[key] = k
	f := Found{Where: l.sheet.where(r, 0)}
	g := &grids{sheet: l.sheet}
	for _, form := range factForms {
		if v := l.cell(r, form.what); v.Text != "" {
			if unit := l.h.unit[form.what]; unit != "" && form.what != "date" && form.what != "time" {
				v.Text += " " + unit
			}
			g.apply(&f, fact{form.what, r, l.h.at[form.what], v})
		}
	}
	l.out, l.sums, l.order = append(l.out, f), append(l.sums, map[place][]float64{}), append(l.order, nil)
	return k
}

// add takes one reading.
func (l *gathered) add(k int, p place, text, where string) error {
	if p.row > survey.MaxSide || p.col > survey.MaxSide || p.number > survey.MaxSide*survey.MaxSide {
		return fmt.Errorf("%s: a survey has at most %d spots a side", where, survey.MaxSide)
	}
	if _, known := l.sums[k][p]; !known {
		l.order[k], l.sums[k][p] = append(l.order[k], p), nil
	}
	if missing(text) {
		return nil
	}
	v, _, err := cellPPFD(text)
	if err != nil {
		return fmt.Errorf("%s: %w", where, err)
	}
	l.sums[k][p] = append(l.sums[k][p], v)
	return nil
}

// done makes the spots; one read more than once counts by its mean.
func (l *gathered) done() []Found {
	for k := range l.out {
		f := &l.out[k]
		s := &f.Survey
		for _, p := range l.order[k] {
			if p.number > 0 {
				f.Numbered = true
				p.row, p.col = p.number, 1
			}
			s.Rows, s.Cols = max(s.Rows, p.row), max(s.Cols, p.col)
		}
		for _, p := range l.order[k] {
			v := l.sums[k][p]
			if len(v) == 0 {
				continue
			}
			sum := 0.0
			for _, x := range v {
				sum += x
			}
			spot := survey.Spot{Row: p.row, Col: p.col, PPFD: sum / float64(len(v))}
			if p.number > 0 {
				spot.Row, spot.Col = p.number, 1
			}
			s.Spots = append(s.Spots, spot)
			if len(v) > 1 {
				f.understood("row %d column %d was read %d times: the mean counts", spot.Row, spot.Col, len(v))
			}
		}
		if f.Numbered {
			f.understood("a list of %d numbered spots, %d read", s.Rows, len(s.Spots))
		} else {
			f.understood("a list of %d x %d spots, %d read", s.Rows, s.Cols, len(s.Spots))
		}
	}
	return l.out
}

// readList reads a line a spot.
func readList(s *Sheet, head int, h *columns) ([]Found, error) {
	l := &gathered{sheet: s, h: h, index: map[string]int{}}
	xy, err := l.lattice(head)
	if err != nil {
		return nil, err
	}
	for r := head + 1; r < len(s.Cells); r++ {
		if l.blank(r) {
			continue
		}
		p, err := l.place(r, xy)
		if err != nil {
			return nil, err
		}
		if err := l.add(l.survey(r), p, l.cell(r, "ppfd").Text, s.where(r, h.at["ppfd"])); err != nil {
			return nil, err
		}
	}
	out := l.done()
	for k := range out {
		xy.onto(&out[k])
	}
	return out, nil
}

// readNamed reads a line a spot with a column a survey: the column's name is its
// fixture, or its day.
func readNamed(s *Sheet, head int, h *columns) (out []Found, err error) {
	for _, c := range h.named {
		readings := false
		for r := head + 1; r < len(s.Cells) && !readings; r++ {
			_, _, err := cellPPFD(s.at(r, c).Text)
			readings = err == nil
		}
		if !readings {
			continue // remarks
		}
		one := columns{at: map[string]int{}, unit: h.unit}
		for what, k := range h.at {
			one.at[what] = k
		}
		one.at["ppfd"] = c
		found, err := readList(s, head, &one)
		if err != nil {
			return nil, err
		}
		name := s.at(head, c)
		for k := range found {
			f := &found[k]
			f.Where = s.where(head, c)
			if day, clock, err := parseDay(name); err == nil {
				f.Clock.Day = day
				if clock != nil {
					f.Clock.Time, f.Clock.HasTime = *clock, true
				}
				f.understood("date %s", day.Format("2006-01-02"))
			} else {
				f.Survey.Fixture = name.Text
				f.understood("fixture %s", name.Text)
			}
		}
		out = append(out, found...)
	}
	return out, nil
}

// blank says whether a line holds no spot: empty, or an average.
func (l *gathered) blank(r int) bool {
	if summary(l.sheet.at(r, 0).Text) {
		return true
	}
	for _, what := range []string{"row", "col", "x", "y", "spot"} {
		if t := l.cell(r, what).Text; t != "" {
			return summary(t)
		}
	}
	return l.cell(r, "ppfd").Text == ""
}

// place reads where the spot of a line lies.
func (l *gathered) place(r int, xy *lattice) (place, error) {
	if xy != nil {
		return xy.place(l, r)
	}
	if _, ok := l.h.at["row"]; ok {
		row, col := l.cell(r, "row").Text, l.cell(r, "col").Text
		y, ok1 := label(row)
		x, ok2 := label(col)
		if !ok1 || !ok2 {
			return place{}, fmt.Errorf("%s: row %q, column %q: both count from 1 or from A", l.sheet.where(r, 0), clip(row),
				clip(col))
		}
		return place{row: y, col: x}, nil
	}
	text := strings.ToLower(l.cell(r, "spot").Text)
	if p, ok := spotName(text); ok {
		return p, nil
	}
	n, err := strconv.Atoi(strings.Trim(text, "#. "))
	if err != nil || n < 1 {
		return place{}, fmt.Errorf("%s: %q is no number of a spot; spots count from 1", l.sheet.where(r, l.h.at["spot"]),
			clip(text))
	}
	return place{number: n}, nil
}

// readWide reads a line a survey.
func readWide(s *Sheet, head int, h *columns) ([]Found, error) {
	l := &gathered{sheet: s, h: h, index: map[string]int{}}
	for r := head + 1; r < len(s.Cells); r++ {
		n := 0
		for _, c := range h.spots {
			if _, _, err := cellPPFD(s.at(r, c.column).Text); err == nil {
				n++
			}
		}
		if n == 0 {
			continue // a note, a blank line
		}
		before := len(l.out)
		k := l.survey(r)
		if k < before {
			return nil, fmt.Errorf("%s: the same fixture, date and height as %s: name the surveys apart in a column of their own", s.where(r, 0), l.out[k].Where)
		}
		for _, c := range h.spots {
			if err := l.add(k, c.place, s.at(r, c.column).Text, s.where(r, c.column)); err != nil {
				return nil, err
			}
		}
	}
	return l.done(), nil
}
