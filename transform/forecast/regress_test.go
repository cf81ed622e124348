package forecast

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
)

func readColumns(t testing.TB, name string) map[string][]float64 {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := map[string][]float64{}
	for k, h := range rows[0] {
		for _, r := range rows[1:] {
			v, err := strconv.ParseFloat(r[k], 64)
			if err != nil {
				v = math.NaN()
			}
			out[h] = append(out[h], v)
		}
	}
	return out
}

func relative(t *testing.T, what string, got, want, rel float64) {
	t.Helper()
	if !(math.Abs(got-want) <= rel*math.Abs(want)) {
		t.Errorf("%s = %.15g, want %.15g within %g", what, got, want, rel)
	}
}

// NIST StRD, Norris (linear, certified values).
func TestLineAgainstNorris(t *testing.T) {
	c := readColumns(t, "nist_norris.csv")
	l, err := FitLine(c["x"], c["y"])
	if err != nil {
		t.Fatal(err)
	}
	relative(t, "b0", l.A, -0.262323073774029, 1e-9)
	relative(t, "b1", l.B, 1.00211681802045, 1e-9)
	relative(t, "residual sd", l.Sigma, .884796396144373, 1e-9)
}

// NIST StRD, Misra1a (non-linear, certified values), from both of its starts.
func TestCurveAgainstMisra1a(t *testing.T) {
	c := readColumns(t, "nist_misra1a.csv")
	misra := func(b []float64, x float64, grad []float64) float64 {
		e := math.Exp(-b[1] * x)
		grad[0], grad[1] = 1-e, b[0]*x*e
		return b[0] * (1 - e)
	}
	for _, start := range [][]float64{{500, .0001}, {250, .0005}} {
		b, _, _, err := FitCurve(misra, c["x"], c["y"], start)
		if err != nil {
			t.Fatal(err)
		}
		relative(t, "b1", b[0], 238.94212918, 1e-6)
		relative(t, "b2", b[1], 5.5015643181e-4, 1e-6)
	}
}

// Meeker & Escobar 1998, Table C.17: straight lines through each unit's path,
// computed with R's lm.
func TestLineAgainstLaserFits(t *testing.T) {
	paths := laserPaths(t)
	want := readColumns(t, "gaas_laser_fits.csv")
	for k, u := range want["unit"] {
		p := paths[int(u)]
		l, err := FitLine(p.hours, p.increase)
		if err != nil {
			t.Fatal(err)
		}
		relative(t, "slope", l.B, want["slope_ols"][k], 1e-9)
		relative(t, "crossing of 10 %", (10-l.A)/l.B, want["t10_ols"][k], 1e-9)
	}
}

type path struct{ hours, increase []float64 }

func laserPaths(t testing.TB) map[int]*path {
	c := readColumns(t, "gaas_laser.csv")
	out := map[int]*path{}
	for k, u := range c["unit"] {
		p := out[int(u)]
		if p == nil {
			p = &path{}
			out[int(u)] = p
		}
		p.hours, p.increase = append(p.hours, c["hours"][k]), append(p.increase, c["increase_pct"][k])
	}
	return out
}
