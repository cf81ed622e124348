package survival

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Nelson's valve seats, 41 engines with ties, and the same with half the engines
// seen from day 150 only, against R's survfit with id (testdata/reference.R).
// R's rows need distinct times, so a second replacement on one day stands 0.001 d later.
func TestMCFAsR(t *testing.T) {
	byID := map[string]map[string]*Position{}
	for _, r := range table(t, "mcf_data.csv") {
		if byID[r["set"]] == nil {
			byID[r["set"]] = map[string]*Position{}
		}
		m := byID[r["set"]]
		if m[r["id"]] == nil {
			m[r["id"]] = &Position{ID: r["id"]}
		}
		p := m[r["id"]]
		from, to := num(t, r["from"]), num(t, r["to"])
		if n := len(p.Windows); n > 0 && p.Windows[n-1].To == from {
			p.Windows[n-1].To = to
		} else {
			p.Windows = append(p.Windows, Window{from, to})
		}
		if r["event"] == "1" {
			p.Failures = append(p.Failures, to)
		}
	}
	curves := map[string]MCF{}
	for set, m := range byID {
		var ps []Position
		for _, p := range m {
			ps = append(ps, *p)
		}
		c, err := MeanCumulative(ps, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		curves[set] = c
	}
	index := map[string]int{}
	for _, r := range table(t, "mcf_r.csv") {
		if r["n.event"] == "0" {
			continue
		}
		s := curves[r["set"]].Steps[index[r["set"]]]
		index[r["set"]]++
		what := r["set"] + " at " + r["time"]
		near(t, what+" time", s.Time, num(t, r["time"]), 1e-12)
		near(t, what+" mean", s.Mean, num(t, r["mcf"]), 1e-10)
		near(t, what+" se", s.SE, num(t, r["se"]), 1e-8)
	}
	v := curves["valveSeat"]
	if v.Failures != 48 || v.Positions != 41 {
		t.Errorf("valve seats: %d failures at %d engines", v.Failures, v.Positions)
	}
}

func TestMCFFew(t *testing.T) {
	none, err := MeanCumulative(nil, 0.95)
	if err != nil || none.At(5).Known() {
		t.Error(none, err)
	}
	quiet, err := MeanCumulative([]Position{{ID: "a", Windows: []Window{{0, 10}}}, {ID: "b", Windows: []Window{{0, 20}}}},
		0.95)
	if err != nil {
		t.Fatal(err)
	}
	e := quiet.At(10)
	near(t, "no failures", e.Hi, -math.Log(0.05)/2, 1e-9)
	near(t, "no failures, one left", quiet.At(15).Hi, -math.Log(0.05), 1e-9)
	if e.Centre != 0 || len(e.Warnings) == 0 || !math.IsInf(quiet.At(25).Hi, 1) {
		t.Errorf("%+v %+v", e, quiet.At(25))
	}
	one, err := MeanCumulative([]Position{{ID: "a", Windows: []Window{{0, 10}}, Failures: []float64{2, 5, 5}}}, 0.95)
	if err != nil || one.At(6).Centre != 3 || !(one.At(6).Lo > 0.5 && one.At(6).Hi < 9 && one.At(6).Hi > 8) {
		t.Errorf("%+v %v", one.At(6), err)
	}
	for _, p := range []Position{{Windows: []Window{{0, 5}}, Failures: []float64{6}}, {Windows: []Window{{5, 5}}},
		{Windows: []Window{{0, 5}, {4, 8}}}, {Failures: []float64{1}}} {
		p.ID = "X"
		if _, err := MeanCumulative([]Position{p}, 0.9); err == nil || !strings.Contains(err.Error(), "position X") {
			t.Errorf("%+v: %v", p, err)
		}
	}
}

// The fast variance is the sum of squares written out.
func TestMCFVarianceWrittenOut(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(1, 8).Draw(rt, "positions")
		var ps []Position
		for i := 0; i < n; i++ {
			p := Position{ID: "p"}
			at := 0.0
			for k := rapid.IntRange(1, 3).Draw(rt, "windows"); k > 0; k-- {
				from := at + float64(rapid.IntRange(0, 5).Draw(rt, "gap"))
				to := from + float64(rapid.IntRange(1, 9).Draw(rt, "length"))
				p.Windows, at = append(p.Windows, Window{from, to}), to
				for f := rapid.IntRange(0, 2).Draw(rt, "failures"); f > 0; f-- {
					p.Failures = append(p.Failures, from+math.Ceil((to-from)*rapid.Float64Range(0.01, 1).Draw(rt, "when")))
				}
			}
			ps = append(ps, p)
		}
		m, err := MeanCumulative(ps, 0.9)
		if err != nil {
			rt.Fatal(err)
		}
		u := make([]float64, n)
		for _, s := range m.Steps {
			v := 0.0
			for i, p := range ps {
				if p.sees(s.Time) {
					u[i] -= float64(s.Failures) / float64(s.AtRisk) / float64(s.AtRisk)
				}
				for _, f := range p.Failures {
					if f == s.Time {
						u[i] += 1 / float64(s.AtRisk)
					}
				}
				v += u[i] * u[i]
			}
			if math.Abs(math.Sqrt(v)-s.SE) > 1e-6 {
				rt.Fatalf("at %g: %g, written out %g", s.Time, s.SE, math.Sqrt(v))
			}
			if s.Lo > s.Mean || s.Hi < s.Mean {
				rt.Fatalf("%+v", s)
			}
		}
	})
}

// Positions with a rate of their own (gamma, so that failures of one position hang
// together), watched over windows that begin and end anywhere.
func TestMCFCoverage(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 20251))
	const runs = 600
	held := 0
	for k := 0; k < runs; k++ {
		var ps []Position
		for i := 0; i < 80; i++ {
			rate := -math.Log(r.Float64()*r.Float64()) / 2 * 0.3 // gamma of shape 2, mean 0.3 a year
			from := math.Max(0, 3*r.Float64()-1.5)
			p := Position{ID: "p", Windows: []Window{{from, from + 2 + 3*r.Float64()}}}
			for at := from - math.Log(r.Float64())/rate; at <= p.Windows[0].To; at -= math.Log(r.Float64()) / rate {
				p.Failures = append(p.Failures, at)
			}
			ps = append(ps, p)
		}
		m, err := MeanCumulative(ps, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		if e := m.At(3); e.Lo <= 0.9 && 0.9 <= e.Hi {
			held++
		}
	}
	if c := 100 * float64(held) / runs; c < 92 || c > 97.5 {
		t.Errorf("95 %% limits of the mean cumulative function hold in %.1f %%", c)
	}
}
