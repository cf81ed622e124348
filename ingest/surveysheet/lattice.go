package surveysheet

import (
	"fmt"
	"slices"
	"strings"

	"wane/transform/survey"
)

// lattice is the lines of a grid whose spots are given by where they lie.
type lattice struct {
	x, y []float64 // metres, rising
}

// lattice finds them; nil where the list has rows and columns or numbers.
func (l *gathered) lattice(head int) (*lattice, error) {
	if _, ok := l.h.at["x"]; !ok {
		return nil, nil
	}
	out := &lattice{}
	for r := head + 1; r < len(l.sheet.Cells); r++ {
		if l.blank(r) {
			continue
		}
		for what, into := range map[string]*[]float64{"x": &out.x, "y": &out.y} {
			v, err := l.distance(r, what)
			if err != nil {
				return nil, err
			}
			if !slices.Contains(*into, v) {
				*into = append(*into, v)
			}
		}
	}
	slices.Sort(out.x)
	slices.Sort(out.y)
	if len(out.x) > survey.MaxSide || len(out.y) > survey.MaxSide {
		return nil, fmt.Errorf("%s: the spots lie on %d x %d lines; a survey has at most %d a side: round the positions to the grid's",
			l.sheet.where(head, 0), len(out.y), len(out.x), survey.MaxSide)
	}
	return out, nil
}

// distance reads a position in metres.
func (l *gathered) distance(r int, what string) (float64, error) {
	text, unit := l.cell(r, what).Text, l.h.unit[what]
	if unit != "" {
		text += " " + unit
	}
	v, err := quantity(text, metres)
	if err != nil {
		return 0, fmt.Errorf("%s: %w", l.sheet.where(r, l.h.at[what]), err)
	}
	if unit == "" && strings.Trim(text, "0123456789.,+-") == "" {
		return 0, fmt.Errorf("%s: %s has no unit; write m or cm into its heading, such as x (cm)",
			l.sheet.where(r, l.h.at[what]), what)
	}
	return v, nil
}

func (t *lattice) place(l *gathered, r int) (place, error) {
	x, err := l.distance(r, "x")
	if err != nil {
		return place{}, err
	}
	y, err := l.distance(r, "y")
	return place{row: slices.Index(t.y, y) + 1, col: slices.Index(t.x, x) + 1}, err
}

// onto gives a survey where its lines lie; nil does nothing.
func (t *lattice) onto(f *Found) {
	if t == nil || f.Survey.Rows != len(t.y) || f.Survey.Cols != len(t.x) {
		return
	}
	shift := func(v []float64) (out []float64) { // from the first line on
		for _, x := range v {
			out = append(out, round9(x-v[0]))
		}
		return out
	}
	f.Survey.Geometry.RowAtM, f.Survey.Geometry.ColAtM = shift(t.y), shift(t.x)
}
