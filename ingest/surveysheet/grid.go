package surveysheet

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"wane/transform/survey"
)

// Parse reads either form: the plain form by its header, anything else as a
// pasted grid of the survey about names.
func Parse(r io.Reader, about survey.Survey) (Result, error) {
	data, err := io.ReadAll(io.LimitReader(r, MaxBytes+1))
	if err != nil {
		return Result{}, fmt.Errorf("read survey sheet: %w", err)
	}
	if len(data) > MaxBytes {
		return Result{}, fmt.Errorf("survey sheet is over %d MiB; split it by survey", MaxBytes>>20)
	}
	if IsPlain(data) {
		return ParsePlain(strings.NewReader(string(data)))
	}
	return ParseGrid(string(data), about)
}

// ParseGrid reads a grid pasted as text, one line a row. about gives the
// survey's name, time, fixture, height and conditions, and may declare rows and
// columns. A grid is taken whole or not at all: each line that stands in its way
// is a Reject, and the good lines then count as rejected with it. The error is
// for text that is no grid at all.
func ParseGrid(text string, about survey.Survey) (Result, error) {
	if len(text) > MaxBytes {
		return Result{}, fmt.Errorf("grid is over %d MiB", MaxBytes>>20)
	}
	if !utf8.ValidString(text) {
		return Result{}, fmt.Errorf("grid is not UTF-8 text; paste numbers only")
	}
	lines, nos := filledLines(strings.TrimPrefix(text, "\ufeff"))
	if len(lines) == 0 {
		return Result{}, fmt.Errorf("grid is empty; paste one line of numbers for each row, or use the header %s", Header())
	}
	if len(lines) > survey.MaxSide {
		return Result{}, fmt.Errorf("grid has %d lines; a survey has at most %d rows", len(lines), survey.MaxSide)
	}
	res := Result{Rows: len(lines)}
	split, why := separator(lines, about.Cols)
	if why != "" {
		for _, n := range nos {
			res.Rejects = append(res.Rejects, Reject{n, why})
		}
		return res, nil
	}
	g := grid{s: about, cols: about.Cols, bad: map[int]string{}, comma: -1, point: -1}
	g.s.Spots = nil
	for i, l := range lines {
		if why := g.row(i, split(l)); why != "" {
			g.bad[i] = why
		}
	}
	g.doubtPoints(nos)
	if len(g.bad) == 0 && about.Rows > 0 && about.Rows != len(lines) {
		g.bad[len(lines)-1] = fmt.Sprintf("%d lines, but %d rows were declared; mark a row that was not read "+
			"with a line of -",
			len(lines), about.Rows)
	}
	g.s.Rows, g.s.Cols = len(lines), g.cols
	if res.Rejects = g.rejects(nos); len(res.Rejects) == 0 {
		res.Surveys, res.Stored = []survey.Survey{g.s}, len(lines)
	}
	return res, nil
}

// filledLines gives the lines that are not blank, and their numbers from 1.
func filledLines(text string) (lines []string, nos []int) {
	for i, l := range strings.Split(text, "\n") {
		l = strings.TrimRight(l, "\r")
		if strings.TrimSpace(l) != "" {
			lines, nos = append(lines, l), append(nos, i+1)
		}
	}
	return lines, nos
}

// grid is a grid being read.
type grid struct {
	s            survey.Survey
	cols         int
	bad          map[int]string // by line: why the grid cannot be taken
	odd          []oddCell
	comma, point int // a line with a decimal comma, one with a point; -1: none
}

// oddCell is a reading with three digits after its point.
type oddCell struct {
	line, col int
	v         float64
	cell      string
}

// row reads a line's cells; why is not empty where one stands in the way.
func (g *grid) row(i int, cells []string) (why string) {
	if g.cols == 0 {
		g.cols = len(cells)
	}
	if len(cells) != g.cols {
		return fmt.Sprintf("%d numbers, not %d as in the rest of the grid; mark a spot that was not read with -",
			len(cells), g.cols)
	}
	if len(cells) > survey.MaxSide {
		return fmt.Sprintf("%d numbers on a line; a survey has at most %d columns", len(cells), survey.MaxSide)
	}
	for c, cell := range cells {
		if missing(cell) {
			continue
		}
		v, err := ppfd(cell)
		if err != nil {
			return fmt.Sprintf("column %d: %v", c+1, err)
		}
		g.s.Spots = append(g.s.Spots, survey.Spot{Row: i + 1, Col: c + 1, PPFD: v})
		if strings.Contains(cell, ",") {
			g.comma = i
		}
		if whole, frac, ok := strings.Cut(cell, "."); ok {
			g.point = i
			if len(frac) == 3 && strings.Trim(whole, "0") != "" {
				g.odd = append(g.odd, oddCell{i, c, v, cell})
			}
		}
	}
	return ""
}

// doubtPoints finds points that seem to part thousands.
func (g *grid) doubtPoints(nos []int) {
	if g.comma >= 0 && g.point >= 0 && g.bad[g.point] == "" {
		g.bad[g.point] = fmt.Sprintf("decimal points here, decimal commas on line %d: one of them may part thousands; "+
			"write all numbers one way", nos[g.comma])
	}
	if len(g.odd) == 0 {
		return
	}
	m := median(g.s.Spots)
	for _, o := range g.odd {
		if o.v*100 < m && g.bad[o.line] == "" {
			g.bad[o.line] = fmt.Sprintf("column %d: %q beside readings near %.0f: the point seems to part thousands; "+
				"write the number without it", o.col+1, clip(o.cell), m)
		}
	}
}

// rejects gives each line its reason if the grid is not taken.
func (g *grid) rejects(nos []int) (out []Reject) {
	other := "line reads well, but another line of the grid does not, and a grid is taken whole"
	if len(g.bad) == 0 {
		err := g.s.Check()
		if err == nil {
			return nil
		}
		other = err.Error()
	}
	for i, n := range nos {
		why := g.bad[i]
		if why == "" {
			why = other
		}
		out = append(out, Reject{n, why})
	}
	return out
}

func median(ps []survey.Spot) float64 {
	v := make([]float64, len(ps))
	for i, p := range ps {
		v[i] = p.PPFD
	}
	slices.Sort(v)
	return v[len(v)/2]
}

// separator finds what parts the numbers: a tab, else a semicolon, else spaces,
// else commas. why is not empty where two readings of the commas are possible.
func separator(lines []string, declared int) (split func(string) []string, why string) {
	all := strings.Join(lines, "\n")
	on := func(sep string) func(string) []string {
		return func(l string) []string {
			cells := strings.Split(l, sep)
			for i := range cells {
				cells[i] = strings.TrimSpace(cells[i])
			}
			if n := len(cells); n > 1 && cells[n-1] == "" && (declared == 0 && trailing(lines, sep) || n == declared+1) {
				cells = cells[:n-1]
			}
			return cells
		}
	}
	switch {
	case strings.Contains(all, "\t"):
		return on("\t"), ""
	case strings.Contains(all, ";"):
		return on(";"), ""
	}
	commaSpace, tight, spaces := commas(lines)
	switch {
	case commaSpace && tight:
		return nil, "some commas are followed by a space and some are not: decimal commas and commas between numbers " +
			"cannot be told apart; part the numbers with ; or a tab"
	case commaSpace && spaces:
		return nil, "numbers are parted by commas in places and by spaces in others; part them all with ; or a tab"
	case commaSpace:
		return on(","), ""
	case spaces || !tight || declared == 1:
		return strings.Fields, ""
	}
	if why := decimalCommas(lines, declared, on(",")); why != "" {
		return nil, why
	}
	return on(","), ""
}

// commas says what stands between the numbers: commas with a space behind them,
// commas without one, spaces beside no comma.
func commas(lines []string) (commaSpace, tight, spaces bool) {
	for _, l := range lines {
		rs := []rune(strings.TrimSpace(l))
		for i, r := range rs {
			switch {
			case r == ',' && i+1 < len(rs) && unicode.IsSpace(rs[i+1]):
				commaSpace = true
			case r == ',' && i+1 < len(rs):
				tight = true
			case unicode.IsSpace(r) && rs[i-1] != ',' && !(i+1 < len(rs) && rs[i+1] == ',') && !unicode.IsSpace(rs[i-1]):
				spaces = true
			}
		}
	}
	return commaSpace, tight, spaces
}

// decimalCommas says why commas alone may be decimal ones within pairs; empty
// where they stand between numbers.
func decimalCommas(lines []string, declared int, split func(string) []string) (why string) {
	doubled, plain := declared > 0, declared > 0
	paired, single := true, true
	for _, l := range lines {
		cells := split(l)
		n := len(cells)
		plain, doubled = plain && n == declared, doubled && n == 2*declared
		single = single && n == 2
		paired = paired && n%2 == 0
		for i := 1; paired && i < n; i += 2 {
			paired = digits(cells[i-1]) && digits(cells[i]) && len(cells[i]) <= 2
		}
	}
	switch {
	case plain:
		return ""
	case doubled:
		return fmt.Sprintf("twice %d numbers to a line: decimal commas parted by commas cannot be read; "+
			"part the numbers with ; or a tab", declared)
	case paired && single:
		return "one comma to a line may be a decimal comma or part two numbers; write decimals with a point, " +
			"or part the numbers with ; or a tab"
	case paired:
		return "every second number has one or two digits: these may be decimal commas parted by commas, or twice as " +
			"many columns; part the numbers with ; or a tab, or write decimals with a point"
	}
	return ""
}

// digits says whether a cell is digits only, one at least.
func digits(cell string) bool { return cell != "" && strings.Trim(cell, "0123456789") == "" }

// trailing says whether every line ends in the separator, as spreadsheets and
// people sometimes leave it.
func trailing(lines []string, sep string) bool {
	for _, l := range lines {
		if !strings.HasSuffix(strings.TrimRight(l, " "), sep) {
			return false
		}
	}
	return true
}
