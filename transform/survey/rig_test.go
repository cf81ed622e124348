package survey

import (
	"math"
	"strings"
	"testing"
	"time"

	"wane/transform/estimate"
)

// Flow rates of ten batches, NIST/SEMATECH e-Handbook of Statistical Methods
// 6.3.2.2: mean 50.81, mean moving range 1.8778, limits 45.8159 and 55.8041
// (values as quoted on pages that cite the handbook).
func TestChartAgreesWithNIST6322(t *testing.T) {
	v := []float64{49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1}
	at := make([]time.Time, len(v))
	c, err := Individuals(at, v, 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range []struct{ got, want, tol float64 }{
		{c.Centre, 50.81, 1e-9}, {c.MovingRange, 1.8778, 5e-5}, {c.Lower, 45.8159, 5e-5}, {c.Upper, 55.8041, 5e-5},
	} {
		if math.Abs(x.got-x.want) > x.tol {
			t.Errorf("got %v, want %v", x.got, x.want)
		}
	}
	for _, p := range c.Points {
		if p.Outside {
			t.Errorf("no batch is outside: %+v", p)
		}
	}
	c, err = Individuals(append(at, time.Time{}), append(v, 56), 10)
	if err != nil || !c.Points[10].Outside || c.Centre != 50.81 && math.Abs(c.Centre-50.81) > 1e-9 {
		t.Errorf("a later point does not move the limits and 56 is outside: %+v, %v", c, err)
	}
	if _, err := Individuals(at[:1], v[:1], 0); err == nil || !strings.Contains(err.Error(), "at least 2") {
		t.Errorf("got %v", err)
	}
	if _, err := Individuals(at[:2], []float64{1, math.NaN()}, 0); err == nil {
		t.Error("NaN on a chart")
	}
	if c, _ := Individuals(at[:3], v[:3], 0); !strings.Contains(strings.Join(c.Warnings, " "), "rest on 3 points") {
		t.Errorf("got %v", c.Warnings)
	}
}

// IES definition 9.1.1, note: within 1 % from five times the largest dimension.
func TestInverseSquareIsRefusedNear(t *testing.T) {
	f, err := InverseSquare(6, 3, .6)
	if err != nil || f != 4 {
		t.Errorf("got %v, %v", f, err)
	}
	if _, err := InverseSquare(math.Nextafter(3, 0), 6, .6); err == nil ||
		!strings.Contains(err.Error(), "at least five times") {
		t.Errorf("got %v", err)
	}
	for _, v := range [][3]float64{{0, 1, 1}, {1, math.NaN(), 1}, {1, 1, -1}} {
		if _, err := InverseSquare(v[0], v[1], v[2]); err == nil {
			t.Errorf("%v was taken", v)
		}
	}
}

func TestConditionsAreFlaggedAndCorrectedOnlyByRule(t *testing.T) {
	s := grid("s", "F", flat(5, 5, 700))
	s.HeightM = .65
	s.Conditions.SupplyV, s.Conditions.WarmUpMin = p(228), p(5)
	d := Declared{HeightM: .6, SupplyV: 240, WarmUpMin: 20, AmbientC: p(25), SourceM: 1.1}
	fs := Flags(s, d)
	var what []string
	for _, f := range fs {
		what = append(what, f.What)
	}
	if strings.Join(what, " ") != "height supply ambient warm-up" {
		t.Fatalf("got %v", fs)
	}
	out, cs := Correct(s, d)
	if len(cs) != 2 || cs[0].Applied || cs[1].Applied || out.Spots[0].PPFD != s.Spots[0].PPFD {
		t.Fatalf("nothing was declared, so nothing is corrected: %+v", cs)
	}
	if !strings.Contains(cs[0].Words, "no coefficient") || !strings.Contains(cs[1].Words, "not declared") {
		t.Errorf("got %q, %q", cs[0].Words, cs[1].Words)
	}
	d.AllowInverseSquareFactor = true
	d.SupplyCoefficient = &estimate.Estimate{Centre: 1.5, Lo: 1, Hi: 2, Level: .95}
	out, cs = Correct(s, d)
	want := math.Pow(240.0/228, 1.5)
	if !cs[0].Applied || math.Abs(cs[0].Factor.Centre-want) > 1e-12 ||
		math.Abs(out.Spots[3].PPFD-want*s.Spots[3].PPFD) > 1e-9 {
		t.Errorf("got %+v", cs[0])
	}
	if cs[1].Applied || !strings.Contains(cs[1].Words, "does not hold at 0.6 m from a source 1.1 m long") {
		t.Errorf("got %+v", cs[1])
	}
	if s.Spots[3].PPFD != flat(5, 5, 700)[0][3] {
		t.Error("the survey given was changed")
	}
	d.SourceM = .1 // far enough from the source, but the grid is wide
	s.Geometry.SpacingM = .25
	if _, cs = Correct(s, d); cs[1].Applied || !strings.Contains(cs[1].Words, "grid is wide") {
		t.Errorf("got %+v", cs[1])
	}
	s.Geometry.SpacingM = .02
	if out, cs = Correct(s, d); !cs[1].Applied || out.HeightM != .6 {
		t.Errorf("got %+v", cs[1])
	}
}

func TestSideBySide(t *testing.T) {
	mk := func(f string, v float64) Survey { return grid(f, f, flat(5, 5, v)) }
	r, err := SideBySide([]Survey{mk("B", 700), mk("C", 600), mk("A", 703)}, true, Assumed())
	if err != nil {
		t.Fatal(err)
	}
	if r.Order[0].Fixture != "A" || r.Order[0].Best != 1 || r.Order[0].Worst != 2 || r.Order[1].Best != 1 ||
		r.Order[2].Best != 3 || r.Order[2].Worst != 3 {
		t.Errorf("got %+v", r.Order)
	}
	if !strings.Contains(r.Rig, "cancels") {
		t.Errorf("got %q", r.Rig)
	}
	if r.Pairs[0].Seen || !strings.Contains(r.Pairs[0].Words, NoDifference) || !r.Pairs[1].Seen {
		t.Errorf("got %+v", r.Pairs)
	}
	far := mk("D", 600)
	far.HeightM = .8
	if _, err := SideBySide([]Survey{mk("A", 1), far}, true, Assumed()); err == nil ||
		!strings.Contains(err.Error(), "heights differ") {
		t.Errorf("got %v", err)
	}
	gap := mk("D", 600)
	gap.Spots = gap.Spots[:24]
	gap.Rows, gap.Cols = 5, 5
	if _, err := SideBySide([]Survey{mk("A", 1), gap}, true, Assumed()); err == nil ||
		!strings.Contains(err.Error(), "spots missing (25)") {
		t.Errorf("got %v", err)
	}
	if _, err := SideBySide([]Survey{mk("A", 1), mk("A", 2)}, true, Assumed()); err == nil ||
		!strings.Contains(err.Error(), "twice") {
		t.Errorf("got %v", err)
	}
	if _, err := SideBySide([]Survey{mk("A", 1)}, true, Assumed()); err == nil {
		t.Error("one fixture was ranked")
	}
}

func TestByAgeInterpolatesAndDoesNotForecast(t *testing.T) {
	a := History{"A", []Aged{{0, 800, 1, 25, true}, {4000, 760, 1, 25, true}}}
	b := History{"B", []Aged{{0, 780, 1, 25, true}, {2500, 770, 1, 25, false}}}
	e, err := a.At(1000)
	if err != nil || e.Average != 790 || e.OwnPct < .7 || e.OwnPct > 1.01 {
		t.Errorf("got %+v, %v", e, err)
	}
	if _, err := a.At(4001); err == nil || !strings.Contains(err.Error(), "a survey is no forecast") {
		t.Errorf("got %v", err)
	}
	steps, err := ByAge([]History{a, b}, 1000, .95)
	if err != nil || len(steps) != 3 || steps[2].RunHours != 2000 {
		t.Fatalf("got %+v, %v", steps, err)
	}
	if w := steps[0].Ranking.Rig; !strings.Contains(w, "rig held for every survey of [B]") {
		t.Errorf("got %s", w)
	}
	b.Points[1].Referenced = true
	if s, _ := ByAge([]History{a, b}, 1000, .95); !strings.Contains(s[0].Ranking.Rig, "drift is taken out") {
		t.Errorf("got %s", s[0].Ranking.Rig)
	}
	if _, err := ByAge([]History{a}, 0, .95); err == nil {
		t.Error("a step of 0 was taken")
	}
	if _, err := ByAge([]History{{"A", []Aged{{math.Inf(1), 1, 1, 1, true}}}}, 1000, .95); err == nil {
		t.Error("infinite hours were taken")
	}
}

func TestAgedOfTakesTheRigOut(t *testing.T) {
	t0 := time.Date(2021, 3, 1, 9, 0, 0, 0, time.UTC)
	o0 := Occasion{From: t0, To: t0, References: []Survey{grid("r", "REF", flat(5, 5, 700))}}
	scaled := grid("r", "REF", flat(5, 5, 700))
	for i := range scaled.Spots {
		scaled.Spots[i].PPFD *= 1.06
	}
	o1 := Occasion{From: t0.AddDate(3, 0, 0), To: t0.AddDate(3, 0, 0), References: []Survey{scaled}}
	s := grid("s", "F", flat(5, 5, 700))
	p, ok, err := AgedOf(s, 9000, o0, o1, Assumed())
	if err != nil || !ok || math.Abs(p.Average-plainMean(s)/1.06) > 1e-9 {
		t.Errorf("got %+v, %v, %v", p, ok, err)
	}
	q, ok, err := AgedOf(s, 9000, o0, Occasion{From: o1.From, To: o1.To}, Assumed())
	if err != nil || ok || q.Average != plainMean(s) {
		t.Errorf("got %+v, %v, %v", q, ok, err)
	}
	if _, _, err := AgedOf(s, -1, o0, o1, Assumed()); err == nil {
		t.Error("negative hours were taken")
	}
}
