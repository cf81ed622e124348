package surveysheet

import (
	"fmt"
	"strings"

	"wane/transform/survey"
)

// list reads a sheet that has a line a spot, under a header that names row,
// column and reading. ok is false where it is no such sheet. Its surveys are
// told apart by their fixture and survey columns, where it has them.
func list(s *Sheet) (found []Found, ok bool, err error) {
	for r := range s.Cells {
		h := listHeader(s.Cells[r])
		if h == nil {
			continue
		}
		found, err = readList(s, r, h)
		return found, true, err
	}
	return nil, false, nil
}

// listHeader gives the columns by what they hold; nil where the row is no header
// of a list.
func listHeader(row []Cell) map[string]int {
	h := map[string]int{}
	for c, cell := range row {
		name, _ := withUnit(strings.ToLower(cell.Text))
		switch name {
		case "row", "r", "reihe", "rij":
			h["row"] = c
		case "col", "column", "c", "spalte", "kolom":
			h["col"] = c
		case "ppfd", "reading", "value", "umol", "µmol", "par":
			h["ppfd"] = c
		case "fixture", "luminaire", "lamp":
			h["fixture"] = c
		case "survey":
			h["survey"] = c
		case "date", "taken", "taken_at":
			h["date"] = c
		}
	}
	for _, need := range []string{"row", "col", "ppfd"} {
		if _, ok := h[need]; !ok {
			return nil
		}
	}
	return h
}

func readList(s *Sheet, head int, h map[string]int) ([]Found, error) {
	cell := func(r int, what string) Cell {
		if c, ok := h[what]; ok {
			return s.at(r, c)
		}
		return Cell{}
	}
	var out []Found
	index := map[string]int{}
	sums := map[string][]float64{} // of a spot's readings, by survey and spot
	for r := head + 1; r < len(s.Cells); r++ {
		row, col, text := cell(r, "row").Text, cell(r, "col").Text, cell(r, "ppfd").Text
		if row == "" && col == "" && text == "" || summary(row) || summary(s.at(r, 0).Text) {
			continue
		}
		y, ok1 := label(row)
		x, ok2 := label(col)
		if !ok1 || !ok2 || y > survey.MaxSide || x > survey.MaxSide {
			return nil, fmt.Errorf("%s: row %q, column %q: both count from 1 or from A", s.where(r, 0), clip(row), clip(col))
		}
		key := cell(r, "survey").Text + "\x00" + cell(r, "fixture").Text + "\x00" + cell(r, "date").Text
		k, known := index[key]
		if !known {
			k = len(out)
			index[key] = k
			f := Found{Where: s.where(r, 0), Survey: survey.Survey{ID: cell(r, "survey").Text, Fixture: cell(r, "fixture").Text}}
			if d := cell(r, "date"); d.Text != "" {
				day, clock, err := parseDay(d)
				if err != nil {
					f.doubt("%s: %v", s.where(r, h["date"]), err)
				}
				f.Clock.Day = day
				if clock != nil {
					f.Clock.Time, f.Clock.HasTime = *clock, true
				}
			}
			out = append(out, f)
		}
		sv := &out[k].Survey
		sv.Rows, sv.Cols = max(sv.Rows, y), max(sv.Cols, x)
		if missing(text) {
			continue
		}
		v, _, err := cellPPFD(text)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", s.where(r, h["ppfd"]), err)
		}
		spot := fmt.Sprint(k, y, x)
		if sums[spot] = append(sums[spot], v); len(sums[spot]) == 1 {
			sv.Spots = append(sv.Spots, survey.Spot{Row: y, Col: x, PPFD: v})
			continue
		}
		total := 0.0
		for _, v := range sums[spot] {
			total += v
		}
		for i := range sv.Spots {
			if p := &sv.Spots[i]; p.Row == y && p.Col == x {
				p.PPFD = total / float64(len(sums[spot]))
			}
		}
	}
	for k := range out {
		f := &out[k]
		f.understood("a list of %d x %d spots, %d read", f.Survey.Rows, f.Survey.Cols, len(f.Survey.Spots))
		for _, p := range f.Survey.Spots {
			if n := len(sums[fmt.Sprint(k, p.Row, p.Col)]); n > 1 {
				f.understood("row %d column %d was read %d times: the mean counts", p.Row, p.Col, n)
			}
		}
	}
	return out, nil
}
