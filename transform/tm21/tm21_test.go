package tm21

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

func sample(t testing.TB) []Unit {
	t.Helper()
	f, err := os.Open("testdata/tm21_doe_sample20.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	units := make([]Unit, len(rows[0])-1)
	for _, r := range rows[1:] {
		h, _ := strconv.ParseFloat(r[0], 64)
		for k := range units {
			v, err := strconv.ParseFloat(r[k+1], 64)
			if err != nil {
				t.Fatal(err)
			}
			units[k].Hours, units[k].Flux = append(units[k].Hours, h), append(units[k].Flux, v)
		}
	}
	return units
}

// Example A: US DOE SSL programme, TM-21 slide set: published input and
// averages; alpha, B and lives computed with numpy's polyfit.
func TestSampleOfTwenty(t *testing.T) {
	avg, err := Average(sample(t))
	if err != nil {
		t.Fatal(err)
	}
	printed := []float64{1.0000, .9831, .9680, .9719, .9667, .9599, .9553, .9542}
	k := 0
	for _, p := range avg {
		if k < len(printed) && math.Abs(p.Average-printed[k]) <= .00005+1e-12 {
			k++
		}
	}
	if k != len(printed) {
		t.Errorf("averages %v: printed average %v not met", avg, printed[k])
	}
	p, err := Project(avg)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "alpha", p.Alpha, 3.728292e-6, 1e-6)
	near(t, "B", p.B, .9752455, 1e-6)
	near(t, "L90", p.At(.9).Calculated, 21536.5, 3e-6)
	near(t, "L80", p.At(.8).Calculated, 53128.2, 1e-6)
	near(t, "L70", p.At(.7).Calculated, 88943.9, 1e-6)
	if h, bound := p.At(.7).Claimed(); h != 36000 || !bound {
		t.Errorf("L70 claimed %v, bound %v: published > 36,000", h, bound)
	}
	if got := p.Name("L", .7) + " " + p.At(.7).String(); got != "L70(6k) > 36000 h (calculated 88944 h)" {
		t.Error(got)
	}
}

// Example C: US DOE L Prize long-term test: published maintenance and L70; the
// exponential through both gives alpha and B (computed).
func TestLongTerm(t *testing.T) {
	b, err := os.ReadFile("testdata/led_long_term_lprize.json")
	if err != nil {
		t.Fatal(err)
	}
	var ex struct {
		Rows []struct {
			Hours float64
			Mean  float64 `json:"mean_maintenance"`
			L70   float64 `json:"published_L70_h"`
			Alpha float64 `json:"implied_alpha"`
			B     float64 `json:"implied_B"`
		}
	}
	if err := json.Unmarshal(b, &ex); err != nil {
		t.Fatal(err)
	}
	for _, r := range ex.Rows {
		p := Projection{Alpha: r.Alpha, B: r.B, Units: 31, TestHours: r.Hours, Cap: 6 * r.Hours}
		l := p.At(.7)
		near(t, "L70", l.Calculated, r.L70, 2e-6)
		near(t, "maintenance", r.B*math.Exp(-r.Alpha*r.Hours), r.Mean, 1e-6)
		if _, bound := l.Claimed(); bound {
			t.Errorf("%v h lies under the cap of 6 x %v h", l.Calculated, r.Hours)
		}
	}
}

func TestEdges(t *testing.T) {
	line := func(n int, end, step, slope float64) []Point {
		var out []Point
		for h := 0.0; h <= end; h += step {
			out = append(out, Point{h, 1 - slope*h, n})
		}
		return out
	}
	if _, err := Project(line(20, 5500, 500, 1e-6)); err == nil {
		t.Error("a test of 5,500 h was projected")
	}
	if _, err := Project(line(9, 6000, 500, 1e-6)); err == nil || !strings.Contains(err.Error(), "at least 10") {
		t.Errorf("nine units: %v", err)
	}
	p, err := Project(line(10, 6000, 500, 1e-6))
	if err != nil || p.Cap != 33000 {
		t.Errorf("ten units: cap %v, %v", p.Cap, err)
	}
	rising, err := Project(line(20, 6000, 500, -1e-6))
	if err != nil {
		t.Fatal(err)
	}
	if got := rising.At(.7).String(); !strings.HasPrefix(got, "> 36000 h (no value") {
		t.Error(got)
	}
	crossed, err := Project(line(20, 10000, 1000, 2e-5))
	if err != nil {
		t.Fatal(err)
	}
	if l := crossed.At(.9); !l.Observed || math.Abs(l.Calculated-5000) > 1e-6 {
		t.Errorf("crossed in the test: %+v", l)
	}
	if w := Window(line(20, 12000, 1000, 0)); w[0].Hours != 6000 {
		t.Errorf("window of a 12,000 h test begins at %v, not at half", w[0].Hours)
	}
	if w := Window(line(20, 6000, 500, 0)); w[0].Hours != 1000 {
		t.Errorf("window of a 6,000 h test begins at %v", w[0].Hours)
	}
}

// An exact exponential is recovered whatever its window.
func TestExactExponential(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.Float64Range(1e-7, 2e-5).Draw(t, "alpha"), rapid.Float64Range(.9, 1.05).Draw(t, "B")
		d := rapid.Float64Range(6000, 40000).Draw(t, "test")
		var pts []Point
		for k := 0; k <= 20; k++ {
			h := d * float64(k) / 20
			pts = append(pts, Point{h, b * math.Exp(-a*h), 20})
		}
		p, err := Project(pts)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(p.Alpha/a-1) > 1e-6 || math.Abs(p.B/b-1) > 1e-9 {
			t.Fatalf("alpha %v, B %v", p.Alpha, p.B)
		}
	})
}

func near(t *testing.T, what string, got, want, rel float64) {
	t.Helper()
	if math.Abs(got-want) > rel*math.Abs(want) {
		t.Errorf("%s = %v, want %v within %v", what, got, want, rel)
	}
}
