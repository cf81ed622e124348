package survival

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Against R's survdiff (ties, 2 and 4 groups) and, for late entries, coxph's
// score test (testdata/reference.R).
func TestLogRankAsR(t *testing.T) {
	all := sets(t)
	groups := map[string][]Group{}
	rows := table(t, "logrank_r.csv")
	for _, r := range rows {
		groups[r["set"]] = append(groups[r["set"]], Group{r["group"], all[[2]string{r["set"], r["group"]}]})
	}
	index := map[string]int{}
	for _, r := range rows {
		c, err := LogRank(groups[r["set"]])
		if err != nil {
			t.Fatal(err)
		}
		g := c.Groups[index[r["set"]]]
		index[r["set"]]++
		near(t, r["set"]+" chi2", c.Chi2, num(t, r["chisq"]), 1e-8)
		near(t, r["set"]+" P", c.P, num(t, r["p"]), 1e-8)
		near(t, r["set"]+" df", float64(c.DF), num(t, r["df"]), 0)
		near(t, r["set"]+" observed", float64(g.Observed), num(t, r["observed"]), 0)
		if e := num(t, r["expected"]); !math.IsNaN(e) {
			near(t, r["set"]+" expected", g.Expected, e, 1e-10)
		}
	}
	c, _ := LogRank(groups["aml"])
	near(t, "aml chi2", c.Chi2, 3.396389, 1e-6) // the project's published list
}

func TestLogRankTooSmall(t *testing.T) {
	f, w := func(x float64) Unit { return Unit{Exit: x, Failed: true} }, func(x float64) Unit { return Unit{Exit: x} }
	for _, v := range []struct {
		groups []Group
		word   string
	}{
		{nil, "nothing to compare"},
		{[]Group{{"a", []Unit{f(3)}}, {"b", nil}}, "nothing to compare"},
		{[]Group{{"a", []Unit{w(3)}}, {"b", []Unit{w(4)}}}, "no failures"},
		{[]Group{{"a", []Unit{f(3), f(4)}}, {"b", []Unit{w(4), f(5)}}}, "too small"},
		{[]Group{{"a", []Unit{f(3), f(4)}}, {"b", []Unit{{Entry: 10, Exit: 15, Failed: true}}}},
			"never under watch at one age"},
	} {
		c, err := LogRank(v.groups)
		if err != nil || c.Enough || !strings.Contains(c.Say, v.word) || math.IsNaN(c.P) {
			t.Errorf("%+v %v, want %q", c, err, v.word)
		}
	}
}

// The order and the names of groups change nothing, nor does a group without
// units.
func TestLogRankProperties(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		a, b, c := drawUnits(rt), drawUnits(rt), drawUnits(rt)
		x, err := LogRank([]Group{{"a", a}, {"b", b}, {"c", c}, {"d", nil}})
		if err != nil {
			rt.Fatal(err)
		}
		y, _ := LogRank([]Group{{"c", c}, {"a", a}, {"b", b}})
		if x.DF != y.DF || math.Abs(x.Chi2-y.Chi2) > 1e-6*(1+x.Chi2) || x.P < 0 || x.P > 1 || x.Say == "" {
			rt.Fatalf("%+v, %+v", x, y)
		}
		o, e := 0.0, 0.0
		for _, g := range x.Groups {
			o, e = o+float64(g.Observed), e+g.Expected
		}
		if x.DF > 0 && math.Abs(o-e) > 1e-9 {
			rt.Fatalf("%g observed, %g expected in all", o, e)
		}
	})
}

func TestPlotPoints(t *testing.T) {
	// Johnson's adjusted ranks: failures at 1 and 3 of four, one censored at 2:
	// ranks 1 and 1+(5-1)/(1+2) = 2.333, worked by hand.
	p, how, err := PlotPoints([]Unit{{Exit: 3, Failed: true}, {Exit: 1, Failed: true}, {Exit: 2}, {Exit: 4}})
	if err != nil || len(p) != 2 || !strings.Contains(how, "median rank") {
		t.Fatal(p, how, err)
	}
	near(t, "first", p[0].Failed, 0.7/4.4, 1e-12)
	near(t, "second", p[1].Failed, (7.0/3-0.3)/4.4, 1e-12)
	p, how, _ = PlotPoints([]Unit{{Entry: 0.5, Exit: 3, Failed: true}, {Exit: 1, Failed: true}, {Exit: 2}, {Exit: 4}})
	if !strings.Contains(how, "Kaplan-Meier") {
		t.Error(how)
	}
	near(t, "first, late entry", p[0].Failed, 0.125, 1e-12)
	near(t, "second, late entry", p[1].Failed, 1-(0.75+0.375)/2, 1e-12)
}
