package survival

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Against R's multi-state survfit (testdata/reference.R). With late entries R's
// jackknife differs a little from the delta method.
func TestIncidenceAsR(t *testing.T) {
	data := map[string][]Ending{}
	for _, r := range table(t, "ends.csv") {
		data[r["set"]] = append(data[r["set"]], Ending{num(t, r["entry"]), num(t, r["exit"]), int(num(t, r["cause"]))})
	}
	curves := map[string]Incidences{}
	for k, d := range data {
		c, err := Incidence(d, 2, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		curves[k] = c
	}
	for _, r := range table(t, "ends_r.csv") {
		for cause, name := range []string{"dark", "faded"} {
			time := num(t, r["time"])
			e := curves[r["set"]].At(time, cause+1)
			what := r["set"] + " " + name + " at " + r["time"]
			near(t, what, e.Centre, num(t, r[name]), 1e-10)
			if e.Centre == 0 {
				continue
			}
			rel := 1e-8
			if r["set"] == "late" {
				rel = 0.05
			}
			near(t, what+" lo", e.Lo, num(t, r[name+"_lo"]), rel)
			near(t, what+" hi", e.Hi, num(t, r[name+"_hi"]), rel)
		}
	}
}

// All shares and the share still working make one, and with one cause the share is that of
// Kaplan-Meier with Greenwood's error.
func TestIncidenceProperties(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		units := drawUnits(rt)
		var one, two []Ending
		for _, u := range units {
			c := 0
			if u.Failed {
				c = 1
			}
			one = append(one, Ending{u.Entry, u.Exit, c})
			two = append(two, Ending{u.Entry, u.Exit, c * rapid.IntRange(1, 2).Draw(rt, "cause")})
		}
		km, _ := KaplanMeier(units, LogLog, 0.9)
		a, err := Incidence(one, 1, 0.9)
		if err != nil {
			rt.Fatal(err)
		}
		b, err := Incidence(two, 2, 0.9)
		if err != nil {
			rt.Fatal(err)
		}
		i := 0
		for _, s := range km.Steps {
			if s.Failed == 0 {
				continue
			}
			if i >= len(a.Steps) {
				rt.Fatalf("%d steps", len(a.Steps))
			}
			x, y := a.Steps[i], b.Steps[i]
			i++
			if math.Abs(x.Share[0]-1+s.Survival) > 1e-9 || (s.Survival > 0 && math.Abs(x.SE[0]-s.SE) > 1e-6) {
				rt.Fatalf("%+v, Kaplan-Meier %+v", x, s)
			}
			if math.Abs(y.Share[0]+y.Share[1]-1+s.Survival) > 1e-9 {
				rt.Fatalf("%+v, working %g", y, s.Survival)
			}
			for c := range y.Share {
				if !(y.Lo[c] <= y.Share[c]+1e-9 && y.Share[c] <= y.Hi[c]+1e-9 && y.Lo[c] >= 0 && y.Hi[c] <= 1) {
					rt.Fatalf("%+v", y)
				}
			}
		}
	})
}

func TestIncidenceFew(t *testing.T) {
	none, err := Incidence(nil, 2, 0.95)
	if err != nil || none.At(3, 1).Known() {
		t.Error(none, err)
	}
	quiet, err := Incidence([]Ending{{Exit: 10}, {Exit: 10}}, 2, 0.95)
	if e := quiet.At(5, 2); err != nil || e.Centre != 0 || !(e.Hi > 0.7 && e.Hi < 0.8) { // 1 - 0.05^(1/2)
		t.Errorf("%+v %v", e, err)
	}
	if _, err := Incidence([]Ending{{Exit: 3, Cause: 5}}, 2, 0.95); err == nil {
		t.Error("cause 5 of 2 passed")
	}
}
