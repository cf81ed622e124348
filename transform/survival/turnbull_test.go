package survival

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Against R (testdata/reference.R): its survfit of interval2, which stops when
// the curve moves by less than 5e-5, and, with late entry too, the likelihood
// maximised directly by optim.
func TestTurnbullAsR(t *testing.T) {
	units := map[string][]Unit{}
	for _, r := range table(t, "visits.csv") {
		units[r["set"]] = append(units[r["set"]], Unit{Entry: num(t, r["entry"]), Exit: num(t, r["exit"]),
			Failed: r["failed"] == "1", Gap: num(t, r["gap"])})
	}
	worst := map[string]float64{}
	for _, r := range table(t, "visits_r.csv") {
		c, err := Turnbull(units[r["set"]], 0, LogLog, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		got := c.At(num(t, r["time"]) + 0.01).Centre // its times are rounded
		k := r["set"] + " by " + r["by"]
		worst[k] = max(worst[k], math.Abs(got-num(t, r["surv"])))
	}
	if len(worst) != 5 {
		t.Errorf("compared %v", worst)
	}
	for k, d := range worst {
		t.Logf("%s: %.1e", k, d)
		if most := map[bool]float64{true: 2e-3, false: 1e-4}[strings.HasSuffix(k, "survfit")]; d > most {
			t.Errorf("%s: the curve is off by %g", k, d)
		}
	}
}

// The maximum shows itself: no move of mass raises the likelihood. The
// derivative for the mass of each innermost interval, less the number of units,
// is 0 where it holds mass and not above 0 elsewhere (Gentleman and Geyer 1994,
// Biometrika 81:618-623). Without late entry.
func TestTurnbullIsTheMaximum(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		units := drawFound(rt, false)
		e := newSelfConsistent(units)
		e.run()
		c, err := Turnbull(units, 0, LogLog, 0.9)
		if err != nil {
			rt.Fatal(err)
		}
		at := func(age float64) float64 { return c.At(age).Centre }
		for _, p := range e.at {
			mid, derivative := (p.lo+p.hi)/2, 0.0
			for _, u := range units {
				lo := u.Exit - u.Gap
				switch {
				case !u.Failed && u.Exit < p.hi:
					derivative += 1 / at(u.Exit)
				case u.Failed && u.Gap == 0 && p.lo == u.Exit && p.hi == u.Exit:
					derivative += 1 / (at(math.Nextafter(u.Exit, 0)) - at(u.Exit))
				case u.Failed && u.Gap > 0 && lo <= p.lo && p.hi <= u.Exit && (lo < p.hi):
					derivative += 1 / (at(lo) - at(u.Exit))
				}
			}
			mass := at(math.Nextafter(mid, 0)) - at(mid)
			over := derivative/float64(len(units)) - 1
			if over > 1e-3 || mass > 1e-3 && over < -1e-3 {
				rt.Fatalf("at %v, mass %g: the derivative is off by %g of %d", p, mass, over, len(units))
			}
		}
	})
}

// Without gaps it is Kaplan and Meier's curve, late entry and all: the EM itself, not the
// short way round it.
func TestTurnbullOfExactAgesIsKaplanMeier(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		units := drawUnits(rt)
		km, err := KaplanMeier(units, LogLog, 0.9)
		if err != nil {
			rt.Fatal(err)
		}
		e := newSelfConsistent(units)
		if !e.run() {
			rt.Fatal("not settled")
		}
		var c Curve
		c.steps(e, 0)
		for _, s := range km.Steps {
			if s.Survival == 0 {
				break
			}
			working := 1.0
			for _, x := range c.Steps {
				if x.Time <= s.Time {
					working = x.Survival
				}
			}
			if math.Abs(working-s.Survival) > 1e-7 {
				rt.Fatalf("at %g: %g, Kaplan-Meier %g", s.Time, working, s.Survival)
			}
		}
	})
}

// drawFound draws lamps looked at now and then.
func drawFound(rt *rapid.T, late bool) []Unit {
	var out []Unit
	for range rapid.IntRange(2, 25).Draw(rt, "units") {
		u := Unit{Exit: float64(rapid.IntRange(1, 30).Draw(rt, "exit")), Failed: rapid.Bool().Draw(rt, "failed")}
		if late && rapid.Bool().Draw(rt, "late") {
			u.Entry = u.Exit - float64(rapid.IntRange(1, int(u.Exit)).Draw(rt, "watched"))
		}
		if u.Failed {
			u.Gap = float64(rapid.IntRange(0, int(u.Exit-u.Entry)).Draw(rt, "gap"))
		}
		out = append(out, u)
	}
	return out
}

func TestTurnbullProperties(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		units := drawFound(rt, true)
		from := float64(rapid.IntRange(0, 5).Draw(rt, "from"))
		c, err := Turnbull(units, from, LogLog, 0.9)
		if err != nil {
			rt.Fatal(err)
		}
		turned := make([]Unit, len(units))
		for i, u := range units {
			turned[len(units)-1-i] = u
		}
		back, _ := Turnbull(turned, from, LogLog, 0.9)
		last := 1.0
		for i, s := range c.Steps {
			if !(s.Survival >= 0) || s.Survival > last+1e-12 || !(s.Lo <= s.Survival && s.Survival <= s.Hi) || s.SE < 0 {
				rt.Fatalf("%+v after %g", s, last)
			}
			if len(back.Steps) != len(c.Steps) || math.Abs(back.Steps[i].Survival-s.Survival) > 1e-9 {
				rt.Fatalf("another order: %+v, %+v", s, back.Steps)
			}
			last = s.Survival
		}
	})
}

// Visits every 1,500 h to lamps that enter late: the day found, taken for the
// age of failure, makes lamps look better than they are; Turnbull's does not, and its
// limits hold.
func TestTurnbullOfVisitsTellsTheTruth(t *testing.T) {
	const beta, eta, runs, every = 2.0, 6000.0, 80, 1500.0
	r := rand.New(rand.NewPCG(20253, 1))
	ages := []float64{2000, 4000, 6000}
	off, offFound := map[float64]float64{}, map[float64]float64{}
	held := 0
	for range runs {
		var units, found []Unit
		for len(units) < 100 {
			life, entry, end := eta*math.Sqrt(-math.Log(1-r.Float64())), max(0, 4000*r.Float64()-2000), 3000+6000*r.Float64()
			if life <= entry || end <= entry {
				continue
			}
			hi := entry + every*r.Float64()
			lo := entry
			for hi < life && hi <= end {
				lo, hi = hi, hi+every
			}
			u := Unit{Entry: entry, Exit: hi, Failed: true, Gap: hi - lo}
			if hi > end {
				u = Unit{Entry: entry, Exit: lo} // last seen working
			}
			units = append(units, u)
			u.Gap = 0
			found = append(found, u)
		}
		c, err := Turnbull(units, 0, LogLog, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		k, _ := Turnbull(found, 0, LogLog, 0.95)
		for _, a := range ages {
			truth, e := math.Exp(-math.Pow(a/eta, beta)), c.At(a)
			off[a] += (e.Centre - truth) / runs
			offFound[a] += (k.At(a).Centre - truth) / runs
			if e.Lo <= truth && truth <= e.Hi {
				held++
			}
		}
	}
	for _, a := range ages {
		t.Logf("at %g h: off by %+.3f, by the day found %+.3f", a, off[a], offFound[a])
		if math.Abs(off[a]) > 0.02 || offFound[a] < 0.04 {
			t.Errorf("at %g h: off by %+.3f, by the day found %+.3f", a, off[a], offFound[a])
		}
	}
	share := float64(held) / (runs * float64(len(ages)))
	t.Logf("95 %% limits hold in %.3f", share)
	if share < 0.95 {
		t.Errorf("95 %% limits hold in %.3f", share)
	}
}

func TestTurnbullSaysWhatIsWrong(t *testing.T) {
	for _, u := range []Unit{{Exit: 5, Failed: true, Gap: 6}, {Entry: 3, Exit: 5, Failed: true, Gap: 2.5},
		{Exit: 5, Gap: 1}, {Exit: 5, Failed: true, Gap: -1}, {Exit: 5, Failed: true, Gap: math.NaN()}} {
		if _, err := Turnbull([]Unit{u}, 0, LogLog, 0.95); err == nil || !strings.Contains(err.Error(), "unit 1: gap") {
			t.Errorf("%+v: %v", u, err)
		}
	}
	// All found failed: nothing came under watch later, and none is told of.
	c, err := Turnbull([]Unit{{Exit: 900, Failed: true, Gap: 300}, {Exit: 1200, Failed: true, Gap: 300}}, 0, LogLog, 0.95)
	if n := len(c.Steps); err != nil || n != 2 || c.Steps[1].Survival != 0 || len(c.Warnings) != 1 {
		t.Errorf("%+v %v", c, err)
	}
	c, err = Turnbull([]Unit{{Exit: 900, Failed: true, Gap: 300}, {Exit: 1200}}, 0, LogLog, 0.95)
	if err != nil || !strings.Contains(strings.Join(c.Warnings, "; "), "1 of the failures are known only") ||
		!strings.HasPrefix(c.At(900).Method, "Turnbull") {
		t.Errorf("%+v %v", c, err)
	}
}
