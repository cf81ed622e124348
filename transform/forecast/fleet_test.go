package forecast_test

import (
	"encoding/json"
	"math"
	"runtime"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"wane/transform/forecast"
	"wane/transform/simfleet"
)

func small(seed uint64) *simfleet.Fleet {
	return simfleet.New(simfleet.Options{Seed: seed, Fixtures: 40, Days: 1200})
}

func run(t testing.TB, in *forecast.Input) *forecast.Fit {
	t.Helper()
	fit, err := forecast.Run(in, forecast.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return fit
}

func TestSameBitsOnAnyNumberOfCores(t *testing.T) {
	f := small(3)
	old := runtime.GOMAXPROCS(1)
	a := run(t, &f.Input).Posteriors()
	runtime.GOMAXPROCS(4)
	b := run(t, &f.Input).Posteriors()
	runtime.GOMAXPROCS(old)
	if d := cmp.Diff(a, b); d != "" {
		t.Errorf("one core and four differ:\n%s", d)
	}
}

// A stored posterior answers as the fit does.
func TestStoredPosteriorAnswersAlike(t *testing.T) {
	f := small(4)
	fit := run(t, &f.Input)
	for _, p := range fit.Posteriors() {
		b, err := json.Marshal(p)
		if err != nil {
			t.Fatal(err)
		}
		if len(b) > 12000 {
			t.Errorf("a stored posterior takes %d bytes", len(b))
		}
		var q forecast.Posterior
		if err := json.Unmarshal(b, &q); err != nil {
			t.Fatal(err)
		}
		for _, ask := range []forecast.Asking{{}, {Interval: .9, Threshold: .8, Widen: 1.3}} {
			x, y := p.Answer(fit.Defaults(), ask), q.Answer(fit.Defaults(), ask)
			if x.Reason != y.Reason || !same(x.DueHours.Centre, y.DueHours.Centre) || !same(x.DueHours.Hi, y.DueHours.Hi) ||
				!same(x.DueDay.Lo, y.DueDay.Lo) {
				t.Fatalf("%s: %+v, stored %+v", p.Fixture, x, y)
			}
		}
	}
}

func same(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }

// Nothing dated after the origin is used: a ruined future changes no bit.
func TestNoPeeking(t *testing.T) {
	f := small(5)
	day := f.Input.AsOf - 500
	before := f.Input.Truncate(day)
	want := run(t, &before).Posteriors()
	for i := range f.Input.Lamps {
		l := &f.Input.Lamps[i]
		for k := range l.Bins {
			if l.Bins[k].Day+3 > day {
				l.Bins[k].LnOut -= 1
				l.Bins[k].Supply = 1
			}
		}
		for k := range l.Cleanings {
			if l.Cleanings[k].Day > day {
				l.Cleanings[k].Part = forecast.CleanLamp
			}
		}
	}
	for k := range f.Input.Groups {
		for j := range f.Input.Groups[k].Recals {
			if r := &f.Input.Groups[k].Recals[j]; r.Day > day {
				r.AsFound = .5
			}
		}
	}
	after := f.Input.Truncate(day)
	if d := cmp.Diff(want, run(t, &after).Posteriors()); d != "" {
		t.Errorf("the future leaked:\n%s", d)
	}
}

func TestEveryAnswerIsWhole(t *testing.T) {
	seen := map[forecast.Status]int{}
	for seed := uint64(601); seed <= 606; seed++ {
		f := simfleet.New(simfleet.Options{Seed: seed, Fixtures: 60, Days: 1500, NeverRecalibrated: seed%2 == 0})
		fit := run(t, &f.Input)
		for _, a := range fit.Answers(forecast.Asking{}) {
			seen[a.Status]++
			h := a.DueHours
			switch a.Status {
			case forecast.StatusForecast:
				if !(h.Lo <= h.Centre && h.Centre <= h.Hi) || !h.Bounded() || !a.DueDay.Bounded() ||
					!(a.DueDay.Lo <= a.DueDay.Centre && a.DueDay.Centre <= a.DueDay.Hi) {
					t.Errorf("forecast out of order: %+v %+v", h, a.DueDay)
				}
			case forecast.StatusBeyond:
				if !math.IsNaN(h.Centre) || !math.IsInf(h.Hi, 1) || !(h.Lo > 0) || math.IsNaN(a.DueDay.Lo) {
					t.Errorf("beyond claims more than a bound: %+v", h)
				}
			case forecast.StatusTooEarly:
				if a.Expected <= f.Input.AsOf && f.Input.Lamps[a.Lamp].Burn.PerDay > 0 {
					t.Errorf("too early, but no day from which an answer can be expected: %+v", a)
				}
			case forecast.StatusInseparable:
				if len(a.Identity.Cannot) == 0 || a.Identity.Settle == "" ||
					!(strings.Contains(a.Reason, "drift") || strings.Contains(a.Reason, "dirt") || a.Unread) {
					t.Errorf("inseparable without what would settle it: %+v", a)
				}
			}
			if a.Status != forecast.StatusForecast && a.Reason == "" {
				t.Errorf("%s without a reason", a.Status)
			}
			if a.Status != forecast.StatusNoData && a.Status != forecast.StatusDark {
				for _, e := range []float64{a.Level.Centre, a.Level.Lo, a.Level.Hi, a.Decline.Lamp.Centre, a.Decline.Dirt.Centre,
					a.Decline.Sensor.Centre} {
					if math.IsNaN(e) || math.IsInf(e, 0) {
						t.Errorf("level or share not finite: %+v", a)
					}
				}
			}
		}
	}
	for _, s := range []forecast.Status{forecast.StatusForecast, forecast.StatusBeyond, forecast.StatusTooEarly,
		forecast.StatusInseparable} {
		if seen[s] == 0 {
			t.Errorf("no lamp was answered %q: %v", s, seen)
		}
	}
}

// A wider interval holds the narrower one, and a widened one too.
func TestIntervalsNest(t *testing.T) {
	f := small(7)
	fit := run(t, &f.Input)
	for _, p := range fit.Posteriors() {
		a, b := p.Cross(p.Threshold, 1), p.Cross(p.Threshold, 2)
		if b.Lo > a.Lo || a.Lo > a.Centre || a.Centre > a.Hi || a.Hi > b.Hi || a.Centre != b.Centre {
			t.Fatalf("%s: %+v in %+v", p.Fixture, a, b)
		}
		if lower := p.Cross(p.Threshold+.03, 1); lower.Centre > a.Centre {
			t.Fatalf("%s: a higher threshold is crossed later", p.Fixture)
		}
	}
}

func TestUnderDarkNoDataTooEarly(t *testing.T) {
	f := small(8)
	in := f.Input
	in.Lamps = append([]forecast.Lamp(nil), in.Lamps...)
	live := []int{}
	for i := range in.Lamps {
		if !in.Lamps[i].Ended && !in.Lamps[i].Dark && in.Lamps[i].HoursNow > 2000 {
			live = append(live, i)
		}
	}
	in.Lamps[live[0]].Dark = true
	in.Lamps[live[1]].Bins = nil
	in.Lamps[live[2]].HoursNow = 600
	in.Lamps[live[3]].Threshold = .9999
	by := map[int]forecast.Answer{}
	for _, a := range run(t, &in).Answers(forecast.Asking{}) {
		by[a.Lamp] = a
	}
	for k, want := range []forecast.Status{forecast.StatusDark, forecast.StatusNoData, forecast.StatusTooEarly,
		forecast.StatusUnder} {
		if got := by[live[k]]; got.Status != want || got.Reason == "" {
			t.Errorf("lamp %d: %s (%s), want %s", live[k], got.Status, got.Reason, want)
		}
	}
}

func TestBacktestScoresAllMethodsOnTheSameRows(t *testing.T) {
	f := simfleet.New(simfleet.Options{Seed: 9, Fixtures: 40})
	rows, err := forecast.Backtest(&f.Input, forecast.BacktestOptions{Every: 365})
	if err != nil {
		t.Fatal(err)
	}
	n := map[string]int{}
	for _, r := range rows {
		if r.On == forecast.OnCrossing {
			n[r.Method]++
			if r.Actual <= r.Hours {
				t.Errorf("asked after the crossing: %+v", r)
			}
		}
	}
	for _, m := range forecast.PlainMethods {
		if n[m] != n[forecast.Method] || n[m] == 0 {
			t.Errorf("%s on %d rows, pooled model on %d", m, n[m], n[forecast.Method])
		}
	}
	for _, l := range forecast.Summarise(rows) {
		if l.Answered > l.N || l.Within20 < 0 || l.Within20 > 1 {
			t.Errorf("line out of bounds: %+v", l)
		}
		if l.On == forecast.OnLevel && l.Class == "all" && l.Method == forecast.Method && l.Held < .6 {
			t.Errorf("levels 1,000 h on: intervals hold %.2f", l.Held)
		}
	}
}

func TestCalibrateWidensWhatHeldTooSeldom(t *testing.T) {
	var rows []forecast.Scored
	add := func(lamp int, actual float64) {
		rows = append(rows, forecast.Scored{Lamp: lamp, Method: forecast.Method, On: forecast.OnCrossing,
			Said: forecast.Crossing{Centre: 10000, Lo: 9000, Hi: 11111}, Actual: actual})
	}
	for k := 0; k < 100; k++ {
		add(k, 10000*math.Exp(.3*(float64(k)/99-.5)*2)) // evenly out to ±0.3, claimed ±0.105 for 80 %
	}
	c := forecast.Calibrate(rows, .8)
	if c.Widen < 1.4 || c.Widen > 2.3 || !strings.Contains(c.Note, "widened") {
		t.Errorf("got %+v", c)
	}
	if c := forecast.Calibrate(rows[:20], .8); c.Widen != 1 || c.Note != "" {
		t.Errorf("twenty lamps moved the intervals: %+v", c)
	}
}

// A fleet's intervals may hold as claimed while those of one lamp type do not: these are
// widened, the others are left, and a record that is too good narrows nothing.
func TestCalibrateByLampType(t *testing.T) {
	var rows []forecast.Scored
	add := func(lamp int, class string, out float64) {
		rows = append(rows, forecast.Scored{Lamp: lamp, Class: class, Method: forecast.Method, On: forecast.OnCrossing,
			Said: forecast.Crossing{Centre: 10000, Lo: 9000, Hi: 11111}, Actual: 10000 * math.Exp(out)})
	}
	for k := range 60 { // 80 % lie within ±.8 of the ends: claimed is ±.105
		x := (float64(k)/59 - .5) * 2
		add(k, forecast.HPSDE, .08*x)
		if k < 40 {
			add(100+k, forecast.CMH, .3*x)
		}
	}
	c := forecast.Calibrate(rows, .8).NoNarrower()
	ask := forecast.Asking{}.Recorded(c)
	wide := c.Types[forecast.CMH]
	if wide.Widen < 1.2 || wide.Widen <= c.Widen || !strings.Contains(wide.Note, forecast.CMH) {
		t.Errorf("cmh: %+v of %+v", wide, c)
	}
	if of, ok := c.Types[forecast.HPSDE]; ok && of.Widen != 1 {
		t.Errorf("hps-de: %+v", of)
	}
	d := forecast.DefaultTable()
	for _, q := range run(t, steady()).Posteriors() {
		is := q.Answer(d, ask).Level
		was := q.Answer(d, forecast.Asking{Widen: c.Widen}).Level
		if wider := is.Hi-is.Lo > was.Hi-was.Lo; wider != (q.Class == forecast.CMH) {
			t.Errorf("%s %s: level %v to %v, without its type's record %v to %v", q.Class, q.Fixture, is.Lo, is.Hi, was.Lo, was.Hi)
		}
	}
}
