package survey

import (
	"fmt"

	"wane/transform/dli"
	"wane/transform/estimate"
)

func (r *readings) edges(n *Numbers) {
	rows, cols := r.plan.rows, r.plan.cols
	for a := 1; a <= rows; a++ {
		for b := 1; b <= cols; b++ {
			if Edge(a, b, rows, cols) {
				n.PerimeterSpots++
			}
		}
	}
	n.InteriorSpots = rows*cols - n.PerimeterSpots
	we, wi := make([]float64, len(r.y)), make([]float64, len(r.y))
	ne, ni := 0.0, 0.0
	for i := range r.y {
		if Edge(r.row[i], r.col[i], rows, cols) {
			we[i] = 1
			ne++
		} else {
			wi[i] = 1
			ni++
		}
	}
	scale := func(w []float64, k float64) {
		for i := range w {
			w[i] /= k
		}
	}
	if ne == 0 || ni == 0 {
		why := fmt.Sprintf("a grid of %d x %d has %d interior spots, of which %d were read, and %d of the perimeter's: there is nothing to set against each other", rows, cols, n.InteriorSpots, int(ni), int(ne))
		n.Perimeter, n.Interior, n.EdgeShare = estimate.None("mean of perimeter spots", why),
			estimate.None("mean of interior spots", why), estimate.None("perimeter/interior", why)
		if ne > 0 {
			scale(we, ne)
			n.Perimeter = r.linear(we, "mean of perimeter spots")
		}
		return
	}
	scale(we, ne)
	scale(wi, ni)
	n.Perimeter, n.Interior = r.linear(we, "mean of perimeter spots"), r.linear(wi, "mean of interior spots")
	n.Perimeter.N, n.Interior.N = int(ne), int(ni)
	a, b := n.Perimeter.Centre, n.Interior.Centre
	if b == 0 {
		n.EdgeShare = estimate.None("perimeter/interior", "the interior spots read 0")
		return
	}
	g := make([]float64, len(r.y))
	for i := range g {
		g[i] = we[i]/b - a/(b*b)*wi[i]
	}
	n.EdgeShare = atLeast(r.u.around(a/b, r.sd(g), len(r.y), "perimeter average / interior average"), 0)
}

// centre fills the centre of light: the mean position weighted by PPFD.
func (r *readings) centre(n *Numbers) {
	const method = "mean position of the spots weighted by PPFD, from the grid's centre"
	n.CentreUnit = "spots"
	if r.plan.metric {
		n.CentreUnit = "m"
	}
	axis := func(pos []float64, idx []int, word string) estimate.Estimate {
		if len(pos) == 1 {
			return estimate.None(method, "one "+word+" only: the centre cannot be seen across it")
		}
		if len(r.y) < r.plan.rows*r.plan.cols {
			return estimate.None(method, "spots are missing: the centre would be drawn away from the gap; read the whole grid")
		}
		sum, at := 0.0, 0.0
		for i, y := range r.y {
			sum += y
			at += y * pos[idx[i]-1]
		}
		at /= sum
		g := make([]float64, len(r.y))
		for i := range g {
			g[i] = (pos[idx[i]-1] - at) / sum
		}
		return r.u.around(at-(pos[0]+pos[len(pos)-1])/2, r.sd(g), len(r.y), method)
	}
	n.CentreX = axis(r.plan.x, r.col, "column")
	n.CentreY = axis(r.plan.y, r.row, "row")
}

func (r *readings) footprint(n *Numbers, s Survey, o Options) {
	const mArea, mFoot, mEff = "mean weighted by the floor each spot stands for", "area-weighted average x area",
		"PPF on the footprint / power"
	whole := len(r.y) == r.plan.rows*r.plan.cols
	n.AreaAverage = n.Average
	n.AreaAverage.Method = mArea + " (even grid: the plain mean)"
	if r.plan.cell != nil {
		w := make([]float64, len(r.y))
		sum := 0.0
		for i := range w {
			w[i] = r.plan.cell[r.number[i]-1]
			sum += w[i]
		}
		for i := range w {
			w[i] /= sum
		}
		n.AreaAverage = r.linear(w, mArea)
	}
	if s.Geometry.Uneven() && r.plan.cell == nil {
		n.AreaAverage = estimate.None(mArea, r.plan.why)
	}
	switch {
	case r.plan.area == 0:
		n.Footprint = estimate.None(mFoot, r.plan.why+"; give the spacing or the area of the floor")
	case !whole:
		n.Footprint = estimate.None(mFoot, "spots are missing: "+numberList(n.Missing)+"; read the whole grid")
		n.AreaAverage = n.AreaAverage.Warn("spots are missing: " + numberList(n.Missing))
	case !n.AreaAverage.Known():
		n.Footprint = estimate.None(mFoot, n.AreaAverage.Warnings[0])
	default:
		n.Footprint = n.AreaAverage.Scale(r.plan.area)
		n.Footprint.Method = mFoot
	}
	p := s.Conditions.PowerW
	switch {
	case !n.Footprint.Known():
		n.Efficacy = estimate.None(mEff, n.Footprint.Warnings[0])
	case p == nil || *p == 0:
		n.Efficacy = estimate.None(mEff, "power was not written down; read the watts beside the survey")
	default:
		v := n.Footprint.Centre / *p
		sd := v * hypot((n.Footprint.Hi-n.Footprint.Centre)/(r.u.z()*n.Footprint.Centre), r.u.PowerPct/100)
		n.Efficacy = atLeast(r.u.around(v, sd, len(r.y), mEff), 0)
	}
	n.DLI = estimate.None("DLI", "no photoperiod given")
	if o.PhotoperiodH > 0 {
		n.DLI = dli.Of(n.Average, o.PhotoperiodH)
	}
}

func (r *readings) marked(out func(float64) bool, sure func(estimate.Estimate) bool) []Marked {
	var ms []Marked
	if len(r.y) < 2 {
		return nil
	}
	for i, y := range r.y {
		q := y / r.mean
		if !out(q) {
			continue
		}
		g := make([]float64, len(r.y))
		for j := range g {
			g[j] = -q / (r.mean * float64(len(g)))
		}
		g[i] += 1 / r.mean
		e := r.u.around(q, r.sd(g), len(r.y), "spot / average")
		ms = append(ms, Marked{r.number[i], r.row[i], r.col[i], y, e, sure(e)})
	}
	return ms
}
