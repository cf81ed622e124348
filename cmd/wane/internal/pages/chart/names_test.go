package chart

import (
	"testing"

	"gonum.org/v1/plot/vg"
)

func TestNamesStandApart(t *testing.T) {
	for _, at := range [][]vg.Length{{50, 50, 50}, {0, 1, 2, 3}, {95, 96, 97, 100}, {10, 40, 90}} {
		apart(at, 6, 94)
		for i, y := range at {
			if y < 6 || y > 94 || i > 0 && y-at[i-1] < nameHeight-1e-9 {
				t.Errorf("%v", at)
				break
			}
		}
	}
}
