package survey

import (
	"fmt"

	"wane/transform/estimate"
)

// Options are what the numbers of a survey need besides the survey.
type Options struct {
	Uncertainty  Uncertainty
	PhotoperiodH float64 // hours a day; 0 = no DLI wanted
	// HotAbove and ColdBelow mark spots by their ratio to the average; 0 means
	// 1.15 and 0.85 (a choice of this program, no source).
	HotAbove, ColdBelow float64
}

// Numbers are what one survey says. Ratios have no unit, fluxes the unit named.
type Numbers struct {
	Rows, Cols int
	Read       int   // spots read
	Missing    []int // numbers of the spots not read

	Average     estimate.Estimate // umol/m2/s, plain mean of the spots read
	AreaAverage estimate.Estimate // umol/m2/s, each spot weighted by its floor
	Min, Max    estimate.Estimate // umol/m2/s
	MinAt       int               // number of the dimmest spot
	MaxAt       int

	MinAvg, MinMax, MaxAvg estimate.Estimate
	CV                     estimate.Estimate // coefficient of variation, sample sd (n-1) over mean

	Perimeter, Interior estimate.Estimate // umol/m2/s
	PerimeterSpots      int               // in the grid, 16 of 25 for 5 x 5
	InteriorSpots       int
	EdgeShare           estimate.Estimate // perimeter average over interior average

	CentreX, CentreY estimate.Estimate // centre of light from the grid's centre, along a row and down the columns
	CentreUnit       string            // "m", or "spots" where no spacing is declared

	DLI       estimate.Estimate // mol/m2/d
	Footprint estimate.Estimate // umol/s falling on the footprint
	Efficacy  estimate.Estimate // umol/J on the footprint
	AreaM2    float64           // footprint, 0 = unknown

	Hot, Cold []Marked
	Warnings  []string // what holds for the survey as a whole
}

// Marked is a spot that stands out.
type Marked struct {
	Number, Row, Col int
	PPFD             float64           // umol/m2/s
	Ratio            estimate.Estimate // to the average
	Sure             bool              // the whole interval lies beyond the mark
}

// Summarise gives the numbers of a survey; a survey that Check refuses is an
// error, a number that this survey cannot give is an unknown estimate with the
// reason.
func Summarise(s Survey, o Options) (Numbers, error) {
	if err := s.Check(); err != nil {
		return Numbers{}, err
	}
	if err := o.Uncertainty.Check(); err != nil {
		return Numbers{}, err
	}
	hot, cold := o.HotAbove, o.ColdBelow
	if hot == 0 {
		hot = 1.15
	}
	if cold == 0 {
		cold = .85
	}
	if !estimate.Finite(hot) || !estimate.Finite(cold) || hot < 1 || cold > 1 || cold < 0 {
		return Numbers{}, fmt.Errorf("hot spots above %v and cold spots below %v times the average: give a number of at least 1 and one from 0 to 1", hot, cold)
	}
	r := newReadings(s, o.Uncertainty)
	n := Numbers{Rows: r.plan.rows, Cols: r.plan.cols, Read: len(r.y), Missing: s.Missing(), AreaM2: r.plan.area}
	n.Warnings = generalWarnings(s)
	n.Average = r.linear(r.even(), "mean of the spots read")
	n.MinAt, n.MaxAt = r.number[r.argmin], r.number[r.argmax]
	r.extremes(&n)
	n.CV = r.cv()
	r.edges(&n)
	r.centre(&n)
	r.footprint(&n, s, o)
	n.Hot = r.marked(func(q float64) bool { return q > hot }, func(e estimate.Estimate) bool { return e.Lo > hot })
	n.Cold = r.marked(func(q float64) bool { return q < cold }, func(e estimate.Estimate) bool { return e.Hi < cold })
	if len(n.Missing) > 0 {
		w := fmt.Sprintf("%d of %d spots were not read: %s", len(n.Missing), n.Rows*n.Cols, numberList(n.Missing))
		n.Warnings = append(n.Warnings, w)
		for _, e := range []*estimate.Estimate{&n.Average, &n.MinAvg, &n.MinMax, &n.MaxAvg, &n.CV, &n.Min, &n.Max} {
			*e = e.Warn(w)
		}
	}
	return n, nil
}

func generalWarnings(s Survey) []string {
	var w []string
	if ss := s.Sensors(); len(ss) > 1 {
		w = append(w, fmt.Sprintf("%d sensors were used (%v): a step in the pattern where one takes over may be the sensors', not the fixture's", len(ss), ss))
	}
	return w
}

// numberList writes spot numbers in words, cut after twelve.
func numberList(ns []int) string {
	s := ""
	for i, n := range ns {
		if i == 12 {
			return s + fmt.Sprintf(" and %d more", len(ns)-12)
		}
		if i > 0 {
			s += ", "
		}
		s += fmt.Sprint(n)
	}
	return s
}
