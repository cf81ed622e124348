package renewal

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
	if !(math.Abs(got-want) <= rel*math.Abs(want)) {
		t.Errorf("%s = %.10g, want %.10g within %g", what, got, want, rel)
	}
}

// Linear decline without failures: T = sqrt(2C/(v a)) at a rate of sqrt(2C v a),
// the economic order quantity's formula with time for quantity.
func TestLinearDeclineAgainstClosedForm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.Float64Range(1, 500).Draw(t, "c")
		want := rapid.Float64Range(1000, 60000).Draw(t, "hours")
		va := 2 * c / (want * want)
		m := Model{Planned: c, Loss: func(h float64) float64 { return va * h }, Max: 200000}
		rate := math.Sqrt(2 * c * va)
		for name, o := range map[string]Optimum{"age": m.BestAge(), "block": m.BestBlock()} {
			if !o.Known || math.Abs(o.T/want-1) > 1e-6 || math.Abs(o.Rate/rate-1) > 1e-6 {
				t.Fatalf("%s: T %.9g rate %.9g (%s), want %.9g %.9g", name, o.T, o.Rate, o.Why, want, rate)
			}
			// C/T + va T/2 = 1.02 * least where T/T* = 1.02 -+ sqrt(1.02^2-1).
			d := math.Sqrt(1.02*1.02 - 1)
			if math.Abs(o.Lo/want-(1.02-d)) > 1e-4 || math.Abs(o.Hi/want-(1.02+d)) > 1e-4 || o.HiOpen {
				t.Fatalf("%s: band %g..%g of T, want %g..%g", name, o.Lo/want, o.Hi/want, 1.02-d, 1.02+d)
			}
		}
	})
}

// Jardine & Tsang, Maintenance, Replacement and Reliability, chapter 2, problem
// 2 (published solution): life uniform on 0..40,000 km, planned 100, failure
// 200; .0143, .01, .0093, .01 at 10, 20, 30 and 40 thousand km. The continuous
// optimum solves T^2 + 80,000 T - 3.2e9 = 0 (computed).
func TestAgeAgainstJardineTsang(t *testing.T) {
	u := distuv.Uniform{Min: 0, Max: 40000}
	m := Model{Survive: u.Survival, Planned: 100, Failure: 200, Max: 40000}
	for _, c := range []struct{ t, want float64 }{{10000, .0143}, {20000, .01}, {30000, .0093}, {40000, .01}} {
		if got := m.AgeRate(c.t); math.Abs(got-c.want) > 0.00005 {
			t.Errorf("rate at %g = %.6f, printed %.4f", c.t, got, c.want)
		}
	}
	near(t, "optimum", m.BestAge().T, -40000+math.Sqrt(4.8e9), 1e-6)
}

// Karlin & Taylor, A First Course in Stochastic Processes, 2nd ed., chapter 5,
// problem 7 (published): block replacement of a part with density
// lambda^2 t exp(-lambda t) is least where exp(-2 l T)(1 + 2 l T) = 1 - 4 c1/c2.
func TestBlockAgainstKarlinTaylor(t *testing.T) {
	const l, c1, c2 = 0.001, 10.0, 100.0
	gamma := distuv.Gamma{Alpha: 2, Beta: l}
	m := Model{Survive: gamma.Survival, Planned: c1, Failure: c2, Max: 20000}
	o := m.BestBlock()
	near(t, "exp(-2lT)(1+2lT)", math.Exp(-2*l*o.T)*(1+2*l*o.T), 1-4*c1/c2, 1e-4)
	// M(t) = l t/2 - 1/4 + exp(-2 l t)/4 for this density.
	for _, h := range []float64{200, 1000, 4000} {
		near(t, "M", m.Renewals(h), l*h/2-0.25+math.Exp(-2*l*h)/4, 1e-5)
	}
}

// Beichelt, Applied Probability and Stochastic Processes, 2nd ed., block
// replacement exercise (published question): F = (1-exp(-l t))^2, l = 0.1,
// c_e = 180, c_p = 100. H(t) = 2 l t/3 - 2/9 (1-exp(-3 l t)) follows from the
// Laplace transform (computed). With c_p/c_e > 2/9 the rate falls for ever:
// replacing ahead of failure does not pay.
func TestBlockAgainstBeichelt(t *testing.T) {
	const l = 0.1
	m := Model{Survive: func(h float64) float64 { p := 1 - math.Exp(-l*h); return 1 - p*p }, Planned: 100, Failure: 180,
		Max: 300}
	for _, h := range []float64{2, 10, 60} {
		near(t, "H", m.Renewals(h), 2*l*h/3-2.0/9*(1-math.Exp(-3*l*h)), 1e-4)
	}
	if o := m.BestBlock(); o.Known || !strings.Contains(o.Why, "still falls") {
		t.Errorf("got %+v, want no finite optimum", o.Why)
	}
	m.Planned = 20 // 20/180 < 2/9: exp(-3lT)(1+3lT) = 1 - (9/2)(20/180)
	o := m.BestBlock()
	near(t, "exp(-3lT)(1+3lT)", math.Exp(-3*l*o.T)*(1+3*l*o.T), 0.5, 1e-4)
}

func TestAgeAgainstScipy(t *testing.T) {
	f, err := os.Open("testdata/scipy_policies.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) != 6 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	for _, r := range rows[1:] {
		x := make([]float64, len(r))
		for i := 1; i < len(r); i++ {
			if x[i], err = strconv.ParseFloat(r[i], 64); err != nil {
				t.Fatal(err)
			}
		}
		o := weibullModel(x[1], x[2], x[3], x[4], x[5]).BestAge()
		if !o.Known {
			t.Errorf("%s: %s", r[0], o.Why)
			continue
		}
		near(t, r[0]+" T", o.T, x[6], 2e-5) // scipy's bounded minimiser is no closer
		near(t, r[0]+" rate", o.Rate, x[7], 1e-8)
	}
}

func weibullModel(eta, beta, cp, cf, va float64) Model {
	w := distuv.Weibull{K: beta, Lambda: eta}
	return Model{Survive: w.Survival, Loss: func(h float64) float64 { return va * h }, Planned: cp, Failure: cf,
		Max: 4 * eta}
}

// Brute force: many cycles are drawn and their cost over their length compared
// with the formulas, at the optimum and off it, to 1 %.
func TestAgainstBruteForce(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 1))
	const eta, beta, cp, cf, va = 24000.0, 3.0, 70.0, 160.0, 4.0e-7
	m := weibullModel(eta, beta, cp, cf, va)
	life := func() float64 { return eta * math.Pow(rng.ExpFloat64(), 1/beta) }
	lost := func(h float64) float64 { return va * h * h / 2 }
	for _, at := range []float64{8000, m.BestAge().T, 22000} {
		var cost, hours float64
		for i := 0; i < 200000; i++ {
			x := life()
			if x < at {
				cost += cf + lost(x)
			} else {
				x, cost = at, cost+cp+lost(at)
			}
			hours += x
		}
		near(t, "age rate by simulation", cost/hours, m.AgeRate(at), 0.01)
	}
	for _, at := range []float64{8000, m.BestBlock().T, 22000} {
		var cost float64
		const cycles = 200000
		for i := 0; i < cycles; i++ {
			cost += cp
			for left := at; ; {
				x := life()
				if x >= left {
					cost += lost(left)
					break
				}
				cost += cf + lost(x)
				left -= x
			}
		}
		near(t, "block rate by simulation", cost/(cycles*at), m.BlockRate(at), 0.01)
	}
}

// The optimum found is no worse than any age tried, and the best age policy
// costs no more than the best block policy at the same costs (at one and the
// same interval it may: block has fewer failures; Barlow & Proschan 1965).
func TestOptimumIsLeast(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		eta := rapid.Float64Range(5000, 60000).Draw(t, "eta")
		beta := rapid.Float64Range(0.7, 5).Draw(t, "beta")
		cp := rapid.Float64Range(5, 100).Draw(t, "cp")
		cf := cp * rapid.Float64Range(1, 6).Draw(t, "ratio")
		va := rapid.Float64Range(0, 1e-5).Draw(t, "va")
		m := weibullModel(eta, beta, cp, cf, va)
		o := m.BestAge()
		if !o.Known {
			return
		}
		if o.Lo > o.T || o.Hi < o.T {
			t.Fatalf("band %g..%g leaves out %g", o.Lo, o.Hi, o.T)
		}
		x := rapid.Float64Range(0.001, 1).Draw(t, "x") * m.Max
		if m.AgeRate(x) < o.Rate*(1-1e-9) {
			t.Fatalf("rate %g at %g is below the least %g at %g", m.AgeRate(x), x, o.Rate, o.T)
		}
		if b := m.BestBlock(); b.Known && b.Rate < o.Rate*(1-1e-3) {
			t.Fatalf("best block rate %g at %g below best age rate %g at %g", b.Rate, b.T, o.Rate, o.T)
		}
	})
}

func TestNoOptimumIsSaidInWords(t *testing.T) {
	loss := func(h float64) float64 { return 1e-6 * h }
	for name, c := range map[string]struct {
		m    Model
		want string
	}{
		"zero price":   {Model{Loss: loss, Max: 1e5}, "costs nothing"},
		"no cost":      {Model{Survive: distuv.Weibull{K: 2, Lambda: 1}.Survival, Max: 1e5}, "give a price"},
		"nothing ages": {Model{Planned: 5, Failure: 9, Max: 1e5}, "nothing to replace it for"},
		"no limit":     {Model{Planned: 5, Loss: loss}, "set Max"},
		"negative":     {Model{Planned: -5, Loss: loss, Max: 1e5}, "not negative"},
		"too cheap":    {Model{Planned: 1e-12, Loss: loss, Max: 1e5}, "too small"},
		"never worth":  {Model{Planned: 1e9, Loss: loss, Max: 1e5}, "still falls"},
		"random faults": {Model{Survive: distuv.Exponential{Rate: 1e-4}.Survival, Planned: 5, Failure: 9, Max: 1e5},
			"still falls"},
	} {
		for _, o := range []Optimum{c.m.BestAge(), c.m.BestBlock()} {
			if o.Known || !strings.Contains(o.Why, c.want) {
				t.Errorf("%s: known %v, %q; want %q", name, o.Known, o.Why, c.want)
			}
		}
	}
}
