package future

import (
	"fmt"
	"math"

	"wane/transform/estimate"
)

// Counts is the distribution of a count to come.
type Counts struct {
	P        []float64 // chance of 0, 1, 2, …; the sum is 1
	N        int       // units or past failures it rests on
	Method   string
	Warnings []string
}

// Mean gives the expected count.
func (c Counts) Mean() float64 {
	m := 0.0
	for k, p := range c.P {
		m += float64(k) * p
	}
	return m
}

// Interval gives the mean and the prediction interval: whole counts, missed
// below and above with a chance of at most (1-level)/2 each.
func (c Counts) Interval(level float64) estimate.Estimate {
	if !(level > 0 && level < 1) {
		return estimate.None(c.Method, fmt.Sprintf("level %v: must lie between 0 and 1, such as 0.9", level))
	}
	if len(c.P) == 0 {
		e := estimate.None(c.Method, "nothing to predict from")
		e.Warnings = append(e.Warnings, c.Warnings...)
		return e
	}
	risk := (1 - level) / 2
	return estimate.Estimate{Centre: c.Mean(), Lo: float64(c.quantile(risk, true)), Hi: float64(c.quantile(1-risk, false)),
		Level: level, N: c.N, Method: c.Method, Warnings: append([]string(nil), c.Warnings...)}
}

// Spares gives the smallest stock that covers the count with at least the chance
// service, and the chance with which it does.
func (c Counts) Spares(service float64) (stock int, achieved float64, err error) {
	if !(service > 0 && service < 1) {
		return 0, 0, fmt.Errorf("service level %v: must lie between 0 and 1, such as 0.95", service)
	}
	if len(c.P) == 0 {
		return 0, 0, fmt.Errorf("no forecast to stock for: %s", c.Method)
	}
	stock = c.quantile(service, false)
	for k := 0; k <= stock; k++ {
		achieved += c.P[k]
	}
	return stock, math.Min(achieved, 1), nil
}

// quantile gives the smallest k with P(X <= k) >= q, or > q if strict.
func (c Counts) quantile(q float64, strict bool) int {
	const rounding = 1e-12
	sum := 0.0
	for k, p := range c.P {
		sum += p
		if strict && sum > q+rounding || !strict && sum >= q-rounding {
			return k
		}
	}
	return len(c.P) - 1
}

// tidy drops a tail without weight and makes the sum 1.
func tidy(p []float64) []float64 {
	total := 0.0
	for _, x := range p {
		total += x
	}
	for len(p) > 1 && p[len(p)-1] < 1e-15*total {
		p = p[:len(p)-1]
	}
	for k := range p {
		p[k] /= total
	}
	return p
}
