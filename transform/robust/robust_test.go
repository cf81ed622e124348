package robust

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

func TestMedian(t *testing.T) {
	v := []float64{5, 1, 4, 2}
	if Median(v) != 3 || v[0] != 5 || Sort(v) != 3 || v[0] != 1 || Median([]float64{7, 9, 8}) != 8 || !math.IsNaN(Median(nil)) {
		t.Fatal(v)
	}
}

func TestNormalIsTheQuartileOfTheNormal(t *testing.T) {
	if want := 1 / distuv.UnitNormal.Quantile(0.75); math.Abs(Normal-want) > 1e-12 {
		t.Fatalf("%v, want %v", Normal, want)
	}
	if got := SD([]float64{1, 2, 3, 4, 100}, 3); math.Abs(got-Normal) > 1e-12 {
		t.Fatal(got)
	}
}
