package demo

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// The level is 1 at the end of seasoning, by definition, whatever the law.
func TestLevelIsOneAfterSeasoning(t *testing.T) {
	for _, l := range []Law{hpsDE(0.08), hpsSE(0.12), cmh(0.1), led(0.03), {S: 0.05, Tau: 1}} {
		if v := l.Level(seasonedAt); math.Abs(v-1) > 1e-12 {
			t.Errorf("%+v: level %v at %d h", l, v, seasonedAt)
		}
	}
}

// By hand, with E = 0, Q = 0: exp(-S (h-100)/10^4) falls to L at 100 - 10^4 ln(L)/S.
func TestCrossingOfAPlainLaw(t *testing.T) {
	l := Law{S: 0.1, Tau: 1000}
	got, ok := l.Crossing(0.9)
	if want := seasonedAt - 1e4*math.Log(0.9)/0.1; !ok || math.Abs(got-want) > 0.02 {
		t.Errorf("crossing at %v, want %v", got, want)
	}
	if _, ok := (Law{S: 1e-4, Tau: 1000}).Crossing(0.9); ok {
		t.Error("a lamp that hardly ages crosses")
	}
}

func TestCrossingIsWhereTheLevelFalls(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.Float64Range(0.03, 0.2).Draw(t, "S")
		l := Law{S: s, Q: rapid.Float64Range(-0.1, 0.2).Draw(t, "Q/S") * s, E: rapid.Float64Range(-0.04, 0.01).Draw(t, "E"),
			Tau: rapid.Float64Range(300, 2000).Draw(t, "tau")}
		threshold := rapid.Float64Range(0.7, 0.95).Draw(t, "threshold")
		h, ok := l.Crossing(threshold)
		if !ok {
			t.Fatalf("%+v never falls to %v", l, threshold)
		}
		if l.Level(h) > threshold || l.Level(h-0.02) < threshold {
			t.Fatalf("%+v: level %v at %v, %v just before", l, l.Level(h), h, l.Level(h-0.02))
		}
	})
}

// A sensor reads true on the day of its recalibration, but for the small error
// of the recalibration and the wander.
func TestGainIsMendedByRecalibration(t *testing.T) {
	mended, drifted := 0.0, 0.0
	for seed := range uint64(200) {
		path := gainPath(chance(seed, "gain"), 730, []int{365})
		drifted += path[364] / 200
		mended += path[365] / 200
	}
	if math.Abs(drifted+0.0115) > 0.002 || math.Abs(mended) > 0.001 {
		t.Errorf("mean log gain %.4f before and %.4f after recalibration, want -0.0115 and 0", drifted, mended)
	}
}

// In 2025 the clocks of Amsterdam went forward on 30 March and back on
// 26 October (EU directive 2000/84/EC: last Sundays of March and October).
func TestDaysOfTheChangeOfClocks(t *testing.T) {
	zone, err := time.LoadLocation(zoneName)
	if err != nil {
		t.Fatal(err)
	}
	c := newCalendar(zone, time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC), 365)
	if c.date(0) != "2025-01-01" || len(c.starts) != 366 || c.slots != 365*96 {
		t.Fatalf("record from %s, %d days, %d slots", c.date(0), len(c.starts)-1, c.slots)
	}
	for d := range c.days {
		want := 96
		switch c.date(d) {
		case "2025-03-30":
			want = 92
		case "2025-10-26":
			want = 100
		}
		if got := c.starts[d+1] - c.starts[d]; got != want {
			t.Errorf("%s has %d quarters of an hour, want %d", c.date(d), got, want)
		}
		if c.moment(d, 0).Unix() != c.unix(c.starts[d]) {
			t.Errorf("%s begins at another slot", c.date(d))
		}
	}
}

func TestCivilAgreesWithTheStandardLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.Int64Range(0, 4e9).Draw(t, "unix")
		y, m, d := civilOf(u)
		wy, wm, wd := time.Unix(u, 0).UTC().Date()
		if y != wy || m != int(wm) || d != wd {
			t.Fatalf("%d is %d-%d-%d, want %d-%d-%d", u, y, m, d, wy, wm, wd)
		}
	})
}
