package plan

import (
	"math"
	"strings"
	"testing"
)

func TestMeasureCost(t *testing.T) {
	p := func(x float64) *float64 { return &x }
	lift := true
	s := Settings{
		Site: Terms{WagePerHour: p(30), LiftPerVisit: p(50), CleanPerFixture: p(4)},
		Measure: map[string]MeasureTerms{
			Recalibrate: {Minutes: p(40), Price: p(25)}, GoingThere: {Minutes: p(20), Price: p(3)},
			Reference: {Lift: &lift, Minutes: p(10)},
		},
	}
	for _, c := range []struct {
		name, kind     string
		n              int
		there          bool
		minutes, money float64
	}{
		{"a visit of its own", Recalibrate, 1, false, 60, 25 + 3 + 30},
		{"somebody is there anyway", Recalibrate, 1, true, 40, 25 + 20},
		{"two at once", Recalibrate, 2, false, 100, 50 + 3 + 50},
		{"a lift where it is declared", Reference, 1, false, 30, 3 + 50 + 15},
		{"the visit's lift", Reference, 1, true, 10, 5},
		{"cleaning by its own price, usual minutes", CleanHalf, 5, true, 30, 20},
	} {
		got := s.MeasureCost(c.kind, "R", "led", c.n, c.there)
		if math.Abs(got.Minutes-c.minutes) > 1e-9 || math.Abs(got.Money-c.money) > 1e-9 || len(got.Missing) > 0 {
			t.Errorf("%s: %+v, want %g min, %g", c.name, got, c.minutes, c.money)
		}
	}
	if e := (Settings{}).MeasureCost(Recalibrate, "R", "led", 1, false); len(e.Missing) != 1 || e.Minutes != 45 {
		t.Errorf("nothing declared: %+v, want the usual 45 min and the wage missing", e)
	}
}

func TestMeasureTermsAreChecked(t *testing.T) {
	p := func(x float64) *float64 { return &x }
	s := Settings{Measure: map[string]MeasureTerms{"recalibration": {}, Lab: {Minutes: p(-1)},
		Voltage: {Price: p(math.Inf(1))}}}
	got := s.Validate()
	if len(got) != 3 {
		t.Fatalf("%d faults in %v, want 3", len(got), got)
	}
	for i, want := range []string{"measure[lab].minutes", "measure[recalibration]", "measure[voltage].price"} {
		if got[i].Path != want || got[i].Remedy == "" {
			t.Errorf("fault %d is of %s (%s), want %s", i, got[i].Path, got[i].Remedy, want)
		}
	}
	if !strings.Contains(got[1].Remedy, "recalibrate, reference") {
		t.Errorf("the remedy names no kinds: %s", got[1].Remedy)
	}
}
