package surveys

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/survey"
)

var day0 = time.Date(2022, 3, 1, 20, 0, 0, 0, time.UTC)

// sheet is a survey of a known level under a rig of a known gain.
func sheet(id, fixture string, year int, level float64) survey.Survey {
	s := survey.Survey{ID: id, Fixture: fixture, TakenAt: day0.AddDate(year, 0, 0), HeightM: 1.2}
	for r := 1; r <= 5; r++ {
		for c := 1; c <= 5; c++ {
			x, y := float64(c-3), float64(r-3)
			s.Spots = append(s.Spots, survey.Spot{Row: r, Col: c, PPFD: 800 * math.Exp(-(x*x+y*y)/14) * level})
		}
	}
	return s
}

func rig() Rig {
	return Rig{
		Reference: "ref", Visit: 48 * time.Hour, Rows: 5, Columns: 5, Uncertainty: survey.Assumed(),
		Geometry: survey.Geometry{SpacingM: .3}, Declared: survey.Declared{HeightM: 1.2},
	}
}

func TestReferencesRestOnTheReferenceFixture(t *testing.T) {
	all := []survey.Survey{
		sheet("a0", "a", 0, 1), sheet("r0", "ref", 0, 1),
		sheet("a1", "a", 1, .97*1.02), sheet("r1", "ref", 1, 1.02),
		sheet("a2", "a", 2, .95*1.04), // nobody surveyed the reference
		sheet("a3", "a", 3, .91*1.06), sheet("r3", "ref", 3, 1.06),
	}
	b := Of(all, rig(), nil, nil, time.Time{})
	refs, left := b.References()
	if len(refs) != 2 || len(left) != 1 || !strings.Contains(left[0], "survey a2 of a is no reference") {
		t.Fatalf("%+v, left %q", refs, left)
	}
	for i, want := range []float64{.97, .91} {
		if math.Abs(refs[i].Ln-math.Log(want)) > 1e-9 {
			t.Errorf("%s: level %.4f, want %.4f", refs[i].Survey, math.Exp(refs[i].Ln), want)
		}
	}
	// 1 % repeat over 25 spots, 0.5 % hang, fixture and reference both, 0.3 % of
	// the reference itself; the half that two share counts twice
	one := math.Sqrt(4*(.01*.01/25+.005*.005) + .003*.003)
	if want := one * math.Sqrt(1.5); math.Abs(refs[0].SD-want) > 1e-6 {
		t.Errorf("sd %.5f, want %.5f", refs[0].SD, want)
	}
}

// What a survey yet to come would tell is known as well as what the last one told.
func TestBegunIsAsWellKnownAsASurveyMade(t *testing.T) {
	all := []survey.Survey{sheet("a0", "a", 0, 1), sheet("r0", "ref", 0, 1), sheet("b0", "b", 1, 1)}
	got := Of(all, rig(), nil, nil, time.Time{}).Begun()
	if len(got) != 1 || got[0].Fixture != "a" || !got[0].First.Equal(day0) {
		t.Fatalf("the reference fixture was surveyed with a alone: %+v", got)
	}
	made := append(all, sheet("a1", "a", 1, .97), sheet("r1", "ref", 1, 1))
	refs, _ := Of(made, rig(), nil, nil, time.Time{}).References()
	if len(refs) == 0 || math.Abs(refs[0].SD-got[0].SD) > 1e-6 {
		t.Errorf("told before: sd %.5f, made: %+v", got[0].SD, refs)
	}
}

func TestReferencesLeaveOutWhatIsNotTheLamp(t *testing.T) {
	relamped := &fleet.Register{
		Fixtures: []fleet.Fixture{{ID: "a"}, {ID: "ref"}},
		Logbook: []fleet.Entry{{At: day0.AddDate(0, 6, 0), What: fleet.Relamp, Scope: fleet.OfFixture, ID: "a",
			Value: "lot"}},
	}
	tilted := sheet("a1", "a", 1, .97)
	for i := range tilted.Spots {
		tilted.Spots[i].PPFD *= 1 + .05*float64(tilted.Spots[i].Col-3)
	}
	high := sheet("a1", "a", 1, .97)
	high.HeightM = 1.5
	cold := 10.0
	for _, c := range []struct {
		what  string
		later survey.Survey
		reg   *fleet.Register
		note  map[string]*survey.Note
		want  string
	}{
		{"a relamp between", sheet("a1", "a", 1, 1.1), relamped, nil, ""},
		{"a changed pattern", tilted, nil, nil, "its pattern changed"},
		{"another height", high, nil, nil, "the heights differ"},
		{"a short warm-up", sheet("a1", "a", 1, .97), nil,
			map[string]*survey.Note{"a1": {Survey: "a1", Conditions: survey.Conditions{WarmUpMin: &cold}}},
			"warm-up 10 minutes"},
	} {
		cfg := rig()
		cfg.WarmUpMin = 30
		b := Of([]survey.Survey{sheet("a0", "a", 0, 1), sheet("r0", "ref", 0, 1), c.later, sheet("r1", "ref", 1, 1)}, cfg,
			c.reg, c.note, time.Time{})
		refs, left := b.References()
		if len(refs) != 0 || !strings.Contains(strings.Join(left, "\n"), c.want) || (c.want == "") != (len(left) == 0) {
			t.Errorf("%s: %v, left %q", c.what, refs, left)
		}
	}
}

func TestSheetsOfOneNameAreJoined(t *testing.T) {
	whole := sheet("s", "a", 0, 1)
	upper, lower := whole, whole
	upper.Spots, lower.Spots = whole.Spots[:15], whole.Spots[10:]
	other := sheet("s", "b", 0, 1)
	twice := sheet("s", "a", 0, 1)
	twice.Spots[0].PPFD++
	b := Of([]survey.Survey{upper, lower, other, twice}, rig(), nil,
		map[string]*survey.Note{"none": {Survey: "none", Line: 7}}, time.Time{})
	if len(b.Entries) != 1 || fmt.Sprint(b.Entries[0].Missing()) != "[1]" {
		t.Fatalf("%d surveys, missing %v", len(b.Entries), b.Entries[0].Missing())
	}
	notes := strings.Join(b.Notes, "\n")
	for _, want := range []string{"do not agree on fixture", "row 1 column 1 reads", `line 7: no survey "none"`} {
		if !strings.Contains(notes, want) {
			t.Errorf("want %q in\n%s", want, notes)
		}
	}
}

func TestAsOfUsesNoLaterSurvey(t *testing.T) {
	all := []survey.Survey{sheet("a0", "a", 0, 1), sheet("a1", "a", 1, .97)}
	if b := Of(all, rig(), nil, nil, day0.AddDate(0, 6, 0)); len(b.Entries) != 1 || b.Entries[0].ID != "a0" {
		t.Errorf("%d surveys", len(b.Entries))
	}
}

// A declared supply rule corrects, and its own uncertainty widens the answer.
func TestDeclaredCorrectionWidens(t *testing.T) {
	cfg := rig()
	cfg.SupplyV = 240
	cfg.SupplyCoefficient, cfg.SupplyCoefficientOrigin = &estimate.Estimate{Centre: 1.5, Lo: 1, Hi: 2, Level: .95,
		Method: "declared"}, "test"
	v := 228.0
	b := Of([]survey.Survey{sheet("a", "a", 0, 1)}, cfg, nil,
		map[string]*survey.Note{"a": {Survey: "a", Conditions: survey.Conditions{SupplyV: &v}}}, time.Time{})
	e := b.Entries[0]
	k := math.Pow(240/228.0, 1.5)
	if math.Abs(e.Used.Spots[12].PPFD/e.Spots[12].PPFD-k) > 1e-9 {
		t.Errorf("corrected by %.4f, want %.4f", e.Used.Spots[12].PPFD/e.Spots[12].PPFD, k)
	}
	n, err := b.Numbers(e)
	if err != nil {
		t.Fatal(err)
	}
	// 0.5 of the coefficient at 95 % on ln(240/228) beside 2.5, 0.5 and 0.7 %
	want := 1.959964 * math.Sqrt(.025*.025+.005*.005+.007*.007+math.Pow(.5/1.959964*math.Log(240/228.0), 2))
	if got := (n.Average.Hi - n.Average.Centre) / n.Average.Centre; math.Abs(got-want) > 3e-4 {
		t.Errorf("half-width %.4f, want %.4f", got, want)
	}
}

// The same grid read again on the same day measures what repeat_pct assumes.
func TestRepeatsAreMeasuredWithinAVisit(t *testing.T) {
	a, b := sheet("a0", "a", 0, 1), sheet("a0-again", "a", 0, 1)
	b.TakenAt = b.TakenAt.Add(time.Hour)
	for i := range b.Spots {
		b.Spots[i].PPFD *= 1 + .02*math.Sin(float64(3*i))
	}
	rs := Of([]survey.Survey{a, b, sheet("c", "c", 0, 1)}, rig(), nil, nil, time.Time{}).Repeats()
	if len(rs) != 1 || rs[0].Fixture != "a" || rs[0].Rounds != 2 {
		t.Fatalf("%+v", rs)
	}
	// one round of sd 2 %/sqrt(2) about its mean, shared by two rounds: 1 %
	if e := rs[0].Pct; math.Abs(e.Centre-1) > .15 || !(e.Lo < e.Centre && e.Centre < e.Hi) {
		t.Errorf("%+v", e)
	}
}
