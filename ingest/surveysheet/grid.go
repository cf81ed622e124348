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
	var res Result
	if len(text) > MaxBytes {
		return res, fmt.Errorf("grid is over %d MiB", MaxBytes>>20)
	}
	if !utf8.ValidString(text) {
		return res, fmt.Errorf("grid is not UTF-8 text; paste numbers only")
	}
	text = strings.TrimPrefix(text, "\ufeff")
	var lines []string
	var nos []int
	for i, l := range strings.Split(text, "\n") {
		l = strings.TrimRight(l, "\r")
		if strings.TrimSpace(l) != "" {
			lines, nos = append(lines, l), append(nos, i+1)
		}
	}
	if len(lines) == 0 {
		return res, fmt.Errorf("grid is empty; paste one line of numbers for each row, or use the header %s", Header())
	}
	res.Rows = len(lines)
	if len(lines) > survey.MaxSide {
		return Result{}, fmt.Errorf("grid has %d lines; a survey has at most %d rows", len(lines), survey.MaxSide)
	}
	split, why := separator(lines, about.Cols)
	if why != "" {
		for _, n := range nos {
			res.Rejects = append(res.Rejects, Reject{n, why})
		}
		return res, nil
	}
	s := about
	s.Spots = nil
	cols := about.Cols
	bad := map[int]string{}
	var odd []oddCell
	comma, point := -1, -1 // a line with a decimal comma, one with a point
	for i, l := range lines {
		cells := split(l)
		if cols == 0 {
			cols = len(cells)
		}
		if len(cells) != cols {
			bad[i] = fmt.Sprintf("%d numbers, not %d as in the rest of the grid; mark a spot that was not read with -",
				len(cells), cols)
			continue
		}
		if len(cells) > survey.MaxSide {
			bad[i] = fmt.Sprintf("%d numbers on a line; a survey has at most %d columns", len(cells), survey.MaxSide)
			continue
		}
		for c, cell := range cells {
			if missing(cell) {
				continue
			}
			v, err := ppfd(cell)
			if err != nil {
				bad[i] = fmt.Sprintf("column %d: %v", c+1, err)
				break
			}
			s.Spots = append(s.Spots, survey.Spot{Row: i + 1, Col: c + 1, PPFD: v})
			if strings.Contains(cell, ",") {
				comma = i
			}
			if whole, frac, ok := strings.Cut(cell, "."); ok {
				point = i
				if len(frac) == 3 && strings.Trim(whole, "0") != "" {
					odd = append(odd, oddCell{i, c, v, cell})
				}
			}
		}
	}
	if comma >= 0 && point >= 0 && bad[point] == "" {
		bad[point] = fmt.Sprintf("decimal points here, decimal commas on line %d: one of them may part thousands; write all numbers one way", nos[comma])
	}
	m := 0.0
	if len(odd) > 0 {
		m = median(s.Spots)
	}
	for _, o := range odd {
		if o.v*100 < m && bad[o.line] == "" {
			bad[o.line] = fmt.Sprintf("column %d: %q beside readings near %.0f: the point seems to part thousands; write the number without it", o.col+1, clip(o.cell), m)
		}
	}
	if len(bad) == 0 && about.Rows > 0 && about.Rows != len(lines) {
		bad[len(lines)-1] = fmt.Sprintf("%d lines, but %d rows were declared; mark a row that was not read with a line of -",
			len(lines), about.Rows)
	}
	s.Rows, s.Cols = len(lines), cols
	var checkErr error
	if len(bad) == 0 {
		checkErr = s.Check()
	}
	for i, n := range nos {
		switch {
		case bad[i] != "":
			res.Rejects = append(res.Rejects, Reject{n, bad[i]})
		case checkErr != nil:
			res.Rejects = append(res.Rejects, Reject{n, checkErr.Error()})
		case len(bad) > 0:
			res.Rejects = append(res.Rejects, Reject{n, "line reads well, but another line of the grid does not, and a grid is taken whole"})
		}
	}
	if len(res.Rejects) == 0 {
		res.Surveys, res.Stored = []survey.Survey{s}, len(lines)
	}
	return res, nil
}

// oddCell is a reading with three digits after its point.
type oddCell struct {
	line, col int
	v         float64
	cell      string
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
	spaces, commaSpace, tight := false, false, false
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
	switch {
	case commaSpace && tight:
		return nil, "some commas are followed by a space and some are not: decimal commas and commas between numbers cannot be told apart; part the numbers with ; or a tab"
	case commaSpace && spaces:
		return nil, "numbers are parted by commas in places and by spaces in others; part them all with ; or a tab"
	case commaSpace:
		return on(","), ""
	case spaces || !tight:
		return strings.Fields, ""
	}
	// Commas only: between numbers, or decimal ones within pairs?
	if declared == 1 {
		return strings.Fields, ""
	}
	if declared > 0 {
		pairs, plain := true, true
		for _, l := range lines {
			n := len(on(",")(l))
			plain = plain && n == declared
			pairs = pairs && n == 2*declared
		}
		if plain {
			return on(","), ""
		}
		if pairs {
			return nil, fmt.Sprintf("twice %d numbers to a line: decimal commas parted by commas cannot be read; part the numbers with ; or a tab", declared)
		}
	}
	paired, single := true, true
	for _, l := range lines {
		cells := on(",")(l)
		single = single && len(cells) == 2
		if len(cells)%2 != 0 {
			paired = false
			break
		}
		for i := 1; i < len(cells); i += 2 {
			if n := len(cells[i]); n == 0 || n > 2 || strings.Trim(cells[i], "0123456789") != "" ||
				len(strings.Trim(cells[i-1], "0123456789")) > 0 || cells[i-1] == "" {
				paired = false
			}
		}
	}
	if paired && single {
		return nil, "one comma to a line may be a decimal comma or part two numbers; write decimals with a point, or part the numbers with ; or a tab"
	}
	if paired {
		return nil, "every second number has one or two digits: these may be decimal commas parted by commas, or twice as many columns; part the numbers with ; or a tab, or write decimals with a point"
	}
	return on(","), ""
}

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
