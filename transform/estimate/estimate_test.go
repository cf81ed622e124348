package estimate

import (
	"math"
	"testing"
)

func TestScaleSwapsEndsForNegativeFactor(t *testing.T) {
	e := Estimate{Centre: 2, Lo: 1, Hi: 4}.Scale(-0.5)
	if e.Centre != -1 || e.Lo != -2 || e.Hi != -0.5 {
		t.Fatalf("got %+v", e)
	}
}

func TestWarnLeavesTheOriginalAlone(t *testing.T) {
	a := Estimate{Warnings: make([]string, 0, 4)}
	b, c := a.Warn("b"), a.Warn("c")
	if len(a.Warnings) != 0 || b.Warnings[0] != "b" || c.Warnings[0] != "c" {
		t.Fatalf("warnings shared: %v %v %v", a, b, c)
	}
}

func TestNoneIsUnknownAndUnbounded(t *testing.T) {
	e := None("m", "no readings")
	if e.Known() || e.Bounded() || e.Warnings[0] != "no readings" {
		t.Fatalf("got %+v", e)
	}
	if (Estimate{Lo: 1, Hi: math.Inf(1)}).Bounded() {
		t.Fatal("an open upper end is not bounded")
	}
}
