package survey

import (
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func flat(rows, cols int, v float64) [][]float64 {
	m := make([][]float64, rows)
	for r := range m {
		m[r] = make([]float64, cols)
		for c := range m[r] {
			m[r][c] = v + float64(r) + float64(c)/10
		}
	}
	return m
}

func p(v float64) *float64 { return &v }

func TestCheckRefusesWithAReason(t *testing.T) {
	good := func() Survey { return grid("s1", "F1", flat(5, 5, 700)) }
	for _, c := range []struct {
		name   string
		change func(*Survey)
		want   string
	}{
		{"no spots", func(s *Survey) { s.Spots = nil }, "no spot was read"},
		{"negative", func(s *Survey) { s.Spots[6].PPFD = -3 }, "row 2 column 2: -3 umol/m2/s is negative"},
		{"not a number", func(s *Survey) { s.Spots[6].PPFD = math.NaN() }, "row 2 column 2: NaN is not a number"},
		{"infinite", func(s *Survey) { s.Spots[0].PPFD = math.Inf(1) }, "+Inf is not a number"},
		{"twice", func(s *Survey) { s.Spots = append(s.Spots, s.Spots[3]) }, "row 1 column 4: read twice"},
		{"row 0", func(s *Survey) { s.Spots[0].Row = 0 }, "count from 1"},
		{"huge", func(s *Survey) { s.Spots[0].Col = 201 }, "count from 1 to 200"},
		{"outside", func(s *Survey) { s.Rows, s.Cols = 4, 5 }, "outside the declared grid of 4 x 5"},
		{"dark", func(s *Survey) {
			for i := range s.Spots {
				s.Spots[i].PPFD = 0
			}
		}, "every spot reads 0"},
		{"height", func(s *Survey) { s.HeightM = -1 }, "height -1 m"},
		{"supply", func(s *Survey) { s.Conditions.SupplyV = p(math.NaN()) }, "supply in V NaN"},
		{"one axis", func(s *Survey) { s.Geometry.RowAtM = []float64{0, 1, 2, 3, 4} }, "rows or for columns only"},
		{"positions", func(s *Survey) { s.Geometry.RowAtM, s.Geometry.ColAtM = []float64{0, 1}, []float64{0, 1, 2, 3, 4} },
			"2 row positions for 5 rows"},
		{"order", func(s *Survey) {
			s.Geometry.RowAtM, s.Geometry.ColAtM = []float64{0, 1, 1, 3, 4}, []float64{0, 1, 2, 3, 4}
		}, "must rise"},
		{"declared huge", func(s *Survey) { s.Rows, s.Cols = 5000, 5 }, "larger than 200"},
	} {
		s := good()
		c.change(&s)
		err := s.Check()
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %q in it", c.name, err, c.want)
		}
	}
	if err := good().Check(); err != nil {
		t.Error(err)
	}
}

func TestAMissingSpotIsSaid(t *testing.T) {
	s := grid("s", "F", flat(5, 5, 700))
	s.Geometry.SpacingM = .2
	s.Spots = append(s.Spots[:6:6], s.Spots[7:]...) // number 7, row 2 column 2
	n, err := Summarise(s, Options{Uncertainty: Assumed()})
	if err != nil {
		t.Fatal(err)
	}
	if n.Read != 24 || len(n.Missing) != 1 || n.Missing[0] != 7 {
		t.Fatalf("got %d read, missing %v", n.Read, n.Missing)
	}
	if !n.Average.Known() || !strings.Contains(strings.Join(n.Average.Warnings, " "), "not read: 7") {
		t.Errorf("average: %+v", n.Average)
	}
	if n.CentreX.Known() || n.Footprint.Known() || n.Efficacy.Known() {
		t.Error("centre of light and footprint cannot be had from a grid with a gap")
	}
	c, err := Compare(grid("a", "F", flat(5, 5, 700)), s, Occasion{}, Occasion{}, Assumed())
	if err != nil || c.Common != 24 || !strings.Contains(strings.Join(c.Warnings, " "), "24 of 25 spots") {
		t.Errorf("got %d in common, %v, %v", c.Common, c.Warnings, err)
	}
}

func TestOtherGrids(t *testing.T) {
	n, err := Summarise(grid("s", "F", flat(4, 6, 500)), Options{Uncertainty: Assumed()})
	if err != nil || n.PerimeterSpots != 16 || n.InteriorSpots != 8 || n.MaxAt != 24 || n.MinAt != 1 ||
		n.CentreUnit != "spots" {
		t.Errorf("4 x 6: %+v, %v", n, err)
	}
	n, err = Summarise(grid("s", "F", flat(1, 9, 500)), Options{Uncertainty: Assumed()})
	if err != nil || n.PerimeterSpots != 9 || n.Interior.Known() || !n.Perimeter.Known() || n.CentreY.Known() ||
		!n.CentreX.Known() {
		t.Errorf("1 x 9: %+v, %v", n, err)
	}
	n, err = Summarise(grid("s", "F", flat(1, 1, 500)), Options{Uncertainty: Assumed()})
	if err != nil || n.MinAvg.Known() || n.CV.Known() || !n.Average.Known() {
		t.Errorf("1 x 1: %+v, %v", n, err)
	}
}

func TestTwoSensorsAreNotOne(t *testing.T) {
	one := grid("s", "F", flat(5, 5, 700))
	two := grid("s", "F", flat(5, 5, 700))
	for i := range two.Spots {
		if i >= 13 {
			two.Spots[i].Sensor = "Q2"
		}
	}
	a, _ := Summarise(one, Options{Uncertainty: Assumed()})
	b, err := Summarise(two, Options{Uncertainty: Assumed()})
	if err != nil || len(b.Warnings) == 0 || !strings.Contains(b.Warnings[0], "2 sensors") {
		t.Fatalf("%v, %v", b.Warnings, err)
	}
	if wide, narrow := b.MinAvg.Hi-b.MinAvg.Lo, a.MinAvg.Hi-a.MinAvg.Lo; wide < 1.3*narrow {
		t.Errorf("uniformity across two sensors must be less sure: %v and %v", wide, narrow)
	}
	later := grid("b", "F", flat(5, 5, 690))
	later.Conditions.Sensor = "Q2"
	c, err := Compare(one, later, Occasion{}, Occasion{}, Assumed())
	if err != nil || !strings.Contains(strings.Join(c.Warnings, " "), "different sensors") {
		t.Fatalf("%v %v", c.Warnings, err)
	}
	if w := math.Log(c.Level.Hi / c.Level.Lo); w < 2*1.96*.025*math.Sqrt2 {
		t.Errorf("two calibrations must stay in the ratio: width %v", w)
	}
}

func TestASensorChangedForBothCancels(t *testing.T) {
	a, b := grid("a", "F", flat(5, 5, 700)), grid("b", "F", flat(5, 5, 690))
	ra, rb := grid("ra", "REF", flat(5, 5, 800)), grid("rb", "REF", flat(5, 5, 800))
	b.Conditions.Sensor, rb.Conditions.Sensor = "Q2", "Q2"
	c, err := Compare(a, b, Occasion{References: []Survey{ra}}, Occasion{References: []Survey{rb}}, Assumed())
	if err != nil || c.Rig.State != RigHeld {
		t.Fatal(c.Rig, err)
	}
	if w := math.Log(c.Level.Hi / c.Level.Lo); w > .06 {
		t.Errorf("a sensor used for fixture and reference cancels: width %v", w)
	}
	rb.Conditions.Sensor = "Q1"
	d, err := Compare(a, b, Occasion{References: []Survey{ra}}, Occasion{References: []Survey{rb}}, Assumed())
	if err != nil || d.Level.Hi-d.Level.Lo < 2*(c.Level.Hi-c.Level.Lo) {
		t.Errorf("a reference read with another sensor does not cancel it: %v, %v", d.Level, err)
	}
}

func TestAnotherHeightIsRefused(t *testing.T) {
	a, b := grid("a", "F", flat(5, 5, 700)), grid("b", "F", flat(5, 5, 600))
	b.HeightM = .75
	_, err := Compare(a, b, Occasion{}, Occasion{}, Assumed())
	if err == nil || !strings.Contains(err.Error(), "heights differ: 0.6 m and 0.75 m") {
		t.Errorf("got %v", err)
	}
	_, err = Compare(a, grid("c", "F", flat(4, 6, 600)), Occasion{}, Occasion{}, Assumed())
	if err == nil || !strings.Contains(err.Error(), "5 x 5 and 4 x 6") {
		t.Errorf("got %v", err)
	}
	a.Geometry.SpacingM, b.Geometry.SpacingM, b.HeightM = .25, .3, .6
	if _, err = Compare(a, b, Occasion{}, Occasion{}, Assumed()); err == nil ||
		!strings.Contains(err.Error(), "spots lie elsewhere") {
		t.Errorf("got %v", err)
	}
}

func TestHotSpotsAreNamedByNumber(t *testing.T) {
	m := flat(5, 5, 700)
	m[2][2], m[4][4] = 1000, 400
	n, err := Summarise(grid("s", "F", m), Options{Uncertainty: Assumed()})
	if err != nil || len(n.Hot) != 1 || n.Hot[0].Number != 13 || !n.Hot[0].Sure || len(n.Cold) != 1 ||
		n.Cold[0].Number != 25 || !n.Cold[0].Sure {
		t.Errorf("hot %v cold %v %v", n.Hot, n.Cold, err)
	}
	if _, err := Summarise(grid("s", "F", m), Options{HotAbove: .9}); err == nil {
		t.Error("a hot mark below the average was taken")
	}
}

func TestRatiosDoNotDependOnTheUnit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows, cols := rapid.IntRange(1, 6).Draw(t, "rows"), rapid.IntRange(1, 6).Draw(t, "cols")
		k := rapid.Float64Range(.01, 100).Draw(t, "k")
		m, q := flat(rows, cols, 0), flat(rows, cols, 0)
		for r := range m {
			for c := range m[r] {
				m[r][c] = rapid.Float64Range(1, 2000).Draw(t, "v")
				q[r][c] = k * m[r][c]
			}
		}
		a, err := Summarise(grid("a", "F", m), Options{Uncertainty: Assumed()})
		if err != nil {
			t.Fatal(err)
		}
		b, err := Summarise(grid("b", "F", q), Options{Uncertainty: Assumed()})
		if err != nil {
			t.Fatal(err)
		}
		same := func(what string, x, y float64) {
			if math.Abs(x-y) > 1e-9*math.Max(1, math.Abs(x)) {
				t.Fatalf("%s: %v and %v", what, x, y)
			}
		}
		same("average", k*a.Average.Centre, b.Average.Centre)
		if a.MinAvg.Known() {
			same("min/avg", a.MinAvg.Centre, b.MinAvg.Centre)
			same("min/avg lo", a.MinAvg.Lo, b.MinAvg.Lo)
			same("cv hi", a.CV.Hi, b.CV.Hi)
			if a.MinAvg.Lo > a.MinAvg.Centre || a.MinAvg.Hi > 1 || a.MaxAvg.Lo < 1 || a.CV.Lo > a.CV.Centre ||
				a.CV.Hi < a.CV.Centre {
				t.Fatalf("bounds out of order: %+v %+v %+v", a.MinAvg, a.MaxAvg, a.CV)
			}
		}
		c, err := Compare(grid("a", "F", m), grid("b", "F", q), Occasion{}, Occasion{}, Assumed())
		if err != nil {
			t.Fatal(err)
		}
		same("level", c.Level.Centre, k)
		if c.Shape.Changed {
			t.Fatal("a common factor is no change of shape")
		}
	})
}

func TestOccasionsAreVisits(t *testing.T) {
	day := time.Date(2024, 3, 1, 9, 0, 0, 0, time.UTC)
	mk := func(id, f string, at time.Time) Survey {
		s := grid(id, f, flat(2, 2, 500))
		s.TakenAt = at
		return s
	}
	os := Occasions([]Survey{mk("d", "A", day.AddDate(1, 0, 0)), mk("b", "A", day.Add(time.Hour)), mk("a", "REF", day),
		mk("c", "B", day.Add(5*time.Hour))}, "REF", 6*time.Hour)
	if len(os) != 2 || len(os[0].References) != 1 || len(os[0].Fixtures) != 2 || os[0].Fixtures[0].ID != "b" ||
		len(os[1].References) != 0 {
		t.Fatalf("got %+v", os)
	}
	if r := RigBetween(os[0], os[1], Assumed()); r.State != RigUnknown ||
		!strings.Contains(r.Words, "survey the reference fixture on each occasion") {
		t.Errorf("got %+v", r)
	}
}

func TestUncertaintyIsChecked(t *testing.T) {
	for _, u := range []Uncertainty{{RepeatPct: -1}, {SensorPct: math.NaN()}, {Level: 1}, {RepeatDF: -1}} {
		if u.Check() == nil {
			t.Errorf("%+v was taken", u)
		}
		if _, err := Summarise(grid("s", "F", flat(2, 2, 500)), Options{Uncertainty: u}); err == nil {
			t.Errorf("%+v was taken", u)
		}
	}
	if e := Repeat([]Survey{grid("s", "F", flat(2, 2, 500))}, .95); e.Known() {
		t.Error("a repeat from one round")
	}
}
