package plan

import (
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

// Three figures come back as the quantiles they are, both sides of the median.
func TestDueKeepsItsFigures(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		med := rapid.Float64Range(500, 90000).Draw(t, "median")
		d := Due{Hours: med, LoHours: med * rapid.Float64Range(0.3, 1).Draw(t, "lo"),
			HiHours: med * rapid.Float64Range(1, 4).Draw(t, "hi"), Interval: rapid.Float64Range(0.5, 0.98).Draw(t, "interval")}
		for _, c := range []struct{ p, want float64 }{{(1 - d.Interval) / 2, d.LoHours}, {0.5, d.Hours},
			{(1 + d.Interval) / 2, d.HiHours}} {
			if got, ok := d.quantile(c.p); !ok || math.Abs(got/c.want-1) > 1e-9 {
				t.Fatalf("quantile %g = %g, want %g", c.p, got, c.want)
			}
		}
		p := rapid.Float64Range(0.01, 0.98).Draw(t, "p")
		a, _ := d.quantile(p)
		b, _ := d.quantile(p + 0.01)
		if b < a {
			t.Fatalf("quantiles fall: %g then %g", a, b)
		}
		if d.LoHours < d.Hours*0.99 && d.HiHours > d.Hours*1.01 && math.Abs(d.chanceBy(a)-p) > 1e-6 {
			t.Fatalf("chance by %g is %g, want %g", a, d.chanceBy(a), p)
		}
	})
}

// The nodes of a log-normal crossing hour give its mean (gonum) to a few per mille.
func TestCrossingNodesGiveTheMean(t *testing.T) {
	const s = 0.2
	z := distuv.UnitNormal.Quantile(0.9)
	l := Lamp{HoursNow: 100, Threshold: 0.9, Status: "forecast",
		Due: Due{Hours: 12000, LoHours: 12000 * math.Exp(-z*s), HiHours: 12000 * math.Exp(z*s), Interval: 0.8}}
	mean := 0.0
	for _, h := range l.crossing().nodes {
		mean += h / crossNodes
	}
	if want := (distuv.LogNormal{Mu: math.Log(12000), Sigma: s}).Mean(); math.Abs(mean/want-1) > 0.004 {
		t.Errorf("mean %g, want %g", mean, want)
	}
}

func TestDueQuantilesAreInterpolated(t *testing.T) {
	d := Due{Quantiles: []Quantile{{0.1, 8000}, {0.5, 10000}, {0.9, 15000}}}
	for p, want := range map[float64]float64{0.1: 8000, 0.5: 10000, 0.9: 15000} {
		if got, _ := d.quantile(p); math.Abs(got/want-1) > 1e-9 {
			t.Errorf("quantile %g = %g, want %g", p, got, want)
		}
	}
	if lo, _ := d.quantile(0.02); lo >= 8000 {
		t.Errorf("lower tail %g", lo)
	}
}

func TestOpenUpperEndHasTheLowerSpread(t *testing.T) {
	d := Due{Hours: 10000, LoHours: 8000, Interval: 0.8}
	if hi, _ := d.quantile(0.9); math.Abs(hi-12500) > 1e-6 {
		t.Errorf("upper end %g, want 12500", hi)
	}
}

// A lamp that has not crossed by now crosses later, whatever its law's tail says.
func TestForecastIsConditionedOnNow(t *testing.T) {
	l := Lamp{HoursNow: 9500, Threshold: 0.9, Status: "forecast", Due: Due{Hours: 10000, LoHours: 8000, HiHours: 12500}}
	for _, h := range l.crossing().nodes {
		if h < 9500 {
			t.Fatalf("node %g before now", h)
		}
	}
}

// Without a due row the decline decides: 0.01 per 1,000 h reaches 90 % at 10,000 h.
func TestDeclineServesWhereDueIsEmpty(t *testing.T) {
	e := exact(0.01)
	e.Lo, e.Hi = 0.008, 0.012
	c := Lamp{Status: "forecast", HoursNow: 3000, Threshold: 0.9, DeclineKh: e}.crossing()
	if len(c.nodes) != crossNodes || math.Abs(c.at(0.5)-10000) > 1e-6 || math.Abs(c.at(0.1)/(100/0.012)-1) > 0.01 {
		t.Errorf("%+v", c)
	}
	for i := 1; i < len(c.nodes); i++ {
		if c.nodes[i] < c.nodes[i-1] {
			t.Fatal("nodes fall")
		}
	}
}

func TestStatusesWithoutForecast(t *testing.T) {
	for status, want := range map[string]string{"dark": "dark", "too-early": "no forecast (too-early: 400 h more)",
		"inseparable": "inseparable", "no-data": "no-data"} {
		c := Lamp{Status: status, Reason: "400 h more", Threshold: 0.9}.crossing()
		if len(c.nodes) != 0 || !strings.Contains(c.why, want) {
			t.Errorf("%s: %+v", status, c)
		}
	}
	if c := (Lamp{Status: "beyond", HoursNow: 20000, Due: Due{LoHours: 36000}}).crossing(); !c.bound ||
		c.nodes[0] != 36000 {
		t.Errorf("beyond: %+v", c)
	}
	// 12 % lost in 12,000 h, all of it ageing: crossed 90 % at 10,000 h.
	l := Lamp{Status: "under", HoursNow: 12000, Threshold: 0.9, Level: exact(0.88), DirtShare: unknown()}
	if c := l.crossing(); math.Abs(c.at(0.5)-10000) > 1e-6 {
		t.Errorf("under: %+v", c)
	}
}

func TestFadeIsTheMeanOfItsLines(t *testing.T) {
	f := newFade(crossing{nodes: []float64{5000, 10000, 20000}}, 0.9)
	for _, h := range []float64{0, 1000, 30000, 60000, 150000, 400000} {
		want := (math.Min(1, h*0.1/5000) + math.Min(1, h*0.1/10000) + math.Min(1, h*0.1/20000)) / 3
		if got := f.lost(h); math.Abs(got-want) > 1e-12 {
			t.Errorf("lost at %g h = %g, want %g", h, got, want)
		}
	}
}
