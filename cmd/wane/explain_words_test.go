package main

import (
	"math"
	"testing"

	"wane/transform/estimate"
)

// A range without a centre is said whole, a bound as one.
func TestExplainSaysRanges(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for want, e := range map[string]estimate.Estimate{
		"between 7288 and 14198 h":         {Centre: nan, Lo: 7288, Hi: 14198, Level: .8},
		"not before 7288 h":                {Centre: nan, Lo: 7288, Hi: inf, Level: .8},
		"not known":                        estimate.None("", ""),
		"9000 h (7288 to 14198, 80 %)":     {Centre: 9000, Lo: 7288, Hi: 14198, Level: .8},
		"9000 h (from 7288, no upper end)": {Centre: 9000, Lo: 7288, Hi: inf, Level: .8},
	} {
		if got := interval(e, 0, " h"); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	for want, e := range map[string]estimate.Estimate{
		"between 2026-07-13 and 2027-08-20": {Centre: nan, Lo: 20647, Hi: 21050},
		"not before 2026-07-13":             {Centre: nan, Lo: 20647, Hi: inf},
	} {
		if got := dates(e); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
