package survival

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

var kinds = []struct {
	limits  Limits
	r, file string
}{{Plain, "plain", "plain"}, {Log, "log", "log"}, {LogLog, "log-log", "loglog"}}

// Against R's survfit (testdata/reference.R): aml, ovarian and veteran with ties,
// both NIST/SEMATECH sets, and two sets with left truncation.
func TestKaplanMeierAsR(t *testing.T) {
	curves := map[[2]string][]Curve{}
	for k, units := range sets(t) {
		for _, kind := range kinds {
			c, err := KaplanMeier(units, kind.limits, 0.95)
			if err != nil {
				t.Fatal(k, err)
			}
			curves[k] = append(curves[k], c)
		}
	}
	index := map[[2]string]int{}
	for _, r := range table(t, "km_r.csv") {
		k := [2]string{r["set"], r["group"]}
		i := index[k]
		index[k]++
		for n, kind := range kinds {
			s := curves[k][n].Steps[i]
			what := k[0] + " " + k[1] + " at " + r["time"]
			near(t, what+" time", s.Time, num(t, r["time"]), 1e-12)
			if float64(s.AtRisk) != num(t, r["n.risk"]) || float64(s.Failed) != num(t, r["n.event"]) {
				t.Errorf("%s: %d at risk, %d failed; R has %s, %s", what, s.AtRisk, s.Failed, r["n.risk"], r["n.event"])
			}
			near(t, what+" survival", s.Survival, num(t, r["surv"]), 1e-12)
			if s.Survival == 0 || s.Survival == 1 {
				continue // R has NA, or limits that say 1 for certain; see TestLimitsWithoutError
			}
			near(t, what+" se", s.SE, num(t, r["se"]), 1e-10)
			near(t, what+" "+kind.r+" lo", s.Lo, num(t, r[kind.file+"_lo"]), 1e-10)
			near(t, what+" "+kind.r+" hi", s.Hi, num(t, r[kind.file+"_hi"]), 1e-10)
		}
	}
	for k, n := range index {
		if n != len(curves[k][0].Steps) {
			t.Errorf("%v: %d steps, R has %d", k, len(curves[k][0].Steps), n)
		}
	}
}

// Against R's quantile.survfit. Where R's limit is NA because the curve has come
// to 0, ours may be an age, from the beta product.
func TestQuantilesAsR(t *testing.T) {
	all := sets(t)
	for _, r := range table(t, "quantiles_r.csv") {
		k := [2]string{r["set"], r["group"]}
		var limits Limits
		for _, kind := range kinds {
			if kind.r == r["limits"] {
				limits = kind.limits
			}
		}
		c, err := KaplanMeier(all[k], limits, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		q := c.Quantile(num(t, r["p"]))
		what := strings.Join([]string{r["set"], r["group"], r["limits"], r["p"]}, " ")
		for _, v := range []struct {
			part      string
			got, want float64
		}{{"centre", q.Centre, num(t, r["q"])}, {"lo", q.Lo, num(t, r["lo"])}, {"hi", q.Hi, num(t, r["hi"])}} {
			first := c.Steps[0].Time
			switch {
			case v.part == "lo" && rises(c):
				// R interpolates in a limit that it takes to fall throughout; with
				// late entries it may rise, and R then misses the first crossing.
			case math.IsNaN(v.want) && v.part == "hi" && c.Steps[len(c.Steps)-1].Survival == 0:
			case math.IsNaN(v.want):
				if !math.IsNaN(v.got) && !math.IsInf(v.got, 1) {
					t.Errorf("%s %s: got %g, R has none", what, v.part, v.got)
				}
			case v.part == "lo" && v.got == 0 && v.want >= first:
				// R holds that nothing can have failed before the first failure; where the
				// exact bound there lies under 1-p, ours does not.
				for _, s := range c.Steps {
					if s.Survival == 1 && s.Lo > 1-num(t, r["p"]) {
						t.Errorf("%s lo: 0 while %.3f still work at %g at least", what, s.Lo, s.Time)
					}
				}
			default:
				near(t, what+" "+v.part, v.got, v.want, 1e-12)
			}
		}
	}
}

func rises(c Curve) bool {
	last := 1.0
	for _, s := range c.Steps {
		if s.Survival < 1 && s.Lo > last {
			return true
		}
		if s.Survival < 1 {
			last = s.Lo
		}
	}
	return false
}

// Published and computed values kept with the project: NIST/SEMATECH
// e-Handbook 8.2.1.5.
func TestKaplanMeierNIST8215(t *testing.T) {
	c, err := KaplanMeier(sets(t)[[2]string{"nist8215", "all"}], LogLog, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	want := [][4]float64{ // time, survival, log-log limits
		{10, .95, .6947431933, .9928022286}, {32, .90, .6560307073, .9740101744}, {56, .8470588235, .5967951788, .9480246414},
		{98, .7941176471, .5396804825, .9174480771}, {122, .7373949580, .4782409688, .8817849130},
		{181, .6703590527, .4033765948, .8384648940}}
	for _, w := range want {
		e := c.At(w[0])
		near(t, "survival", e.Centre, w[1], 1e-9)
		near(t, "lo", e.Lo, w[2], 1e-8)
		near(t, "hi", e.Hi, w[3], 1e-8)
	}
}

// Without censoring the beta product is the mid-p exact binomial limit: the p at which
// P(X < x) + P(X = x)/2 is 0.975 or 0.025.
func TestBetaProductIsBinomialWithoutCensoring(t *testing.T) {
	var units []Unit
	for i := 1; i <= 20; i++ {
		units = append(units, Unit{Exit: float64(i), Failed: true})
	}
	c, err := KaplanMeier(units, BetaProduct, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	for x := 1; x < 20; x++ {
		s := c.Steps[x-1]
		tail := func(survival float64) float64 { // mid-p chance of this many failures or fewer
			b := distuv.Binomial{N: 20, P: 1 - survival}
			return b.CDF(float64(x-1)) + b.Prob(float64(x))/2
		}
		near(t, "upper limit", tail(s.Hi), 0.975, 1e-6)
		near(t, "lower limit", tail(s.Lo), 0.025, 1e-6)
	}
	// None failed: the exact one-sided bound, 0.05^(1/20).
	near(t, "no failures", c.At(0.5).Lo, math.Pow(0.05, 1.0/20), 1e-9)
}

// Against simulated products of beta variables (testdata/reference.py). The moments are
// matched, the quantiles only nearly.
func TestBetaProductAsSimulated(t *testing.T) {
	b := newBand(BetaProduct, 0.95)
	for _, r := range table(t, "beta_scipy.csv") {
		b.add(int(num(t, r["at_risk"])), int(num(t, r["failed"])))
		lo, hi := b.limits(int(num(t, r["left"])))
		if math.Abs(lo-num(t, r["lo"])) > 0.006 || math.Abs(hi-num(t, r["hi"])) > 0.006 {
			t.Errorf("at risk %s: got %.4f to %.4f, simulated %s to %s", r["at_risk"], lo, hi, r["lo"], r["hi"])
		}
	}
}

func TestLimitsWithoutError(t *testing.T) {
	aml := sets(t)[[2]string{"aml", "Nonmaintained"}]
	for _, kind := range []Limits{Plain, Log, LogLog, BetaProduct} {
		c, err := KaplanMeier(aml, kind, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		last := c.Steps[len(c.Steps)-1]
		if last.Survival != 0 || last.SE != 0 || last.Lo != 0 || !(last.Hi > 0 && last.Hi < 1) {
			t.Errorf("%v: at 0 the limits are %+v", kind, last)
		}
		if e := c.At(1); e.Centre != 1 || e.Hi != 1 || !(e.Lo > 0.7 && e.Lo < 1) {
			t.Errorf("%v: before the first failure %+v", kind, e)
		}
	}
}

func TestFewUnits(t *testing.T) {
	empty, err := KaplanMeier(nil, LogLog, 0.95)
	if err != nil || empty.At(100).Known() || empty.Quantile(0.5).Known() || len(empty.Warnings) == 0 {
		t.Errorf("no units: %+v %v", empty, err)
	}
	one, err := KaplanMeier([]Unit{{Exit: 900, Failed: true}}, LogLog, 0.95)
	if err != nil || one.Quantile(0.5).Centre != 900 || one.At(900).Centre != 0 {
		t.Errorf("one unit: %+v %v", one, err)
	}
	none, err := KaplanMeier([]Unit{{Exit: 900}, {Exit: 800}}, LogLog, 0.95)
	if err != nil || none.At(850).Centre != 1 || none.At(850).Lo > 0.5 || none.Quantile(0.1).Known() {
		t.Errorf("no failures: %+v %v", none, err)
	}
	if q := none.Quantile(0.1); !strings.Contains(q.Warnings[0], "0.0 % had failed") {
		t.Errorf("no failures: said %q", q.Warnings)
	}
	dead, err := KaplanMeier([]Unit{{Exit: 0, Failed: true}, {Exit: 10}, {Exit: 10}, {Exit: 10}}, LogLog, 0.95)
	if err != nil || dead.At(0).Centre != 0.75 {
		t.Errorf("dead on arrival: %+v %v", dead, err)
	}
	lost, err := KaplanMeier([]Unit{{Exit: 5, Failed: true}, {Entry: 10, Exit: 20}, {Entry: 10, Exit: 15, Failed: true}},
		LogLog, 0.95)
	if err != nil || len(lost.Warnings) == 0 || !strings.Contains(lost.Warnings[0], "later age") {
		t.Errorf("lost curve: %+v %v", lost, err)
	}
	from, err := KaplanMeierFrom([]Unit{{Exit: 5, Failed: true}, {Entry: 10, Exit: 20},
		{Entry: 10, Exit: 15, Failed: true}}, 10, LogLog, 0.95)
	if err != nil || from.At(15).Centre != 0.5 {
		t.Errorf("from 10: %+v %v", from, err)
	}
}

func TestBadUnits(t *testing.T) {
	for _, u := range []Unit{{Entry: -1, Exit: 3}, {Entry: 5, Exit: 3}, {Exit: math.NaN()}, {Exit: math.Inf(1)},
		{Entry: 3, Exit: 3, Failed: true}} {
		_, err := KaplanMeier([]Unit{{Exit: 3}, u}, LogLog, 0.95)
		if err == nil || !strings.HasPrefix(err.Error(), "unit 2: ") {
			t.Errorf("%+v: %v", u, err)
		}
	}
	if _, err := KaplanMeier(nil, LogLog, 95); err == nil {
		t.Error("level 95 passed")
	}
}

// units draws a fleet with ties, truncation and censoring.
func drawUnits(rt *rapid.T) []Unit {
	return rapid.SliceOfN(rapid.Custom(func(rt *rapid.T) Unit {
		e := rapid.SampledFrom([]float64{0, 0, 0, 100, 250, 700}).Draw(rt, "entry")
		return Unit{Entry: e, Exit: e + float64(rapid.IntRange(1, 30).Draw(rt, "watch")*50),
			Failed: rapid.Bool().Draw(rt, "failed")}
	}), 0, 40).Draw(rt, "units")
}

func TestCurveProperties(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		units := drawUnits(rt)
		kind := rapid.SampledFrom([]Limits{Plain, Log, LogLog, BetaProduct}).Draw(rt, "limits")
		c, err := KaplanMeier(units, kind, 0.9)
		if err != nil {
			rt.Fatal(err)
		}
		last, failures := 1.0, 0
		for _, s := range c.Steps {
			if s.Survival > last || s.Lo > s.Survival+1e-12 || s.Hi < s.Survival-1e-12 || s.Lo < 0 || s.Hi > 1 ||
				s.AtRisk < s.Failed {
				rt.Fatalf("step %+v after %g", s, last)
			}
			last = s.Survival
			failures += s.Failed
		}
		if failures != c.Failures {
			rt.Fatalf("%d failures in steps, %d said", failures, c.Failures)
		}
		rev := append([]Unit(nil), units...)
		rand.New(rand.NewPCG(1, 2)).Shuffle(len(rev), func(i, j int) { rev[i], rev[j] = rev[j], rev[i] })
		c2, _ := KaplanMeier(rev, kind, 0.9)
		for i := range c.Steps {
			if c.Steps[i] != c2.Steps[i] {
				rt.Fatalf("order matters: %+v, %+v", c.Steps[i], c2.Steps[i])
			}
		}
		for _, p := range []float64{0.1, 0.5, 0.9} {
			if q := c.Quantile(p); q.Known() && (q.Lo > q.Centre || q.Hi < q.Centre) {
				rt.Fatalf("B%g %+v", 100*p, q)
			}
		}
	})
}
