package survey

import (
	"encoding/json"
	"math"
	"os"
	"testing"
	"time"
)

// numpyValues is testdata/numpy_values.json, made by testdata/check.py.
type numpyValues struct {
	A, B    [][]float64
	Numbers map[string]float64
	Change  map[string]float64
	Uneven  struct {
		Rows, Cols []float64
		Grid       [][]float64
		Area       float64
		AreaAvg    float64 `json:"area_average"`
		Plain      float64
	}
	Repeat struct {
		Rounds      [][][]float64
		Pct, Lo, Hi float64
	}
	Slope struct {
		Years, Values []float64
		Pct, Lo, Hi   float64
	}
}

func loadNumpy(t testing.TB) numpyValues {
	t.Helper()
	b, err := os.ReadFile("testdata/numpy_values.json")
	if err != nil {
		t.Fatal(err)
	}
	var v numpyValues
	if err := json.Unmarshal(b, &v); err != nil {
		t.Fatal(err)
	}
	return v
}

// grid makes a survey of a matrix.
func grid(id, fixture string, m [][]float64) Survey {
	s := Survey{ID: id, Fixture: fixture, TakenAt: time.Date(2024, 3, 1, 9, 0, 0, 0, time.UTC), HeightM: .6,
		Conditions: Conditions{Sensor: "Q1"}}
	for r := range m {
		for c, v := range m[r] {
			s.Spots = append(s.Spots, Spot{Row: r + 1, Col: c + 1, PPFD: v})
		}
	}
	return s
}

func near(t *testing.T, what string, got, want, rel float64) {
	t.Helper()
	if !(math.Abs(got-want) <= rel*math.Max(1, math.Abs(want))) {
		t.Errorf("%s: got %.10g, want %.10g", what, got, want)
	}
}

func TestNumbersAgreeWithNumpy(t *testing.T) {
	v := loadNumpy(t)
	s := grid("a", "F1", v.A)
	s.Geometry.SpacingM = .25
	w := 600.0
	s.Conditions.PowerW = &w
	n, err := Summarise(s, Options{Uncertainty: Uncertainty{RepeatPct: 1, SensorPct: 2.5, HangPct: .5, OccasionPct: .7},
		PhotoperiodH: 16})
	if err != nil {
		t.Fatal(err)
	}
	const tol = 1e-12
	for name, got := range map[string]float64{
		"average": n.Average.Centre, "min": n.Min.Centre, "max": n.Max.Centre,
		"min_avg": n.MinAvg.Centre, "min_max": n.MinMax.Centre, "max_avg": n.MaxAvg.Centre, "cv": n.CV.Centre,
		"perimeter": n.Perimeter.Centre, "interior": n.Interior.Centre, "perimeter_spots": float64(n.PerimeterSpots),
		"centre_x": n.CentreX.Centre, "centre_y": n.CentreY.Centre, "footprint": n.Footprint.Centre, "dli": n.DLI.Centre,
	} {
		near(t, name, got, v.Numbers[name], tol)
	}
	near(t, "average sd", (n.Average.Hi-n.Average.Centre)/zOf(.95), v.Numbers["average_sd"], 1e-9)
	near(t, "efficacy", n.Efficacy.Centre, v.Numbers["footprint"]/600, tol)
	if n.PerimeterSpots != 16 || n.InteriorSpots != 9 || n.CentreUnit != "m" || n.AreaM2 != 1.5625 {
		t.Errorf("got %d on the edge, %d inside, unit %s, %v m2", n.PerimeterSpots, n.InteriorSpots, n.CentreUnit, n.AreaM2)
	}
}

func TestUnevenGridIsWeightedByFloor(t *testing.T) {
	v := loadNumpy(t)
	s := grid("u", "F1", v.Uneven.Grid)
	s.Geometry = Geometry{RowAtM: v.Uneven.Rows, ColAtM: v.Uneven.Cols}
	n, err := Summarise(s, Options{})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "area average", n.AreaAverage.Centre, v.Uneven.AreaAvg, 1e-12)
	near(t, "plain average", n.Average.Centre, v.Uneven.Plain, 1e-12)
	near(t, "area", n.AreaM2, v.Uneven.Area, 1e-12)
	near(t, "footprint", n.Footprint.Centre, v.Uneven.Area*v.Uneven.AreaAvg, 1e-12)
}

func TestChangeAgreesWithScipy(t *testing.T) {
	v := loadNumpy(t)
	a, b := grid("a", "F1", v.A), grid("b", "F1", v.B)
	u := Uncertainty{RepeatPct: 1}
	c, err := Compare(a, b, Occasion{}, Occasion{}, u)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "level", c.Level.Centre, v.Change["level"], 1e-12)
	near(t, "average", c.Average.Centre, v.Change["average"], 1e-12)
	near(t, "rms", c.Shape.RMSPct, v.Change["rms_pct"], 1e-11)
	near(t, "p chi2", c.Shape.P, v.Change["p_chi2"], 1e-10)
	u.RepeatDF = 12
	if c, err = Compare(a, b, Occasion{}, Occasion{}, u); err != nil {
		t.Fatal(err)
	}
	near(t, "p F", c.Shape.P, v.Change["p_f12"], 1e-10)
	if !c.Shape.Changed || !c.Spots[4].StandsOut {
		t.Errorf("spot 5 lost 15 %% beside the rest: %+v", c.Shape)
	}
}

func TestRepeatAndSlopeAgreeWithScipy(t *testing.T) {
	v := loadNumpy(t)
	var rounds []Survey
	for i, m := range v.Repeat.Rounds {
		rounds = append(rounds, grid(string(rune('a'+i)), "F1", m))
	}
	e := Repeat(rounds, .95)
	near(t, "repeat", e.Centre, v.Repeat.Pct, 1e-10)
	near(t, "repeat lo", e.Lo, v.Repeat.Lo, 1e-9)
	near(t, "repeat hi", e.Hi, v.Repeat.Hi, 1e-9)
	var os []Occasion
	t0 := time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC)
	for i, y := range v.Slope.Years {
		at := t0.Add(time.Duration(y * 365.25 * 24 * float64(time.Hour)))
		s := grid("r", "REF", [][]float64{{v.Slope.Values[i], v.Slope.Values[i]}})
		os = append(os, Occasion{From: at, To: at, References: []Survey{s}})
	}
	d := Slope(os, .95)
	near(t, "slope", d.Centre, v.Slope.Pct, 1e-9)
	near(t, "slope lo", d.Lo, v.Slope.Lo, 1e-8)
	near(t, "slope hi", d.Hi, v.Slope.Hi, 1e-8)
	if e := Slope(os[:2], .95); e.Known() {
		t.Errorf("a drift from two occasions: %+v", e)
	}
}
