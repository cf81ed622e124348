// Package exact gives limits that rest on no large numbers: for a failure rate
// from a count and unit-hours (chi-square), for a share from a count and a
// total (Clopper and Pearson), and for a quantile of a sample from the order of
// its values.
//
// Each holds at least what its level says. A count of nought gives a one-sided
// bound at that level, said in a warning.
package exact

import "fmt"

func checkLevel(level float64) error {
	if !(level > 0 && level < 1) {
		return fmt.Errorf("level %v: must lie between 0 and 1, such as 0.95", level)
	}
	return nil
}
