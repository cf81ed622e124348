package derive

import (
	"math"
	"slices"
	"sort"
	"testing"

	"pgregory.net/rapid"

	"wane/ingest/reading"
	"wane/transform/daily"
)

// A compact series gives back what a plain one would, whatever comes.
func TestCompactIsATrack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		base := int64(1_700_000_000_000_000)
		c := compact{base: base, scale: -1}
		var want daily.Track
		for range rapid.IntRange(0, 30).Draw(t, "n") {
			at := base + rapid.SampledFrom([]int64{1, 1e6, 1e6, 1e6, 60e6}).Draw(t, "unit")*rapid.Int64Range(-100, 3e6).Draw(t,
				"k")
			m := rapid.OneOf(rapid.Int64Range(-9999, 9999), rapid.Int64Range(-1e12, 1e12)).Draw(t, "m")
			scale := rapid.SampledFrom([]int{1, 1, 1, 2}).Draw(t, "scale")
			c.add(at, m, scale)
			want.Time = append(want.Time, at)
			want.Value = append(want.Value, reading.Value{Mantissa: m, Digits: uint8(scale)}.Float())
		}
		sort.Stable(&c)
		sort.Stable(byTime{want})
		from := base + rapid.Int64Range(-1e8, 1e14).Draw(t, "from")
		if rapid.Bool().Draw(t, "forget") {
			c.forget(from, new(room))
		}
		lo, hi := c.within(from, math.MaxInt64)
		var got daily.Track
		c.appendTo(&got, lo, hi, 2)
		k := 0
		for i, at := range want.Time {
			if at < from {
				continue
			}
			if k >= got.Len() || got.Time[k] != at || got.Value[k] != 2*want.Value[i] {
				t.Fatalf("reading %d: %+v, want %d %v", k, got, at, want.Value[i])
			}
			k++
		}
		if k != got.Len() {
			t.Fatalf("%d readings, want %d", got.Len(), k)
		}
	})
}

// A series that shares another's moments is one of its own: what is done to
// either changes nothing of the other.
func TestAlike(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		base := int64(1_700_000_000_000_000)
		n := rapid.IntRange(1, 9).Draw(t, "n")
		at, m := make([]int64, n), make([]int64, n)
		for i := range n {
			at[i] = base + 1e6*rapid.Int64Range(-100, 100).Draw(t, "k")
			m[i] = rapid.SampledFrom([]int64{-9999, 0, 1, 1, 1, 1, 1, 1e12}).Draw(t, "m")
		}
		a := compact{base: base, scale: -1}
		a.extend(at, make([]int64, n), 1)
		later := append(slices.Clone(at[1:]), at[n-1]+1e6)
		if got := sameEnd(base, at[n/2:], a.sec); !slices.Equal(got, a.sec[n/2:]) {
			t.Fatalf("%v of %v", got, a.sec)
		}
		if sameEnd(base+1, at, a.sec) != nil || sameEnd(base, later, a.sec) != nil ||
			sameEnd(base, append(later, 0), a.sec) != nil {
			t.Fatal("other moments are taken for the same")
		}
		b, want := compact{base: base, scale: -1}, compact{base: base, scale: -1}
		want.extend(at, m, 2)
		if b.alike(a.sec, m, 2) != !slices.Contains(m, 1e12) {
			t.Fatal("alike holds what it cannot, or not what it can")
		}
		if b.Len() == 0 {
			return
		}
		owner, sharer := a.track(0, n), b.track(0, n)
		if w := want.track(0, n); !slices.Equal(w.Time, sharer.Time) || !slices.Equal(w.Value, sharer.Value) {
			t.Fatalf("%+v, want %+v", sharer, w)
		}
		change := func(c *compact) {
			c.add(base-1e9, 5, c.scale)
			c.sort()
		}
		if rapid.Bool().Draw(t, "owner") {
			change(&a)
			if got := b.track(0, n); !slices.Equal(got.Time, sharer.Time) {
				t.Fatalf("%v, want %v", got.Time, sharer.Time)
			}
		} else {
			change(&b)
			if got := a.track(0, n); !slices.Equal(got.Time, owner.Time) {
				t.Fatalf("%v, want %v", got.Time, owner.Time)
			}
		}
	})
}

// A run appended at once is the same as its readings one by one.
func TestExtendIsAdd(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		base := int64(1_700_000_000_000_000)
		a, b := compact{base: base, scale: -1}, compact{base: base, scale: -1}
		b.sec, b.mant = new(room).take(rapid.IntRange(0, 9).Draw(t, "room")), new(room).take(3)
		for range rapid.IntRange(0, 6).Draw(t, "runs") {
			n, scale := rapid.IntRange(0, 9).Draw(t, "n"), rapid.SampledFrom([]int{1, 1, 1, 2}).Draw(t, "scale")
			at, m := make([]int64, n), make([]int64, n)
			for i := range n {
				at[i] = base + rapid.SampledFrom([]int64{1e6, 1e6, 1e6, 1e6, 1e6, 1e6, 1}).Draw(t, "unit")*rapid.Int64Range(-100,
					3e6).Draw(t, "k")
				m[i] = rapid.SampledFrom([]int64{-9999, 0, 1, 1, 1, 1, 1, 1e12}).Draw(t, "m")
				a.add(at[i], m[i], scale)
			}
			b.extend(at, m, scale)
		}
		x, y := a.track(0, a.Len()), b.track(0, b.Len())
		if !slices.Equal(x.Time, y.Time) || !slices.Equal(x.Value, y.Value) || (a.wide == nil) != (b.wide == nil) {
			t.Fatalf("%+v, want %+v", y, x)
		}
	})
}
