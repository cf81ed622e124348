package survival

import "math"

// Scenario is one pair of parameters and the weight that the data give it.
type Scenario struct {
	LogEta, LogBeta float64
	Weight          float64 // all weights sum to 1
}

// Scenarios spreads the fitted parameters over what the data leave open: a grid
// along the axes of the curvature, out to 5 errors each way, each point
// weighted by its likelihood with a flat prior in log eta and log beta (the
// usual one of a scale and a shape). It is for predictions, which must carry
// the parameters' uncertainty. None where there is no fit.
func (w Weibull) Scenarios() []Scenario {
	if w.Reason != "" {
		return nil
	}
	const half, reach = 7, 5.0
	// Cov = L·L'
	l11 := math.Sqrt(w.Cov[0][0])
	l21 := w.Cov[0][1] / l11
	l22 := math.Sqrt(math.Max(0, w.Cov[1][1]-l21*l21))
	var grid []Scenario
	sum := 0.0
	for i := -half; i <= half; i++ {
		for j := -half; j <= half; j++ {
			u, v := reach*float64(i)/half, reach*float64(j)/half
			s := Scenario{LogEta: w.LogEta + l11*u, LogBeta: w.LogBeta + l21*u + l22*v}
			s.Weight = math.Exp(w.data.logLik(s.LogEta, s.LogBeta) - w.LogLik)
			if s.Weight > 1e-6 { // a NaN, from a power that overflows, is left out too
				grid = append(grid, s)
				sum += s.Weight
			}
		}
	}
	for i := range grid {
		grid[i].Weight /= sum
	}
	return grid
}
