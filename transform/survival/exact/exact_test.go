package exact

import (
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

func near(t *testing.T, what string, got, want, rel float64) {
	t.Helper()
	if !(math.Abs(got-want) <= rel*math.Max(1e-9, math.Abs(want))) {
		t.Errorf("%s: got %.12g, want %.12g", what, got, want)
	}
}

func rows(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, r := range all[1:] {
		m := map[string]string{}
		for i, h := range all[0] {
			m[h] = r[i]
		}
		out = append(out, m)
	}
	return out
}

func num(t *testing.T, s string) float64 {
	t.Helper()
	if s == "NA" {
		return math.NaN()
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// R's binom.test and poisson.test (testdata/reference.R).
func TestCountsAsR(t *testing.T) {
	for _, r := range rows(t, "counts_r.csv") {
		x, n, level := int(num(t, r["count"])), int(num(t, r["n"])), num(t, r["level"])
		s, err := Share(x, n, level)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "share lo "+r["count"]+"/"+r["n"], s.Lo, num(t, r["share_lo"]), 1e-8)
		near(t, "share hi "+r["count"]+"/"+r["n"], s.Hi, num(t, r["share_hi"]), 1e-8)
		q, err := Rate(x, float64(n), level)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "rate lo "+r["count"], q.Lo, num(t, r["rate_lo"]), 1e-8)
		if x > 0 { // ours is one-sided at 0, R's two-sided
			near(t, "rate hi "+r["count"], q.Hi, num(t, r["rate_hi"]), 1e-8)
		}
	}
}

// NIST/SEMATECH e-Handbook 8.4.5.1: formula published, numbers computed from it
// (800 h, 2 failures, 90 %), here as the inverse, the mean time between failures.
func TestRateNIST8451(t *testing.T) {
	r, err := Rate(2, 800, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "centre", 1/r.Centre, 400, 1e-12)
	near(t, "lo", 1/r.Hi, 127.07, 4e-5)
	near(t, "hi", 1/r.Lo, 2251.23, 4e-6)
	z, err := Rate(0, 800, 0.9)
	if err != nil || z.Centre != 0 || len(z.Warnings) != 1 {
		t.Errorf("%+v %v", z, err)
	}
	near(t, "no failures", 1/z.Hi, 800/-math.Log(0.1), 1e-12)
	// Factors at 90 %: r·lower and r·upper bound multipliers, computed with R.
	for _, f := range []struct {
		r      int
		lo, hi float64
	}{{1, 0.2107986001968, 19.4957257462237}, {5, 0.475600056824935, 2.53787838297205},
		{9, 0.573058005576196, 1.91684000885283}} {
		m, _ := Rate(f.r, 1000, 0.9)
		near(t, "lower factor", m.Centre/m.Hi, f.lo, 1e-8)
		near(t, "upper factor", m.Centre/m.Lo, f.hi, 1e-8)
	}
}

// The project's list of exact binomial limits at 95 %, computed.
func TestShareListed(t *testing.T) {
	for _, v := range []struct {
		x, n   int
		lo, hi float64
	}{{0, 20, 0, .168433}, {1, 20, .001265, .248733}, {5, 100, .016432, .112835}} {
		s, err := Share(v.x, v.n, 0.95)
		if err != nil || math.Abs(s.Lo-v.lo) > 5e-7 || math.Abs(s.Hi-v.hi) > 5e-7 {
			t.Errorf("%d/%d: %+v %v", v.x, v.n, s, err)
		}
	}
}

func TestOrdersAsR(t *testing.T) {
	for _, r := range rows(t, "orders_r.csv") {
		var x []float64
		for _, f := range strings.Fields(r["values"]) {
			x = append(x, num(t, f))
		}
		e, err := Quantile(x, num(t, r["p"]), 0.95)
		if err != nil {
			t.Fatal(err)
		}
		what := "n " + r["n"] + " p " + r["p"]
		near(t, what, e.Centre, num(t, r["q"]), 1e-12)
		lo, hi := num(t, r["lo"]), num(t, r["hi"])
		if math.IsNaN(lo) != math.IsInf(e.Lo, -1) || math.IsNaN(hi) != math.IsInf(e.Hi, 1) {
			t.Errorf("%s: %+v; R has %v to %v", what, e, lo, hi)
		}
		if !math.IsNaN(lo) {
			near(t, what+" lo", e.Lo, lo, 1e-12)
		}
		if !math.IsNaN(hi) {
			near(t, what+" hi", e.Hi, hi, 1e-12)
		}
	}
}

func TestTooFew(t *testing.T) {
	q, err := Quantile([]float64{1, 2, 3, 4, 5}, 0.9, 0.95)
	if err != nil || !math.IsInf(q.Hi, 1) || !strings.Contains(q.Warnings[0], "36 are needed") { // 0.9^36 < 0.025 < 0.9^35
		t.Errorf("%+v %v", q, err)
	}
	for _, e := range []func() (bool, error){
		func() (bool, error) { e, err := Quantile(nil, 0.5, 0.95); return e.Known(), err },
		func() (bool, error) { e, err := Share(0, 0, 0.95); return e.Known(), err },
		func() (bool, error) { e, err := Rate(0, 0, 0.95); return e.Known(), err },
	} {
		if known, err := e(); known || err != nil {
			t.Error(known, err)
		}
	}
	for _, err := range []error{second(Share(3, 2, 0.9)), second(Rate(-1, 5, 0.9)), second(Rate(2, 0, 0.9)),
		second(Rate(2, math.NaN(), 0.9)),
		second(Share(1, 2, 95)), second(Quantile([]float64{math.NaN()}, 0.5, 0.9)), second(Quantile([]float64{1}, 50, 0.9))} {
		if err == nil {
			t.Error("bad input passed")
		}
	}
}

func second[T any](_ T, err error) error { return err }

// Coverage: the order-statistic limits hold at least their level, and what
// Method says, for a skewed law.
func TestQuantileCoverage(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 20251))
	law := distuv.LogNormal{Mu: 0, Sigma: 1}
	for _, p := range []float64{0.1, 0.5, 0.9} {
		const runs = 4000
		held := 0
		truth := law.Quantile(p)
		_, _, says := orders(60, p, 0.025)
		for k := 0; k < runs; k++ {
			x := make([]float64, 60)
			for i := range x {
				x[i] = math.Exp(r.NormFloat64())
			}
			if e, _ := Quantile(x, p, 0.95); e.Lo <= truth && truth <= e.Hi {
				held++
			}
		}
		if c := float64(held) / runs; math.Abs(c-says) > 0.012 || says < 0.95 {
			t.Errorf("P%g holds in %.3f, says %.3f", 100*p, c, says)
		}
	}
}

func TestProperties(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(1, 3000).Draw(rt, "n")
		x := rapid.IntRange(0, n).Draw(rt, "x")
		level := rapid.Float64Range(0.5, 0.99).Draw(rt, "level")
		s, err := Share(x, n, level)
		if err != nil || !(0 <= s.Lo && s.Lo <= s.Centre && s.Centre <= s.Hi && s.Hi <= 1) {
			rt.Fatalf("%+v %v", s, err)
		}
		mirror, _ := Share(n-x, n, level)
		if math.Abs(mirror.Lo-(1-s.Hi)) > 1e-7 {
			rt.Fatalf("%+v, the rest %+v", s, mirror)
		}
		q, err := Rate(x, 1e4, level)
		if err != nil || !(q.Lo <= q.Centre && q.Centre <= q.Hi) {
			rt.Fatalf("%+v %v", q, err)
		}
	})
}
