package surveysheet

import (
	"fmt"
	"regexp"
	"slices"
	"sort"
	"strings"
	"unicode"

	"wane/transform/survey"
)

// Found is one grid of a sheet, with what was understood of it.
type Found struct {
	Survey survey.Survey // without a name; without fixture, time or height where the sheet does not say them
	Where  string        // its cells, such as Lab!B4:F8
	Clock  Clock         // when, as far as the sheet says
	Titles []string      // texts above the grid that are nothing of the above: one may name the fixture
	Common []string      // such texts that stand over all grids of the sheet
	// Numbered is true of a list whose spots are numbered: they stand one below
	// the other until Arrange is told how they lie.
	Numbered bool
	// Understood says in words what was read; Doubts what could be read two
	// ways, each of which must be settled before the survey is taken in.
	Understood, Doubts []string
}

// box is a rectangle of cells, ends included.
type box struct{ top, left, bottom, right int }

// Find finds the grids of a sheet: rectangles of readings, whatever stands
// around them. Titles, labels of rows and columns, averages at the edge and lines
// such as "Height: 1.2 m" are told apart from readings by what they are beside.
// An error names what makes the sheet unusable as a whole.
func Find(s *Sheet) ([]Found, error) {
	if f, ok, err := list(s); ok || err != nil {
		return f, err
	}
	g := &grids{sheet: s, used: map[[2]int]bool{}}
	g.facts(len(s.Cells))
	g.summaries()
	boxes := g.boxes()
	var out []Found
	for i, b := range boxes {
		f, err := g.read(b)
		if err != nil {
			return nil, err
		}
		g.about(&f, boxes, i)
		out = append(out, f)
	}
	if err := g.unit(); err != nil {
		return nil, err
	}
	return out, nil
}

// grids is a sheet on its way into grids.
type grids struct {
	sheet *Sheet
	used  map[[2]int]bool // cells that are no readings: facts and their values, summaries
	said  []fact
}

// summaries marks the rows and columns that hold averages and the like.
func (g *grids) summaries() {
	for r, row := range g.sheet.Cells {
		for c := range row {
			if !summary(row[c].Text) {
				continue
			}
			g.used[[2]int{r, c}] = true
			if g.reading(r, c+1) { // a row of them, or one beside its name
				for k := c + 1; g.reading(r, k) || missing(g.sheet.at(r, k).Text) && k < len(row); k++ {
					g.used[[2]int{r, k}] = true
				}
				continue
			}
			for k := r + 1; g.reading(k, c); k++ {
				g.used[[2]int{k, c}] = true
			}
		}
	}
}

// reading says whether a cell can be one.
func (g *grids) reading(r, c int) bool {
	if g.used[[2]int{r, c}] {
		return false
	}
	_, _, err := cellPPFD(g.sheet.at(r, c).Text)
	return err == nil
}

// cellPPFD reads a cell of the grid: one reading, or two of the same spot parted
// by a slash, whose mean counts.
func cellPPFD(text string) (v float64, twice bool, err error) {
	text = unitBehind.ReplaceAllString(text, "")
	if a, b, ok := strings.Cut(text, "/"); ok {
		x, err1 := ppfd(strings.TrimSpace(a))
		y, err2 := ppfd(strings.TrimSpace(b))
		if err1 == nil && err2 == nil {
			return (x + y) / 2, true, nil
		}
	}
	v, err = ppfd(text)
	return v, false, err
}

// unitBehind is the unit of a reading in its cell: "512 umol/m2/s".
var unitBehind = regexp.MustCompile(`(?i)\s*[uµμ]mol.*$`)

// boxes finds the rectangles: readings that touch, over at most one spot that
// was not read.
func (g *grids) boxes() []box {
	seen := map[[2]int]bool{}
	var out []box
	for r := range g.sheet.Cells {
		for c := range g.sheet.Cells[r] {
			if seen[[2]int{r, c}] || !g.reading(r, c) {
				continue
			}
			if b, n := g.grow(r, c, seen); n >= 3 && (b.bottom > b.top || b.right > b.left+1) {
				out = append(out, b)
			}
		}
	}
	sort.SliceStable(out, func(i, j int) bool {
		return out[i].top < out[j].top || out[i].top == out[j].top && out[i].left < out[j].left
	})
	return out
}

// grow gathers what touches a reading, and counts it.
func (g *grids) grow(r, c int, seen map[[2]int]bool) (box, int) {
	b, n := box{r, c, r, c}, 0
	todo := [][2]int{{r, c}}
	seen[[2]int{r, c}] = true
	for len(todo) > 0 {
		at := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		n++
		b = box{min(b.top, at[0]), min(b.left, at[1]), max(b.bottom, at[0]), max(b.right, at[1])}
		for _, d := range [][2]int{{0, 1}, {0, -1}, {1, 0}, {-1, 0}} {
			next := [2]int{at[0] + d[0], at[1] + d[1]}
			if !g.reading(next[0], next[1]) {
				if text := g.sheet.at(next[0], next[1]).Text; text == "" || !missing(text) {
					continue // a blank parts grids; a spot not read is marked
				}
				next = [2]int{next[0] + d[0], next[1] + d[1]}
				if !g.reading(next[0], next[1]) {
					continue
				}
			}
			if !seen[next] {
				seen[next] = true
				todo = append(todo, next)
			}
		}
	}
	return b, n
}

// read makes the survey of a rectangle.
func (g *grids) read(b box) (Found, error) {
	f := Found{}
	rows, cols := g.labels(&b, &f)
	f.Where = g.sheet.where(b.top, b.left) + ":" + fmt.Sprintf("%s%d", columnName(b.right), b.bottom+1)
	s := &f.Survey
	s.Rows, s.Cols = b.bottom-b.top+1, b.right-b.left+1
	if s.Rows > survey.MaxSide || s.Cols > survey.MaxSide {
		return f, fmt.Errorf("%s: a grid of %d x %d spots; a survey has at most %d a side",
			f.Where, s.Rows, s.Cols, survey.MaxSide)
	}
	twice, comma, point := 0, "", ""
	for r := b.top; r <= b.bottom; r++ {
		for c := b.left; c <= b.right; c++ {
			text := g.sheet.at(r, c).Text
			if missing(text) {
				continue
			}
			v, two, err := cellPPFD(text)
			if err != nil {
				return f, fmt.Errorf("%s: %w", g.sheet.where(r, c), err)
			}
			if two {
				twice++
			}
			if strings.Contains(text, ",") {
				comma = g.sheet.where(r, c)
			} else if strings.Contains(text, ".") {
				point = g.sheet.where(r, c)
			}
			s.Spots = append(s.Spots, survey.Spot{Row: rows[r-b.top] + 1, Col: cols[c-b.left] + 1, PPFD: v})
		}
	}
	if comma != "" && point != "" {
		return f, fmt.Errorf("%s has a decimal comma and %s a decimal point: one of them may part thousands; write all "+
			"numbers one way", comma, point)
	}
	slices.SortFunc(s.Spots, func(a, b survey.Spot) int { return (a.Row-b.Row)*survey.MaxSide + a.Col - b.Col })
	f.understood("%d x %d spots, %d read", s.Rows, s.Cols, len(s.Spots))
	if twice > 0 {
		f.understood("%d spots were read twice: their means count", twice)
	}
	return f, nil
}

func (f *Found) understood(format string, a ...any) {
	f.Understood = append(f.Understood, fmt.Sprintf(format, a...))
}

func (f *Found) doubt(format string, a ...any) {
	f.Doubts = append(f.Doubts, fmt.Sprintf(format, a...))
}

// labels takes the labels of rows and columns out of the rectangle and says
// which row and column of the grid each line of it is.
func (g *grids) labels(b *box, f *Found) (rows, cols []int) {
	top, left := g.line(b.top, b.left, b.top, b.right), g.line(b.top, b.left, b.bottom, b.left)
	outTop, outLeft := []string(nil), []string(nil)
	if b.top > 0 {
		outTop = g.line(b.top-1, b.left, b.top-1, b.right)
	}
	if b.left > 0 {
		outLeft = g.line(b.top, b.left-1, b.bottom, b.left-1)
	}
	rest := g.smallest(box{b.top + 1, b.left + 1, b.bottom, b.right})
	switch {
	case g.both(b, top, left, rest): // numbers at the top and at the left, a corner between them
		outTop, outLeft = top[1:], left[1:]
		b.top, b.left = b.top+1, b.left+1
	case b.bottom > b.top && numbered(top, g.smallest(box{b.top + 1, b.left, b.bottom, b.right})):
		outTop = top
		b.top++
		if len(outLeft) > 0 {
			outLeft = outLeft[1:]
		}
	case b.right > b.left && numbered(left, g.smallest(box{b.top, b.left + 1, b.bottom, b.right})):
		outLeft = left
		b.left++
		if len(outTop) > 0 {
			outTop = outTop[1:]
		}
	}
	rows, f.Survey.Geometry.RowAtM = f.side("row", outLeft, b.bottom-b.top+1)
	cols, f.Survey.Geometry.ColAtM = f.side("column", outTop, b.right-b.left+1)
	return rows, cols
}

// both says whether the first line and the first column are labels, their corner
// being empty or theirs too.
func (g *grids) both(b *box, top, left []string, rest float64) bool {
	if b.bottom == b.top || b.right == b.left {
		return false
	}
	if corner := g.sheet.at(b.top, b.left).Text; corner != "" {
		return false
	}
	return numbered(top[1:], rest) && numbered(left[1:], rest)
}

// numbered says whether a line of numbers is labels: it counts 1, 2, 3 … or rises
// from 0, all of it below the readings.
func numbered(line []string, smallest float64) bool {
	at, _, ok := positions(line)
	if !ok || at[len(at)-1] >= smallest {
		return false
	}
	if at[0] == 0 {
		return true
	}
	for i, v := range at {
		if v != float64(i+1) {
			return false
		}
	}
	return true
}

// smallest is the smallest reading of a rectangle that is not 0.
func (g *grids) smallest(b box) float64 {
	least := 0.0
	for r := b.top; r <= b.bottom; r++ {
		for c := b.left; c <= b.right; c++ {
			if v, _, err := cellPPFD(g.sheet.at(r, c).Text); err == nil && v > 0 && (least == 0 || v < least) {
				least = v
			}
		}
	}
	return least
}

func (g *grids) line(top, left, bottom, right int) (out []string) {
	for r := top; r <= bottom; r++ {
		for c := left; c <= right; c++ {
			out = append(out, g.sheet.at(r, c).Text)
		}
	}
	return out
}

// side says what the labels of one side give: in what order its lines stand, and
// where they lie.
func (f *Found) side(what string, labels []string, n int) (places []int, atM []float64) {
	for i := range n {
		places = append(places, i)
	}
	if len(labels) != n {
		return places, nil
	}
	if named, ok := order(labels); ok {
		return named, nil
	}
	at, unit, ok := positions(labels)
	if !ok {
		return places, nil
	}
	if unit == 0 {
		f.doubt("the %ss are marked %s, with no unit: write m or cm beside them, or give --spacing", what,
			strings.Join(labels, ", "))
		return places, nil
	}
	for i := range at {
		at[i] *= unit
	}
	f.understood("%ss at %s", what, strings.Join(labels, ", "))
	return places, at
}

// IsBare says whether data is a grid and nothing else: lines of numbers, no
// label, title or unit anywhere.
func IsBare(data []byte) bool {
	if IsWorkbook(data) || isOldWorkbook(data) {
		return false
	}
	s, err := TextSheet(data)
	if err != nil {
		return true // ParseGrid says what is wrong
	}
	for _, row := range s.Cells {
		for _, c := range row {
			if strings.ContainsFunc(c.Text, unicode.IsLetter) && !missing(c.Text) || strings.ContainsAny(c.Text, ":/") {
				return false
			}
		}
	}
	found, err := Find(s)
	if err != nil || len(found) != 1 {
		return len(found) < 2
	}
	rows := 0
	for _, row := range s.Cells {
		if slices.ContainsFunc(row, func(c Cell) bool { return c.Text != "" }) {
			rows++
		}
	}
	return found[0].Survey.Rows == rows // else numbers at the side are labels
}
