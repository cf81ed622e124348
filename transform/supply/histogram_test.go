package supply

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

type numpyValues struct {
	Hist struct {
		Mid                       []float64
		N                         []int64
		P5, Median, P95, Below205 float64
		MedianLo                  float64 `json:"median_lo"`
		MedianHi                  float64 `json:"median_hi"`
		BelowLo                   float64 `json:"below_lo"`
		BelowHi                   float64 `json:"below_hi"`
	}
	Unbalance []struct {
		LL             []float64
		Negative, Nema float64
	}
	Effect struct{ Centre, Lo, Hi float64 }
}

// loadNumpy reads testdata/numpy_values.json, made by testdata/check.py.
func loadNumpy(t *testing.T) numpyValues {
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

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.10g, want %.10g", what, got, want)
	}
}

func TestHistogramAgreesWithNumpy(t *testing.T) {
	v := loadNumpy(t).Hist
	var h Histogram
	for i := range v.Mid {
		h.Bins = append(h.Bins, Bin{Month: 7, Hour: 14, V: v.Mid[i], N: v.N[i]})
	}
	p, err := Profiled(h, Limit{Min: 205, Max: 1000}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	c, ok := p.Cell(Summer, 14)
	if !ok || c.Readings != 2000 {
		t.Fatalf("got %+v", c)
	}
	near(t, "p5", c.P5.Centre, v.P5, 1e-9)
	near(t, "median", c.Median.Centre, v.Median, 1e-9)
	near(t, "p95", c.P95.Centre, v.P95, 1e-9)
	near(t, "median lo", c.Median.Lo, v.MedianLo, 1e-6)
	near(t, "median hi", c.Median.Hi, v.MedianHi, 1e-6)
	near(t, "below", c.Below.Centre, v.Below205, 1e-12)
	near(t, "below lo", c.Below.Lo, v.BelowLo, 1e-9)
	near(t, "below hi", c.Below.Hi, v.BelowHi, 1e-9)
	if c.Above.Centre != 0 || c.Above.Hi <= 0 {
		t.Errorf("none above is not surely none: %+v", c.Above)
	}
	h.PerHour = 60
	p, err = Profiled(h, Limit{Min: 205, Max: 1000}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	m, _ := p.Cell(Summer, 14)
	if m.Median.N != 33 || m.Median.Hi-m.Median.Lo < 4*(c.Median.Hi-c.Median.Lo) {
		t.Errorf("readings of one hour hang together: %+v", m.Median)
	}
	if _, ok := p.Cell(Winter, 14); ok {
		t.Error("a season without readings has a cell")
	}
}

func TestCounterAndBinsAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		vs := rapid.SliceOfN(rapid.Float64Range(0, 700), 1, 60).Draw(t, "v")
		var c Counter
		for i, v := range vs {
			c.Add(1+i%12, i%24, int64(v/Width), 1)
		}
		p, err := Profiled(Histogram{Bins: c.Bins()}, Limit{Min: math.NaN(), Max: math.NaN()}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		w, _ := p.Whole()
		if w.Readings != int64(len(vs)) {
			t.Fatalf("%d readings of %d", w.Readings, len(vs))
		}
		if !(w.P5.Centre <= w.Median.Centre && w.Median.Centre <= w.P95.Centre && w.Median.Lo <= w.Median.Centre &&
			w.Median.Centre <= w.Median.Hi) {
			t.Fatalf("out of order: %+v", w)
		}
		below := 0
		for _, v := range vs {
			if v <= w.Median.Centre+Width {
				below++
			}
		}
		if below*2 < len(vs) {
			t.Fatalf("median %v has %d of %d below", w.Median.Centre, below, len(vs))
		}
		if w.Below.Centre != 0 || w.Above.Centre != 0 {
			t.Fatal("a range without ends leaves nothing outside")
		}
	})
}

func TestHistogramRefusals(t *testing.T) {
	for _, h := range []Histogram{
		{Bins: []Bin{{0, 1, 120, 1}}}, {Bins: []Bin{{1, 24, 120, 1}}}, {Bins: []Bin{{1, 1, math.NaN(), 1}}},
		{Bins: []Bin{{1, 1, 120, -1}}},
		{PerHour: math.NaN()},
	} {
		if _, err := Profiled(h, Limit{}, Options{}); err == nil {
			t.Errorf("%+v was taken", h)
		}
	}
	if _, err := Profiled(Histogram{}, Limit{Min: 2, Max: 1}, Options{}); err == nil {
		t.Error("a range upside down was taken")
	}
}

func TestSeasonsTurnInTheSouth(t *testing.T) {
	for m, want := range map[int]Season{12: Winter, 1: Winter, 2: Winter, 3: Spring, 5: Spring, 6: Summer, 8: Summer,
		9: Autumn, 11: Autumn} {
		if got := SeasonOf(m, false); got != want {
			t.Errorf("month %d: %s", m, got)
		}
	}
	if SeasonOf(1, true) != Summer || SeasonOf(7, true) != Winter || SeasonOf(4, true) != Autumn {
		t.Error("the south")
	}
}

// testdata/voltage_limits.csv: COMAR 20.50.07.02 and EN 50160 seen, ANSI C84.1
// from memory.
func TestLimitsAreThePublishedTable(t *testing.T) {
	f, err := os.Open("testdata/voltage_limits.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	ls := Limits()
	if len(ls) != len(rows)-1 {
		t.Fatalf("%d limits, %d published", len(ls), len(rows)-1)
	}
	for i, r := range rows[1:] {
		l := ls[i]
		lo, _ := strconv.ParseFloat(r[2], 64)
		hi, errHi := strconv.ParseFloat(r[3], 64)
		if l.Nominal != r[0] || l.Kind != r[1] || l.Min != lo || l.Source != r[4] || l.Label != r[5] ||
			(errHi == nil) != (l.Max == hi) || (errHi != nil) != math.IsNaN(l.Max) {
			t.Errorf("line %d: %+v, published %v", i+2, l, r)
		}
		if strings.HasPrefix(l.Source, "ANSI") != l.Recalled() {
			t.Errorf("line %d: ANSI values, and only they, are from memory", i+2)
		}
	}
	if l, ok := LimitOf("208", "service, state regulation"); !ok || l.Holds(math.Nextafter(197, 0)) || !l.Holds(197) ||
		!l.Holds(219) || l.Holds(math.Nextafter(219, 300)) {
		t.Errorf("got %+v", l)
	}
	if l, _ := LimitOf("120", "Range A utilization minimum"); !l.Holds(500) || l.Holds(107) {
		t.Error("a limit without an upper end has none")
	}
	if _, ok := LimitOf("119", "x"); ok {
		t.Error("an unknown nominal")
	}
}

func TestEveryConnectionHasARange(t *testing.T) {
	for _, c := range Connections() {
		if !(c.Range.Min < c.Nominal && c.Nominal < c.Range.Max) || c.Range.Source == "" {
			t.Errorf("%s: %+v", c.Label(), c.Range)
		}
	}
}
