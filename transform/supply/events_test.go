package supply

import (
	"math"
	"strings"
	"testing"
	"time"
)

func run(t *testing.T, nominal float64, every time.Duration, vs ...float64) []Event {
	t.Helper()
	d, err := NewDetector(nominal, IEEE1159(every))
	if err != nil {
		t.Fatal(err)
	}
	at := time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)
	for _, v := range vs {
		if !math.IsNaN(v) { // NaN here: the logger was silent
			if err := d.Add(Sample{at, v}); err != nil {
				t.Fatal(err)
			}
		}
		at = at.Add(every)
	}
	a, b := d.Events(), d.Events()
	if len(a) != len(b) {
		t.Fatal("asking twice changes the answer")
	}
	return a
}

func TestSagsSwellsAndInterruptions(t *testing.T) {
	es := run(t, 240, time.Second, 240, 200, 190, 240, 270, 240, 3, 0, 0, 0, 0, 0, 150, 240)
	if len(es) != 4 {
		t.Fatalf("got %+v", es)
	}
	if e := es[0]; e.Kind != Sag || e.ExtremeV != 190 || e.Samples != 2 || e.AtLeast != time.Second ||
		e.AtMost != 3*time.Second || e.Class != "up to 3 s" {
		t.Errorf("sag: %+v", e)
	}
	if e := es[1]; e.Kind != Swell || e.ExtremeV != 270 || math.Abs(e.Extreme-1.125) > 1e-12 || e.AtLeast != 0 {
		t.Errorf("swell: %+v", e)
	}
	if e := es[2]; e.Kind != Interruption || e.ExtremeV != 0 || e.Class != "3 s to 1 min" {
		t.Errorf("interruption: %+v", e)
	}
	if e := es[3]; e.Kind != Sag || e.ExtremeV != 150 {
		t.Errorf("a dead line coming back by way of 150 V is a sag of its own: %+v", e)
	}
}

func TestThresholdsAreExact(t *testing.T) {
	if es := run(t, 100, time.Second, 90, 110.00000000000001, 100); len(es) != 0 {
		t.Errorf("90 and 110 %% are neither sag nor swell: %+v", es)
	}
	if es := run(t, 100, time.Second, 100, math.Nextafter(90, 0), 100, 110.1, 100); len(es) != 2 {
		t.Errorf("got %+v", es)
	}
}

func TestLogEndsAndGapsLeaveDurationsOpen(t *testing.T) {
	nan := math.NaN()
	es := run(t, 240, time.Minute, 200, 240, 200, nan, nan, nan, nan, 200, 240, 240, 200)
	if len(es) != 4 {
		t.Fatalf("got %+v", es)
	}
	for i, e := range es {
		if !e.CutByLogGap || e.AtMost != -1 || e.Class != "not known" {
			t.Errorf("event %d is open at an end: %+v", i, e)
		}
	}
	es = run(t, 240, time.Minute, 240, 200, 200, 200, 240)
	if len(es) != 1 || es[0].AtLeast != 2*time.Minute || es[0].AtMost != 4*time.Minute ||
		!strings.HasPrefix(es[0].Class, "over 1 min") {
		t.Errorf("got %+v", es)
	}
}

func TestDetectorRefusals(t *testing.T) {
	if _, err := NewDetector(0, IEEE1159(time.Second)); err == nil {
		t.Error("no nominal")
	}
	if _, err := NewDetector(240, IEEE1159(0)); err == nil {
		t.Error("no interval")
	}
	if _, err := NewDetector(240, Thresholds{Sag: 1.2, Swell: 1.1, Every: 1}); err == nil {
		t.Error("a sag above nominal")
	}
	d, _ := NewDetector(240, IEEE1159(time.Second))
	at := time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)
	if d.Add(Sample{at, 240}) != nil || d.Add(Sample{at, 200}) == nil || d.Add(Sample{at.Add(1), math.NaN()}) == nil {
		t.Error("order and numbers are checked")
	}
	if len(d.Events()) != 0 {
		t.Error("a refused sample was counted")
	}
	if !strings.Contains(IEEE1159(time.Minute).Blind(), "lower bound") {
		t.Error("what a logger cannot see is said")
	}
}
