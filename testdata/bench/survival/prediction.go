package main

import (
	"fmt"
	"math"
	"math/rand/v2"

	s "wane/transform/survival"
	"wane/transform/survival/future"
)

// prediction prints how often the 90 % prediction interval of next year's
// failures holds, with and without the uncertainty of the parameters.
func prediction(runs int, seed uint64) {
	fmt.Println("\n90 % prediction intervals of the failures in the 3,000 h ahead: held, count below, count above (%); held without parameter uncertainty")
	fmt.Printf("%6s %6s %8s %8s %8s %8s %8s %8s\n", "n", "failed", "ahead", "no fit", "held", "below", "above", "without")
	for _, n := range []int{20, 60, 200, 1000} {
		r := rand.New(rand.NewPCG(seed, uint64(n)))
		var in, low, high, naive, none int
		var past, coming float64
		for k := 0; k < min(runs, 400000/n); k++ {
			var units []s.Unit
			var ages, hours []float64
			failed := 0.0
			for i := 0; i < n; i++ {
				t := 12000 * math.Pow(-math.Log(1-r.Float64()), 1/2.5)
				age := 8000 * (0.3 + 0.7*r.Float64())
				if t <= age {
					units = append(units, s.Unit{Exit: t, Failed: true})
					continue
				}
				units = append(units, s.Unit{Exit: age})
				ages, hours = append(ages, age), append(hours, 3000)
				if t <= age+3000 {
					failed++
				}
			}
			fit, err := s.FitWeibull(units, 0.95)
			if err != nil || fit.Reason != "" {
				none++
				continue
			}
			c, err := future.Weibull(fit, ages, hours)
			if err != nil {
				none++
				continue
			}
			past, coming = past+float64(fit.Failures), coming+failed
			e := c.Interval(0.9)
			switch {
			case failed < e.Lo:
				low++
			case failed > e.Hi:
				high++
			default:
				in++
			}
			p := make([]float64, len(ages))
			for i := range p {
				p[i] = fit.Chance(ages[i], hours[i])
			}
			if d, err := future.Sum(p); err == nil {
				if e := d.Interval(0.9); e.Lo <= failed && failed <= e.Hi {
					naive++
				}
			}
		}
		all := float64(in + low + high)
		fmt.Printf("%6d %6.1f %8.1f %8d %8.1f %8.1f %8.1f %8.1f\n", n, past/all, coming/all, none, 100*float64(in)/all, 100*float64(low)/all, 100*float64(high)/all, 100*float64(naive)/all)
	}
}
