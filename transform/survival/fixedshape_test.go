package survival

import (
	"math"
	"testing"
)

// With shape 1 the scale is an exponential mean, whose bounds are published:
// NIST/SEMATECH e-Handbook 8.4.5.1 (800 h, 2 failures, 90 %: 127.07 to 2251.23 h;
// no failures: T/-ln(alpha)).
func TestFitScaleIsChiSquare(t *testing.T) {
	p := -math.Expm1(-1.0) // the share failed at the scale
	units := []Unit{{Exit: 100, Failed: true}, {Exit: 300, Failed: true}, {Entry: 100, Exit: 500}}
	e, err := FitScale(units, 1, p, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "centre", e.Centre, 400, 1e-12)
	near(t, "lo", e.Lo, 127.07, 4e-5)
	near(t, "hi", e.Hi, 2251.23, 4e-6)
	e, err = FitScale([]Unit{{Exit: 300}, {Exit: 500}}, 1, p, 0.9)
	if err != nil || e.Known() || !math.IsInf(e.Hi, 1) {
		t.Fatalf("%+v %v", e, err)
	}
	near(t, "no failures", e.Lo, 800/-math.Log(0.1), 1e-12)
	// A shape of 3: 20 units to 9,000 h without failure, 95 %: eta^3 > 20·9000^3/-ln(0.05).
	var quiet []Unit
	for i := 0; i < 20; i++ {
		quiet = append(quiet, Unit{Exit: 9000})
	}
	e, err = FitScale(quiet, 3, 0.1, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "B10 bound", e.Lo, 9000*math.Cbrt(20/-math.Log(0.05)*-math.Log(0.9)), 1e-12)
	if e, err := FitScale(nil, 3, 0.1, 0.95); err != nil || e.Known() {
		t.Errorf("%+v %v", e, err)
	}
	if _, err := FitScale(quiet, 0, 0.1, 0.95); err == nil {
		t.Error("shape 0 passed")
	}
}

// The few scenarios give the mean and spread of the shape that a grid twenty
// times as fine and wider gives.
func TestScenarios(t *testing.T) {
	w := fit(t, sets(t)[[2]string{"truncated", "all"}])
	sum, m, v := 0.0, 0.0, 0.0
	for _, s := range w.Scenarios() {
		sum, m, v = sum+s.Weight, m+s.Weight*s.LogBeta, v+s.Weight*s.LogBeta*s.LogBeta
	}
	near(t, "weights", sum, 1, 1e-12)
	fs, fm, fv := 0.0, 0.0, 0.0
	se, sb := math.Sqrt(w.Cov[0][0]), math.Sqrt(w.Cov[1][1])
	for i := -200; i <= 200; i++ {
		for j := -200; j <= 200; j++ {
			b := w.LogBeta + sb*float64(j)/25
			l := math.Exp(w.data.logLik(w.LogEta+se*float64(i)/25, b) - w.LogLik)
			fs, fm, fv = fs+l, fm+l*b, fv+l*b*b
		}
	}
	near(t, "mean", m, fm/fs, 1e-4)
	near(t, "sd", math.Sqrt(v-m*m), math.Sqrt(fv/fs-fm*fm/fs/fs), 1e-3)
	if s := (Weibull{Reason: "none"}).Scenarios(); s != nil {
		t.Error("scenarios without a fit")
	}
}
