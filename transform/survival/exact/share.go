package exact

import (
	"fmt"

	"gonum.org/v1/gonum/stat/distuv"

	"wane/transform/estimate"
)

// Share gives the share of count in n with the exact binomial limits (Clopper
// and Pearson 1934): beta(a/2; x, n-x+1) and beta(1-a/2; x+1, n-x). Both ends
// stay two-sided at x = 0 and x = n, as the usual tables have them.
func Share(count, n int, level float64) (estimate.Estimate, error) {
	if err := checkLevel(level); err != nil {
		return estimate.Estimate{}, err
	}
	if count < 0 || n < 0 || count > n {
		return estimate.Estimate{}, fmt.Errorf("%d of %d: a count must lie between 0 and the total", count, n)
	}
	const method = "share, exact binomial limits"
	if n == 0 {
		return estimate.None(method, "no units"), nil
	}
	a, x, rest := (1-level)/2, float64(count), float64(n-count)
	e := estimate.Estimate{Centre: x / float64(n), Lo: 0, Hi: 1, Level: level, N: n, Method: method}
	if count > 0 {
		e.Lo = distuv.Beta{Alpha: x, Beta: rest + 1}.Quantile(a)
	}
	if count < n {
		e.Hi = distuv.Beta{Alpha: x + 1, Beta: rest}.Quantile(1 - a)
	}
	return e, nil
}
