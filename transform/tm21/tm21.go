// Package tm21 projects the maintenance of LED cohorts the way ANSI/IES TM-21
// does (TM-21-11 with Addendum B), beside the product's own forecast.
//
// It is a procedure for laboratory data: LM-80 tests of LED packages, arrays or
// modules at a held temperature and current, or TM-28 tests of whole luminaires.
// Readings from a greenhouse hold dirt, drift of the sensor and supply voltage
// as well; Caution says so and belongs beside every projection made from them.
//
// The steps:
//
//  1. normalise every unit to 1 at its first reading and average the units at
//     each time (Average);
//  2. take the window: of tests of 6,000 to 10,000 h the last 5,000 h and
//     nothing before 1,000 h; of longer ones the last half (Window);
//  3. fit ln(average) = ln B - alpha t by ordinary least squares (Project);
//  4. Lp = ln(B/p)/alpha, reported as calculated up to a cap on the test's
//     duration: 6 times for 20 units and more, 5.5 times for 10 to 19;
//
// The same arithmetic on photon flux gives Qp.
package tm21

import (
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/stat"
)

// Caution is to be said beside every projection from field readings.
const Caution = "TM-21 is a procedure for laboratory data at a held temperature; field readings also hold dirt, sensor drift and supply voltage"

// Limits of the procedure.
const (
	MinTest   = 6000 // h; no projection from shorter tests
	MinUnits  = 10   // no projection from fewer units
	FullUnits = 20   // units for the larger cap
)

// Point is the average of the units at one time.
type Point struct {
	Hours   float64
	Average float64 // relative to the first reading
	Units   int
}

// Unit is one unit's readings, in order of time.
type Unit struct {
	Hours []float64
	Flux  []float64
}

// Average normalises each unit to 1 at its first reading and averages those
// that were read at each time. Units must share their reading times; a unit
// that ends early drops out of later averages.
func Average(units []Unit) ([]Point, error) {
	sum := map[float64]*Point{}
	for k, u := range units {
		if len(u.Hours) != len(u.Flux) || len(u.Hours) == 0 {
			return nil, fmt.Errorf("unit %d: %d times but %d readings", k+1, len(u.Hours), len(u.Flux))
		}
		if !(u.Flux[0] > 0) {
			return nil, fmt.Errorf("unit %d: first reading %v: must be above 0", k+1, u.Flux[0])
		}
		for i, h := range u.Hours {
			p := sum[h]
			if p == nil {
				p = &Point{Hours: h}
				sum[h] = p
			}
			p.Average += u.Flux[i] / u.Flux[0]
			p.Units++
		}
	}
	out := make([]Point, 0, len(sum))
	for _, p := range sum {
		p.Average /= float64(p.Units)
		out = append(out, *p)
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Hours < out[j].Hours })
	return out, nil
}

// Window gives the points that the fit uses.
func Window(points []Point) []Point {
	if len(points) == 0 {
		return nil
	}
	d := points[len(points)-1].Hours
	from := math.Max(1000, d-5000)
	if d > 10000 {
		from = d / 2
	}
	for k := range points {
		if points[k].Hours >= from {
			return points[k:]
		}
	}
	return nil
}

// Cap gives the largest hours that may be claimed from a test of so many
// units and hours; false where nothing may.
func Cap(units int, testHours float64) (float64, bool) {
	switch {
	case units >= FullUnits:
		return 6 * testHours, true
	case units >= MinUnits:
		return 5.5 * testHours, true
	}
	return 0, false
}

// Projection is the exponential B exp(-Alpha t) with what may be claimed of it.
type Projection struct {
	Alpha, B  float64
	Units     int     // fewest units at any point of the window
	TestHours float64 // duration of the test
	Cap       float64
	N         int // points in the window
	Points    []Point
}

// Project fits the window of the averages.
func Project(points []Point) (Projection, error) {
	if len(points) == 0 {
		return Projection{}, fmt.Errorf("no readings")
	}
	d := points[len(points)-1].Hours
	if d < MinTest {
		return Projection{}, fmt.Errorf("test of %.0f h: at least %d h are needed", d, MinTest)
	}
	w := Window(points)
	if len(w) < 3 {
		return Projection{}, fmt.Errorf("%d readings in the window: at least 3 are needed", len(w))
	}
	p := Projection{TestHours: d, N: len(w), Units: w[0].Units, Points: points}
	x, y := make([]float64, len(w)), make([]float64, len(w))
	for k, q := range w {
		if !(q.Average > 0) {
			return Projection{}, fmt.Errorf("average %v at %.0f h: must be above 0", q.Average, q.Hours)
		}
		x[k], y[k] = q.Hours, math.Log(q.Average)
		p.Units = min(p.Units, q.Units)
	}
	a, b := stat.LinearRegression(x, y, nil, false)
	p.B, p.Alpha = math.Exp(a), -b
	limit, ok := Cap(p.Units, d)
	if !ok {
		return Projection{}, fmt.Errorf("%d units: at least %d are needed", p.Units, MinUnits)
	}
	p.Cap = limit
	return p, nil
}

// Life is the hours to a share of the initial flux.
type Life struct {
	Share      float64
	Calculated float64 // +Inf where alpha is not above 0: no value can be calculated
	Cap        float64
	Observed   bool // crossed within the test, read off between two readings
}

// At gives the hours to a share p, such as 0.7 for L70, 0.9 for Q90.
func (p Projection) At(share float64) Life {
	l := Life{Share: share, Cap: p.Cap, Calculated: math.Inf(1)}
	for k := 1; k < len(p.Points); k++ {
		a, b := p.Points[k-1], p.Points[k]
		if a.Average > share && b.Average <= share {
			l.Observed = true
			l.Calculated = a.Hours + (b.Hours-a.Hours)*(a.Average-share)/(a.Average-b.Average)
			return l
		}
	}
	if p.Alpha > 0 {
		l.Calculated = math.Max(0, math.Log(p.B/share)/p.Alpha)
	}
	return l
}

// Claimed gives the hours that may be claimed and whether they are a bound.
func (l Life) Claimed() (hours float64, bound bool) {
	if !l.Observed && l.Calculated > l.Cap {
		return l.Cap, true
	}
	return l.Calculated, false
}

// String words the life as the procedure reports it, such as
// "L70(6k) > 36000 h (calculated 88944 h)".
func (l Life) String() string {
	h, bound := l.Claimed()
	switch {
	case bound && math.IsInf(l.Calculated, 1):
		return fmt.Sprintf("> %.0f h (no value can be calculated: the flux does not fall)", h)
	case bound:
		return fmt.Sprintf("> %.0f h (calculated %.0f h)", h, l.Calculated)
	case l.Observed:
		return fmt.Sprintf("%.0f h (observed)", h)
	}
	return fmt.Sprintf("%.0f h", h)
}

// Name gives the procedure's name for a life, such as L70(6k) or Q90(10k):
// kind is L for luminous, Q for photon flux.
func (p Projection) Name(kind string, share float64) string {
	return fmt.Sprintf("%s%.0f(%.0fk)", kind, 100*share, math.Floor(p.TestHours/1000))
}
