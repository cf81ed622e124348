package sun

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func at(s string) int64 {
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		panic(err)
	}
	return t.UnixMicro()
}

// The worked example of Reda & Andreas, Solar Position Algorithm for Solar
// Radiation Applications, NREL/TP-560-34302 (2004), appendix A.5 (from memory):
// 2003-10-17 12:30:30 at UTC-7, 39.742476 N, 105.1786 W, zenith 50.11162
// degrees with refraction. Refraction at that height is 0.017 degrees at their
// pressure, so the geometric zenith is 50.128.
func TestPublishedExample(t *testing.T) {
	got := 90 - Elevation(at("2003-10-17T12:30:30-07:00"), 39.742476, -105.1786)
	if math.Abs(got-50.128) > 0.02 {
		t.Fatalf("zenith %.4f, published 50.112 with refraction", got)
	}
}

// Meeus, Astronomical Algorithms, example 25.a (from memory): 1992 October 13,
// 0h TD, apparent declination -7.78507 degrees.
func TestPublishedDeclination(t *testing.T) {
	decl, _ := position(at("1992-10-13T00:00:00Z") - 59e6) // TD was 59 s ahead of UT
	if got := decl / degree; math.Abs(got+7.78507) > 0.002 {
		t.Fatalf("declination %.5f", got)
	}
}

// At the equator at an equinox the sun passes overhead; beyond the polar circle
// it does not rise at midwinter (definitions).
func TestEquatorAndPole(t *testing.T) {
	high := -90.0
	for m := range 1440 {
		high = math.Max(high, Elevation(at("2024-03-20T00:00:00Z")+int64(m)*60e6, 0, 0))
	}
	if high < 89.7 {
		t.Errorf("highest sun at the equator on the equinox: %.2f", high)
	}
	for m := range 1440 {
		if e := Elevation(at("2024-12-21T00:00:00Z")+int64(m)*60e6, 75, 20); e > -8 {
			t.Fatalf("sun at 75 N at midwinter: %.2f", e)
		}
	}
}

func TestElevationIsOneOfThisSky(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		when := rapid.Int64Range(0, 3e15).Draw(t, "at")
		lat := rapid.Float64Range(-90, 90).Draw(t, "lat")
		lon := rapid.Float64Range(-180, 180).Draw(t, "lon")
		e := Elevation(when, lat, lon)
		if !(e >= -90 && e <= 90) {
			t.Fatalf("%v", e)
		}
		if d := math.Abs(e - Elevation(when+60e6, lat, lon)); d > 0.26 { // 15 degrees an hour
			t.Fatalf("the sun jumped by %v degrees in a minute", d)
		}
	})
}
