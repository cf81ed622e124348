package derive

import (
	"math"
	"reflect"
	"testing"

	"pgregory.net/rapid"
)

// Many readings at once are what each would be alone, whatever does not fit.
func TestExtendIsAddForEach(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const base = int64(1_700_000_000_000_000)
		one, many := compact{base: base, scale: -1}, compact{base: base, scale: -1}
		for range rapid.IntRange(0, 5).Draw(t, "runs") {
			scale := rapid.SampledFrom([]int{1, 1, 1, 2}).Draw(t, "scale")
			var at, mantissa []int64
			for range rapid.IntRange(0, 9).Draw(t, "n") {
				at = append(at, base+rapid.SampledFrom([]int64{1, 1e6, 1e6, 1e6, 60e6}).Draw(t, "unit")*rapid.Int64Range(-100,
					3e9).Draw(t, "k"))
				mantissa = append(mantissa, rapid.OneOf(rapid.Int64Range(-9999, 9999),
					rapid.SampledFrom([]int64{math.MinInt32, math.MaxInt32, math.MinInt32 - 1, math.MaxInt32 + 1})).Draw(t, "m"))
			}
			for i := range at {
				one.add(at[i], mantissa[i], scale)
			}
			many.extend(at, mantissa, scale)
		}
		lo, hi := one.track(0, one.Len()), many.track(0, many.Len())
		if !reflect.DeepEqual(lo, hi) || (one.wide == nil) != (many.wide == nil) {
			t.Fatalf("%+v\n%+v", lo, hi)
		}
	})
}
