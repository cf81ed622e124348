package daily

import (
	"testing"

	"pgregory.net/rapid"

	"wane/transform/fleet"
)

// cut gives the readings in [from, to).
func cut(t Track, from, to int64) Track {
	lo, hi := span(t, from, to)
	return Track{t.Time[lo:hi:hi], t.Value[lo:hi:hi]}
}

// Days rolled up from the readings since the day before are those rolled up from
// everything, unless a series that is said to be lacking has readings before.
func TestNearIsEnoughUnlessItIsSaid(t *testing.T) {
	sure := 0
	rapid.Check(t, func(t *rapid.T) {
		const n, runIn = 7, 4
		days := bounds(n)
		for i := range days {
			days[i].Since = days[max(0, i-runIn)].From
		}
		g := DefaultGate()
		g.StuckHours = rapid.SampledFrom([]float64{1, 8, 23, 30}).Draw(t, "stuck")
		g.GapMinutes = rapid.SampledFrom([]float64{60, 200, 3000}).Draw(t, "gap")
		if rapid.Bool().Draw(t, "slow lamp") {
			g.RunUp = map[fleet.LampType]float64{fleet.CMH: 240}
		}
		series := func(values ...float64) Track {
			if rapid.IntRange(0, 4).Draw(t, "silent") == 0 {
				return Track{}
			}
			paces := rapid.SampledFrom([][]int{{5}, {15}, {30}, {60}, {180}, {700}, {5, 60}, {15, 180},
				{20, 20, 20, 150}}).Draw(t, "paces")
			steady := rapid.Bool().Draw(t, "steady")
			var all Track
			last := values[len(values)-1]
			for m := rapid.IntRange(0, 100).Draw(t, "begins"); m < n*24*60; {
				step := paces[m/(24*60)%len(paces)] + m%2
				if !steady || m%(24*60) < step { // lit all day, or all the time
					last = rapid.SampledFrom(values).Draw(t, "v")
				}
				all.Time, all.Value = append(all.Time, int64(m)*minute), append(all.Value, last+0.1*float64(m%7))
				m += step
			}
			if rapid.Bool().Draw(t, "stands still") {
				lo, hi := span(all, days[rapid.IntRange(0, 4).Draw(t, "from")].From,
					days[rapid.IntRange(2, 5).Draw(t, "until")].To-int64(rapid.IntRange(0, 1400).Draw(t, "before"))*minute)
				for i := lo; i < hi; i++ {
					all.Value[i] = all.Value[lo]
				}
			}
			if rapid.IntRange(0, 2).Draw(t, "hole") == 0 {
				lo, hi := span(all, days[2].From, days[rapid.IntRange(2, 5).Draw(t, "until")].To-int64(rapid.IntRange(0,
					300).Draw(t, "before"))*minute)
				all = Track{append(all.Time[:lo:lo], all.Time[hi:]...), append(all.Value[:lo:lo], all.Value[hi:]...)}
			}
			return all
		}
		in := Input{
			LampType: fleet.CMH, Light: series(0, 300, 610, 610.5, 611, 612.5, 9000), Power: series(0, 3, 1000, 1001),
			Current: series(0, 4.5, 4.6),
			Supply:  series(230, 231, 120), Dim: series(80, 100, 100, 0), Ambient: series(24, 25), Counter: series(10, 11),
			SetPoints: []SetPoint{{At: days[3].From + 600*minute, Percent: 70}},
		}
		if rapid.Bool().Draw(t, "greenhouse") {
			in.Sky = &Sky{Latitude: 52, Longitude: 5}
		}
		first := rapid.IntRange(4, n-1).Draw(t, "first")
		some := days[first : first+rapid.IntRange(1, n-first).Draw(t, "days")]
		known, end := some[0].From-Near, some[len(some)-1].To
		near := in
		for _, tr := range []*Track{&near.Light, &near.Power, &near.Current, &near.Dim} {
			*tr = cut(*tr, known, end)
		}
		for _, tr := range []*Track{&near.Supply, &near.Ambient} {
			*tr = cut(*tr, some[0].From-Nearby, end)
		}
		near.Counter = cut(near.Counter, some[0].From, end)
		got, lacks := new(Roller).RollNear(near, some, known, g)
		back := func(tr Track) bool { return cut(tr, some[0].Since, known).Len() > 0 }
		if lacks.Light && back(in.Light) || lacks.Power && back(in.Power) || lacks.Current && back(in.Current) {
			return
		}
		sure++
		want := Roll(in, some, g)
		if len(got) != len(want) {
			t.Fatalf("%d days, want %d", len(got), len(want))
		}
		for i := range got {
			if !alike(got[i], want[i]) {
				t.Fatalf("day %d from near:\n%+v\nfrom everything:\n%+v", got[i].Day, got[i], want[i])
			}
		}
	})
	if sure < 10 {
		t.Errorf("near was enough in %d cases", sure)
	}
}

// A steady logger lacks nothing; one that is slow, stood still or fell silent
// lacks what came before.
func TestWhatNearLacks(t *testing.T) {
	days := bounds(6)
	for i := range days {
		days[i].Since = days[max(0, i-4)].From
	}
	day, known := days[5:], days[5].From-Near
	light := func(cadence int) Track { return cut(burning(6, cadence, 6, 12, 800), known, day[0].To) }
	still := light(5)
	for i := range still.Value[:300] {
		still.Value[i] = 801
	}
	silent := cut(light(5), 0, day[0].From)
	for name, c := range map[string]struct {
		in   Input
		want Lacks
	}{
		"steady":                 {Input{Light: light(5)}, Lacks{}},
		"a quarter of an hour":   {Input{Light: light(15)}, Lacks{}},
		"hourly":                 {Input{Light: light(60)}, Lacks{Light: true}},
		"silent, with power":     {Input{Power: light(5)}, Lacks{Light: true}},
		"silent, power hourly":   {Input{Power: light(60)}, Lacks{Light: true, Power: true}},
		"silent, only current":   {Input{Current: light(5)}, Lacks{Light: true, Power: true}},
		"from the day before":    {Input{Light: cut(light(5), day[0].From-60*minute, day[0].To)}, Lacks{Light: true}},
		"greenhouse, no power":   {Input{Light: light(5), Sky: &Sky{Latitude: 52, Longitude: 5}}, Lacks{Power: true}},
		"silent since yesterday": {Input{Light: silent}, Lacks{}},
		"stands still":           {Input{Light: still}, Lacks{}},
	} {
		if _, got := new(Roller).RollNear(c.in, day, known, DefaultGate()); got != c.want {
			t.Errorf("%s: %+v, want %+v", name, got, c.want)
		}
	}
	if _, got := new(Roller).RollNear(Input{Light: light(5)}, day, known+1,
		DefaultGate()); got != (Lacks{true, true, true}) {
		t.Errorf("less than near: %+v", got)
	}
	if _, got := new(Roller).RollNear(Input{Light: light(60)}, day, day[0].Since, DefaultGate()); got != (Lacks{}) {
		t.Errorf("all that counts: %+v", got)
	}
}
