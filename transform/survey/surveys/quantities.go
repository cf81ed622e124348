package surveys

import (
	"fmt"

	"wane/transform/estimate"
	"wane/transform/survey"
)

// Quantity is one number of a survey by its name.
type Quantity struct {
	Name, Unit, Note string
	estimate.Estimate
}

// Quantities lists the numbers of a survey in the order of a report.
func Quantities(n survey.Numbers) []Quantity {
	at := func(k int) string { return fmt.Sprintf("spot %d", k) }
	return []Quantity{
		{"average", "umol/m2/s", "", n.Average}, {"average by area", "umol/m2/s", "", n.AreaAverage},
		{"min", "umol/m2/s", at(n.MinAt), n.Min}, {"max", "umol/m2/s", at(n.MaxAt), n.Max},
		{"min/avg", "", "", n.MinAvg}, {"min/max", "", "", n.MinMax}, {"max/avg", "", "", n.MaxAvg},
		{"coefficient of variation", "", "", n.CV},
		{"perimeter", "umol/m2/s", fmt.Sprintf("%d of %d spots", n.PerimeterSpots, n.Rows*n.Cols), n.Perimeter},
		{"interior", "umol/m2/s", fmt.Sprintf("%d of %d spots", n.InteriorSpots, n.Rows*n.Cols), n.Interior},
		{"perimeter/interior", "", "", n.EdgeShare},
		{"centre of light along a row", n.CentreUnit, "from the middle of the grid", n.CentreX},
		{"centre of light down the columns", n.CentreUnit, "from the middle of the grid", n.CentreY},
		{"DLI", "mol/m2/d", "", n.DLI}, {"PPF on the footprint", "umol/s", area(n.AreaM2), n.Footprint},
		{"efficacy on the footprint", "umol/J", "", n.Efficacy},
	}
}

func area(m2 float64) string {
	if m2 == 0 {
		return ""
	}
	return fmt.Sprintf("%.3g m2", m2)
}
