package robust

import (
	"math"
	"sort"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

func TestMedian(t *testing.T) {
	v := []float64{5, 1, 4, 2}
	if Median(v) != 3 || v[0] != 5 || Sort(v) != 3 || v[0] != 1 || Median([]float64{7, 9, 8}) != 8 ||
		!math.IsNaN(Median(nil)) {
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

func TestSelectionIsSorting(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.SliceOfN(rapid.Float64Range(-3, 3), 1, 60).Draw(t, "v")
		if rapid.Bool().Draw(t, "ties") {
			for i := range v {
				v[i] = math.Round(v[i])
			}
		}
		sorted := append([]float64(nil), v...)
		sort.Float64s(sorted)
		k := rapid.IntRange(0, len(v)-1).Draw(t, "k")
		if got := Nth(append([]float64(nil), v...), k); got != sorted[k] {
			t.Fatalf("Nth(%d) = %v, want %v", k, got, sorted[k])
		}
		if got, want := Middle(append([]float64(nil), v...)), Median(v); got != want {
			t.Fatalf("Middle %v, Median %v", got, want)
		}
	})
}
