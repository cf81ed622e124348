package reading

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestOfKeepsPrintedDecimals(t *testing.T) {
	for _, c := range []struct {
		f float64
		v Value
	}{
		{0, Value{0, 0}}, {812.5, Value{8125, 1}}, {-0.07, Value{-7, 2}}, {231.45, Value{23145, 2}}, {1e15, Value{1e15, 0}},
	} {
		if v, ok := Of(c.f); !ok || v != c.v {
			t.Errorf("Of(%v) = %v %v, want %v", c.f, v, ok, c.v)
		}
	}
	for _, f := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), 1 << 53} {
		if _, ok := Of(f); ok {
			t.Errorf("Of(%v) accepted", f)
		}
	}
}

func TestOfIsNearestWithinItsDigits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := Value{rapid.Int64Range(-1e12, 1e12).Draw(t, "m"), uint8(rapid.IntRange(0, 3).Draw(t, "d"))}
		got, ok := Of(want.Float())
		if !ok || got.Float() != want.Float() {
			t.Fatalf("Of(%v) = %v %v", want.Float(), got, ok)
		}
	})
	rapid.Check(t, func(t *rapid.T) {
		f := rapid.Float64Range(-1e6, 1e6).Draw(t, "f")
		v, ok := Of(f)
		if !ok || math.Abs(v.Float()-f) > 0.51e-9*math.Max(1, math.Abs(f)) {
			t.Fatalf("Of(%v) = %v %v, off by %g", f, v, ok, v.Float()-f)
		}
	})
}
