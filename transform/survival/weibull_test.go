package survival

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func fit(t testing.TB, units []Unit) Weibull {
	t.Helper()
	w, err := FitWeibull(units, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	if w.Reason != "" {
		t.Fatal(w.Reason)
	}
	return w
}

// NIST/SEMATECH e-Handbook 8.4.1.3 (published: eta, beta, log-likelihood, mean, sd);
// limits and B-lives computed with R's survreg from the published data.
func TestWeibullNIST8413(t *testing.T) {
	w := fit(t, sets(t)[[2]string{"nist8413", "all"}])
	eta, beta := w.Eta(Wald), w.Beta(Wald)
	for _, v := range []struct {
		what           string
		got, want, abs float64
	}{
		{"eta", eta.Centre, 606.5280, 0.001}, {"beta", beta.Centre, 1.7208, 0.0001},
		{"log-likelihood", w.LogLik, -75.135, 0.001},
		{"mean", w.Mean().Centre, 540.737, 0.001}, {"sd", w.SD().Centre, 323.806, 0.001},
		{"eta lo", eta.Lo, 405.0893, 0.001}, {"eta hi", eta.Hi, 908.1348, 0.001},
		{"beta lo", beta.Lo, 0.971266, 1e-6}, {"beta hi", beta.Hi, 3.048746, 1e-6},
		{"B10", w.Life(0.1, Wald).Centre, 164.02244, 1e-4}, {"B50", w.Life(0.5, Wald).Centre, 490.17378, 1e-4},
	} {
		if !(math.Abs(v.got-v.want) <= v.abs) {
			t.Errorf("%s: got %.6f, want %.6f", v.what, v.got, v.want)
		}
	}
}

// Against a general optimiser with numerical curvature and a root finder on the likelihood
// ratio (testdata/reference.py), with and without left truncation.
func TestWeibullAsScipy(t *testing.T) {
	all := sets(t)
	for _, r := range table(t, "weibull_scipy.csv") {
		what := r["set"] + " " + r["group"] + " "
		w := fit(t, all[[2]string{r["set"], r["group"]}])
		near(t, what+"eta", math.Exp(w.LogEta), num(t, r["eta"]), 1e-6)
		near(t, what+"beta", math.Exp(w.LogBeta), num(t, r["beta"]), 1e-6)
		near(t, what+"log-likelihood", w.LogLik, num(t, r["loglik"]), 1e-9)
		near(t, what+"se log eta", math.Sqrt(w.Cov[0][0]), num(t, r["se_log_eta"]), 1e-4)
		near(t, what+"se log beta", math.Sqrt(w.Cov[1][1]), num(t, r["se_log_beta"]), 1e-4)
		b10, beta := w.Life(0.1, Profile), w.Beta(Profile)
		near(t, what+"B10", b10.Centre, num(t, r["b10"]), 1e-6)
		near(t, what+"B10 lo", b10.Lo, num(t, r["b10_lo"]), 1e-5)
		near(t, what+"B10 hi", b10.Hi, num(t, r["b10_hi"]), 1e-5)
		near(t, what+"beta lo", beta.Lo, num(t, r["beta_lo"]), 1e-5)
		near(t, what+"beta hi", beta.Hi, num(t, r["beta_hi"]), 1e-5)
	}
}

func TestWeibullTooFew(t *testing.T) {
	for _, v := range []struct {
		units []Unit
		word  string
	}{
		{nil, "no units"},
		{[]Unit{{Exit: 10}, {Exit: 20}}, "no failures"},
		{[]Unit{{Exit: 10, Failed: true}, {Exit: 20}}, "one failure"},
		{[]Unit{{Exit: 10, Failed: true}, {Exit: 10, Failed: true}, {Exit: 20}}, "at one age"},
		{[]Unit{{Entry: 900, Exit: 901, Failed: true}, {Entry: 100, Exit: 101, Failed: true},
			{Entry: 10, Exit: 11, Failed: true},
			{Entry: 90, Exit: 900}, {Entry: 1, Exit: 1.5, Failed: true}}, "1/age"},
	} {
		w, err := FitWeibull(v.units, 0.95)
		if err != nil || !strings.Contains(w.Reason, v.word) {
			t.Errorf("%v: %q, %v; want %q", v.units, w.Reason, err, v.word)
			continue
		}
		for _, e := range []interface{ Known() bool }{w.Eta(Profile), w.Beta(Wald), w.Life(0.1, Profile), w.Mean(), w.SD(),
			w.FailedAt(5)} {
			if e.Known() {
				t.Errorf("%v: an estimate where there is none: %+v", v.units, e)
			}
		}
	}
	if _, err := FitWeibull([]Unit{{Exit: 0, Failed: true}, {Exit: 5, Failed: true}}, 0.9); err == nil ||
		!strings.Contains(err.Error(), "dead on arrival") {
		t.Errorf("failed at 0: %v", err)
	}
	all := fit(t, []Unit{{Exit: 10, Failed: true}, {Exit: 12, Failed: true}, {Exit: 15, Failed: true}})
	if b := all.Life(0.5, Profile); !b.Bounded() || b.Lo > b.Centre || b.Hi < b.Centre || len(b.Warnings) == 0 {
		t.Errorf("all failed: %+v", b)
	}
	tight := fit(t, []Unit{{Exit: 1000, Failed: true}, {Exit: 1000.1, Failed: true}, {Exit: 999.9, Failed: true}})
	if math.Exp(tight.LogBeta) < 1000 {
		t.Errorf("failures nearly at one age: shape %g", math.Exp(tight.LogBeta))
	}
}

// At the fit the slope is nought, the information is the slope of the slope, a change of
// unit changes eta by just that, and no limit lies on the wrong side.
func TestWeibullProperties(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		units := drawUnits(rt)
		w, err := FitWeibull(units, 0.9)
		if err != nil {
			rt.Fatal(err)
		}
		if w.Reason != "" {
			return
		}
		g, info := w.data.derivatives(w.LogEta, w.LogBeta)
		if math.Abs(g[0]) > 1e-6 || math.Abs(g[1]) > 1e-6 {
			rt.Fatalf("slope %v at the top", g)
		}
		const h = 1e-5
		for j := 0; j < 2; j++ {
			d := [2]float64{}
			d[j] = h
			up, _ := w.data.derivatives(w.LogEta+d[0], w.LogBeta+d[1])
			dn, _ := w.data.derivatives(w.LogEta-d[0], w.LogBeta-d[1])
			for i := 0; i < 2; i++ {
				if n := -(up[i] - dn[i]) / (2 * h); math.Abs(n-info[i][j]) > 1e-4*(1+math.Abs(n)) {
					rt.Fatalf("information %d%d: %g, numerically %g", i, j, info[i][j], n)
				}
			}
		}
		for _, p := range []float64{0.01, 0.1, 0.5, 0.9} {
			for _, kind := range []Interval{Profile, Wald} {
				e := w.Life(p, kind)
				if !(e.Lo <= e.Centre && e.Centre <= e.Hi) {
					rt.Fatalf("%+v", e)
				}
			}
			e := w.Life(p, Profile)
			if e.Bounded() && e.Lo > 0 {
				for _, q := range []float64{e.Lo, e.Hi} {
					_, l, _ := w.data.lifeProfile(math.Log(q), -math.Log1p(-p), w.LogBeta)
					if math.Abs(w.LogLik-l-w.cut()) > 1e-4 {
						rt.Fatalf("B%g limit %g: likelihood falls by %g, not %g", 100*p, q, w.LogLik-l, w.cut())
					}
				}
			}
		}
		scaled := append([]Unit(nil), units...)
		for i := range scaled {
			scaled[i].Entry *= 60
			scaled[i].Exit *= 60
		}
		s, _ := FitWeibull(scaled, 0.9)
		if math.Abs(s.LogEta-w.LogEta-math.Log(60)) > 1e-6 || math.Abs(s.LogBeta-w.LogBeta) > 1e-6 {
			rt.Fatalf("minutes: eta %g, hours: %g", math.Exp(s.LogEta), math.Exp(w.LogEta))
		}
	})
}

func TestChance(t *testing.T) {
	w := fit(t, sets(t)[[2]string{"nist8413", "all"}])
	near(t, "new unit", w.Chance(0, 300), w.FailedAt(300).Centre, 1e-12)
	s := func(a float64) float64 { return 1 - w.FailedAt(a).Centre }
	near(t, "used unit", w.Chance(400, 300), 1-s(700)/s(400), 1e-12)
	if w.Chance(400, 0) != 0 || w.Chance(1e6, 1e6) != 1 {
		t.Error("ends of the chance")
	}
}

func fleet(n int, beta, eta float64, r *rand.Rand) []Unit {
	units := make([]Unit, n)
	for i := range units {
		u := &units[i]
		for {
			life := eta * math.Pow(-math.Log(r.Float64()), 1/beta)
			if r.Float64() < 0.3 {
				u.Entry = eta * r.Float64() * 0.8
			} else {
				u.Entry = 0
			}
			if life <= u.Entry {
				continue // gone before the record began
			}
			u.Exit = math.Min(life, u.Entry+eta*r.Float64()*1.5)
			u.Failed = u.Exit == life
			break
		}
	}
	return units
}

func TestWeibullLargeFleet(t *testing.T) {
	units := fleet(10000, 2.5, 20000, rand.New(rand.NewPCG(7, 7)))
	start := time.Now()
	w := fit(t, units)
	b10, b50, beta := w.Life(0.1, Profile), w.Life(0.5, Profile), w.Beta(Profile)
	if d := time.Since(start); d > 5*time.Second { // a fifth of a second and less on a quiet machine; see the benchmark
		t.Errorf("10,000 units took %v", d)
	}
	truth := 20000 * math.Pow(-math.Log(0.9), 1/2.5)
	if b10.Lo > truth*1.02 || b10.Hi < truth*0.98 || b10.Hi/b10.Lo > 1.1 || beta.Hi/beta.Lo > 1.1 || !b50.Bounded() {
		t.Errorf("B10 %+v, truth %g", b10, truth)
	}
}

func BenchmarkWeibull10000(b *testing.B) {
	units := fleet(10000, 2.5, 20000, rand.New(rand.NewPCG(7, 7)))
	for b.Loop() {
		w, _ := FitWeibull(units, 0.95)
		w.Life(0.1, Profile)
		w.Life(0.5, Profile)
		w.Eta(Profile)
		w.Beta(Profile)
	}
}
