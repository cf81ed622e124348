package survey

import (
	"fmt"
	"math"
	"wane/transform/estimate"
)

func (g Geometry) check(s Survey) error {
	rows, cols := s.Size()
	for _, v := range []float64{g.SpacingM, g.DepthM, g.WidthM, g.FootprintM2} {
		if !estimate.Finite(v) || v < 0 {
			return fmt.Errorf("%s: geometry %v is not a length or area; give metres, or leave it out", s.name(), v)
		}
	}
	if (g.RowAtM == nil) != (g.ColAtM == nil) {
		return fmt.Errorf("%s: positions are given for rows or for columns only; give both or neither", s.name())
	}
	for _, a := range []struct {
		what string
		at   []float64
		n    int
	}{{"row", g.RowAtM, rows}, {"column", g.ColAtM, cols}} {
		if a.at == nil {
			continue
		}
		if len(a.at) != a.n {
			return fmt.Errorf("%s: %d %s positions for %d %ss; give one for each", s.name(), len(a.at), a.what, a.n, a.what)
		}
		for i, v := range a.at {
			if !estimate.Finite(v) || i > 0 && v <= a.at[i-1] {
				return fmt.Errorf("%s: %s positions must rise; position %d is %v m", s.name(), a.what, i+1, v)
			}
		}
	}
	return nil
}

// Uneven says whether positions were declared.
func (g Geometry) Uneven() bool { return g.RowAtM != nil }

// lines gives the positions of the lines of one axis in metres, or in steps of
// one (metric false) where neither positions nor a spacing are declared.
func lines(at []float64, spacing float64, n int) (pos []float64, metric bool) {
	if at != nil {
		return at, true
	}
	pos = make([]float64, n)
	step := 1.0
	if spacing > 0 {
		step = spacing
	}
	for i := range pos {
		pos[i] = float64(i) * step
	}
	return pos, spacing > 0
}

// strips gives the width of floor that each line stands for: to the middle
// between neighbours, and at the ends to the floor's edge, or as far outward as
// inward where no edge is declared. ok is false where the lines or the edge do
// not say (a single line without an edge, an edge inside the outermost line).
func strips(pos []float64, floor float64) (w []float64, ok bool) {
	n := len(pos)
	w = make([]float64, n)
	if n == 1 {
		w[0] = floor
		return w, floor > 0
	}
	lo := pos[0] - (pos[1]-pos[0])/2
	hi := pos[n-1] + (pos[n-1]-pos[n-2])/2
	if floor > 0 {
		mid := (pos[0] + pos[n-1]) / 2
		lo, hi = mid-floor/2, mid+floor/2
		if lo > pos[0] || hi < pos[n-1] {
			return w, false
		}
	}
	for i := range pos {
		a, b := lo, hi
		if i > 0 {
			a = (pos[i-1] + pos[i]) / 2
		}
		if i < n-1 {
			b = (pos[i] + pos[i+1]) / 2
		}
		w[i] = b - a
	}
	return w, true
}

// plan is a survey laid out on its floor.
type plan struct {
	rows, cols int
	y, x       []float64 // positions of rows and columns
	metric     bool      // positions are metres, else steps
	cell       []float64 // floor of each spot by number-1, m2; nil where unknown
	area       float64   // footprint, m2; 0 where unknown
	why        string    // why cell is nil or area 0
}

func (s Survey) plan() plan {
	g := s.Geometry
	p := plan{}
	p.rows, p.cols = s.Size()
	var my, mx bool
	p.y, my = lines(g.RowAtM, g.SpacingM, p.rows)
	p.x, mx = lines(g.ColAtM, g.SpacingM, p.cols)
	p.metric = my && mx
	dy, dx := g.DepthM, g.WidthM
	if !p.metric && (dy > 0 && dx > 0) { // edges alone place an even grid
		p.y, p.x, p.metric = spread(dy, p.rows), spread(dx, p.cols), true
	}
	if !p.metric {
		p.area, p.why = g.FootprintM2, "no spacing, positions or floor edges declared"
		return p
	}
	wy, oky := strips(p.y, dy)
	wx, okx := strips(p.x, dx)
	if !oky || !okx {
		p.area = g.FootprintM2
		p.why = "the floor's edges lie inside the outermost spots, or a single line has no declared width"
		return p
	}
	p.cell = make([]float64, p.rows*p.cols)
	for r := range wy {
		for c := range wx {
			p.cell[r*p.cols+c] = wy[r] * wx[c]
			p.area += wy[r] * wx[c]
		}
	}
	if g.FootprintM2 > 0 { // the declared area is the floor's; the cells keep their shares
		k := g.FootprintM2 / p.area
		for i := range p.cell {
			p.cell[i] *= k
		}
		p.area = g.FootprintM2
	}
	return p
}

// spread places n lines in the middle of n equal strips of a floor.
func spread(floor float64, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = floor * (float64(i) + .5) / float64(n)
	}
	return out
}

// Comparable refuses two surveys that were not taken under one geometry, and
// says how they differ.
func Comparable(a, b Survey) error {
	if w := sameGeometry(a, b); w != "" {
		return fmt.Errorf("%s and %s cannot be compared: %s", a.name(), b.name(), w)
	}
	return nil
}

// sameGeometry says in words how two surveys differ in geometry, or "".
func sameGeometry(a, b Survey) string {
	ar, ac := a.Size()
	br, bc := b.Size()
	if ar != br || ac != bc {
		return fmt.Sprintf("the grids differ: %d x %d and %d x %d", ar, ac, br, bc)
	}
	if a.HeightM > 0 && b.HeightM > 0 && math.Abs(a.HeightM-b.HeightM) > 0.0005 {
		return fmt.Sprintf("the heights differ: %.3g m and %.3g m; survey again at the first height (a difference in height changes the pattern, not only the level)", a.HeightM, b.HeightM)
	}
	pa, pb := a.plan(), b.plan()
	if pa.metric && pb.metric {
		for _, d := range [][2][]float64{{pa.x, pb.x}, {pa.y, pb.y}} {
			for i := range d[0] {
				if math.Abs((d[0][i]-d[0][0])-(d[1][i]-d[1][0])) > 0.005 {
					return "the spots lie elsewhere: spacing or positions differ by more than 5 mm"
				}
			}
		}
	}
	return ""
}
