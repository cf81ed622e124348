package daily

import (
	"reflect"
	"sort"
	"testing"

	"pgregory.net/rapid"

	"wane/transform/fleet"
)

// A day's row is the same whatever else is known and whichever other days are
// asked about: what lies before its Since or after its end does not count.
func TestDayStandsAlone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const n = 7
		days := bounds(n)
		for i := range days {
			days[i].Since = days[max(0, i-rapid.IntRange(0, 2).Draw(t, "runIn"))].From
		}
		sort.SliceStable(days, func(i, j int) bool { return days[i].Since < days[j].Since }) // they grow with the day
		for i := range days {
			days[i].Day, days[i].From, days[i].To = int32(i), bounds(n)[i].From, bounds(n)[i].To
			days[i].Since = min(days[i].Since, days[i].From)
		}
		g := DefaultGate()
		g.StuckHours = 4
		series := func(values ...float64) Track {
			if rapid.IntRange(0, 3).Draw(t, "silent") == 0 {
				return Track{}
			}
			all := messy(t, n, values...)
			if rapid.Bool().Draw(t, "hole") {
				lo, hi := span(all, days[2].From, days[rapid.IntRange(2, 5).Draw(t, "until")].To)
				all = Track{append(all.Time[:lo:lo], all.Time[hi:]...), append(all.Value[:lo:lo], all.Value[hi:]...)}
			}
			return all
		}
		in := Input{
			LampType: fleet.CMH, Light: series(0, 300, 610, 610, 610, 612.5, 9000), Power: series(0, 3, 1000, 1000),
			Current: series(0, 4.5, 4.5),
			Supply:  series(230, 231, 120), Dim: series(80, 100, 100, 0), Ambient: series(24, 25), Counter: series(10, 11),
			SetPoints: []SetPoint{{At: days[3].From + 600*minute, Percent: 70}},
		}
		if rapid.Bool().Draw(t, "greenhouse") {
			in.Sky = &Sky{Latitude: 52, Longitude: 5}
		}
		together := map[int32]Day{}
		for _, d := range Roll(in, days, g) {
			together[d.Day] = d
		}
		for _, b := range days {
			alone := in
			for _, tr := range []*Track{&alone.Light, &alone.Power, &alone.Current, &alone.Supply, &alone.Dim, &alone.Ambient,
				&alone.Counter} {
				lo, hi := span(*tr, b.Since, b.To)
				*tr = Track{tr.Time[lo:hi], tr.Value[lo:hi]}
			}
			got := Roll(alone, []Bound{b}, g)
			want, spoke := together[b.Day]
			if spoke != (len(got) == 1) || spoke && !alike(got[0], want) {
				t.Fatalf("day %d alone:\n%+v\nwith others:\n%+v", b.Day, got, want)
			}
		}
	})
}

// alike compares all fields, NaN being NaN.
func alike(a, b Day) bool {
	x, y := reflect.ValueOf(a), reflect.ValueOf(b)
	for i := range x.NumField() {
		p, q := x.Field(i), y.Field(i)
		if p.Kind() == reflect.Float64 && p.Float() != p.Float() && q.Float() != q.Float() {
			continue
		}
		if !p.Equal(q) {
			return false
		}
	}
	return true
}

// A lamp that burned all through the days before is warm from midnight on, and
// one that came on shortly before is not yet.
func TestWarmFromTheDayBefore(t *testing.T) {
	for _, c := range []struct {
		on   float64 // hour at which it comes on
		want int
	}{{20, 0}, {23.75, 1}} {
		days := bounds(2)
		in := Input{LampType: fleet.CMH, Light: burning(2, 5, c.on, 6, 500)}
		d := Roll(in, days[1:], DefaultGate())[0]
		again := 4 // in the evening: 0, 5, 10 and 15 min
		if c.on == 23.75 {
			again = 3 // up to 23:55
		}
		if d.Left[RunningUp] != again+c.want {
			t.Errorf("on at %v: %d running up, want %d", c.on, d.Left[RunningUp], again+c.want)
		}
	}
}
