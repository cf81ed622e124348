package forecast

import (
	"math"
	"strings"
	"testing"

	"wane/transform/estimate"
)

func TestSoilDerivatives(t *testing.T) {
	d := DefaultTable().Dirt
	l := &Lamp{Hung: 0, Cleanings: []Clean{{Day: 100}, {Day: 150, Part: CleanLamp}, {Day: 300, Part: CleanRelamp},
		{Day: 420}}}
	on := func(d DirtDefaults, day int) soiling {
		s := newSoil(l, d, 1000)
		return s.on(day)
	}
	const eps = 1e-5
	for _, day := range []int{10, 99, 100, 140, 200, 299, 301, 420, 600} {
		v := on(d, day)
		up, down := d, d
		up.Days, down.Days = d.Days*math.Exp(eps), d.Days*math.Exp(-eps)
		if num := (on(up, day).level - on(down, day).level) / (2 * eps); math.Abs(num-v.byDays) > 1e-7 {
			t.Errorf("day %d: derivative by ln days %v, numerically %v", day, v.byDays, num)
		}
		up, down = d, d // all leavings move in proportion
		for _, x := range []struct {
			d *DirtDefaults
			f float64
		}{{&up, 1 + eps}, {&down, 1 - eps}} {
			x.d.LeftAll, x.d.LeftPart, x.d.LeftNew = x.d.LeftAll*x.f, x.d.LeftPart*x.f, x.d.LeftNew*x.f
		}
		if num := (on(up, day).level - on(down, day).level) / (2 * eps * d.LeftAll); math.Abs(num-v.byLeft) > 1e-7 {
			t.Errorf("day %d: derivative by share left %v, numerically %v", day, v.byLeft, num)
		}
		if v.level < 0 || v.level > 1 {
			t.Errorf("day %d: dirt %v", day, v.level)
		}
	}
}

// The covariance of the integrated rate against the double integral of
// exp(-|u-v|/m), by the midpoint rule.
func TestWanderCovariance(t *testing.T) {
	for _, c := range [][3]float64{{.2, .2, .15}, {.1, .5, .15}, {1, .3, .08}} {
		s, x, m := c[0], c[1], c[2]
		const n = 800
		sum := 0.0
		for i := 0; i < n; i++ {
			for j := 0; j < n; j++ {
				sum += math.Exp(-math.Abs((float64(i)+.5)*s/n-(float64(j)+.5)*x/n) / m)
			}
		}
		sum *= s * x / n / n
		if got := wanderCov(s, x, m); math.Abs(got-sum) > 1e-5*sum+1e-7 {
			t.Errorf("cov(%v, %v; %v) = %v, by quadrature %v", s, x, m, got, sum)
		}
	}
	if a, b := wanderCov(.4, .4, .15), 2*.15*(.4-.15*(1-math.Exp(-.4/.15))); math.Abs(a-b) > 1e-15 {
		t.Errorf("variance %v, closed form %v", a, b)
	}
}

// Beyond the last knot the stored five numbers give what the full posterior
// of the knots gives.
func TestStoredTailEqualsKriging(t *testing.T) {
	m := newModel(toy(), Options{})
	if err := m.solve(false, true); err != nil {
		t.Fatal(err)
	}
	for _, g := range m.groups {
		for _, l := range g.lamps {
			var p Posterior
			m.posterior(g, l, &p)
			mem := p.Memory
			for _, ahead := range []float64{0, 300, 2000, 20000} {
				h := p.Last + ahead
				x := (h - Seasoning) / 1e4
				n := len(l.kn.x)
				c := make([]float64, n)
				for i, s := range l.kn.x {
					c[i] = wanderCov(s, x, mem)
				}
				w := matVec(l.prec, c, n)
				z := make([]float64, l.p)
				g1, g2, g3 := basis(h, p.Tau, p.Power)
				z[colS], z[colQ], z[colE] = -g1, -g2, g3
				copy(z[colU:], w)
				mean := dot(z, l.fit)
				sd := math.Sqrt(quad(l.cov, z, l.p) + p.WanderSD*p.WanderSD*(wanderCov(x, x, mem)-dot(c, w)))
				gm, gs := p.Output(h)
				if math.Abs(gm-mean) > 1e-9 || math.Abs(gs-sd) > 1e-6*sd+1e-9 {
					t.Errorf("%s at +%v h: %v ± %v, kriging %v ± %v", p.Fixture, ahead, gm, gs, mean, sd)
				}
			}
		}
	}
}

func TestBurnDays(t *testing.T) {
	b := Burn{PerDay: 10, Days: 365}
	if got := b.day(18000, 1000); got != 18100 {
		t.Errorf("1,000 h at 10 h/day: day %v", got)
	}
	// 2020-01-01 is day 18262; 16 h a day in winter half, 2 in summer.
	b.Month = [12]float64{16, 16, 16, 2, 2, 2, 2, 2, 2, 16, 16, 16}
	if got := b.day(18262, 16*31); math.Abs(got-18293) > 1e-9 {
		t.Errorf("January's hours end on day %v", got)
	}
	if !math.IsInf((Burn{}).day(0, 5), 1) {
		t.Error("a room that does not burn has a date")
	}
}

func TestDueDayWidensWithTheHabit(t *testing.T) {
	p := Posterior{AsOf: 18000, HoursNow: 5000, Burn: Burn{PerDay: 10, Days: 365}}
	h := estimate.Estimate{Centre: 9000, Lo: 8000, Hi: 10500, Level: .8}
	d := p.dueDay(h, 1.28, .1)
	if d.Centre != 18400 || d.Lo >= 18300 || d.Hi <= 18550 {
		t.Errorf("got %+v", d)
	}
	p.Burn.Days = 60
	if e := p.dueDay(h, 1.28, .1); e.Lo >= d.Lo || e.Hi <= d.Hi {
		t.Errorf("sixty days of habit give no wider date: %+v against %+v", e, d)
	}
}

func TestDefaultsValidate(t *testing.T) {
	if err := DefaultTable().Validate(); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		spoil func(*Defaults)
		want  string
	}{
		{func(d *Defaults) { d.Classes = nil }, "lamp_types"},
		{func(d *Defaults) { delete(d.Supply, Magnetic) }, "supply.magnetic: missing"},
		{func(d *Defaults) { c := d.Classes[LED]; c.Slope.SD = 0; d.Classes[LED] = c }, "lamp_types.led.slope.sd"},
		{func(d *Defaults) { c := d.Classes[CMH]; c.Tau = -1; d.Classes[CMH] = c }, "lamp_types.cmh.early_hours"},
		{func(d *Defaults) { d.Dirt.LeftAll = 2 }, "dirt.left_all"},
		{func(d *Defaults) { d.Sensor.Drift.Mean = math.NaN() }, "sensor.drift.mean"},
		{func(d *Defaults) { d.Limits.Ratio = 1 }, "limits.ratio"},
	} {
		d := DefaultTable()
		c.spoil(&d)
		if err := d.Validate(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("want an error naming %s, got %v", c.want, err)
		}
	}
}

func TestInputValidate(t *testing.T) {
	for _, c := range []struct {
		spoil func(*Input)
		want  string
	}{
		{func(in *Input) { in.Lamps[0].Class = "torch" }, "fixture f1, lamp life 1: lamp type \"torch\" has no defaults"},
		{func(in *Input) { in.Lamps[2].Group = 9 }, "group 9 does not exist"},
		{func(in *Input) { in.Lamps[1].Threshold = 1 }, "threshold 1"},
		{func(in *Input) { in.Lamps[3].Bins[4].LnOut = math.Inf(1) }, "not finite"},
		{func(in *Input) { in.Interval = 2 }, "interval 2"},
		{func(in *Input) { in.Groups[0].Recals[0].AsFound = -1 }, "as-found gain -1"},
		{func(in *Input) { in.Groups[1].References[0].Lamp = 99 }, "reference reading"},
	} {
		in := toy()
		c.spoil(in)
		if _, err := Run(in, Options{}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("want %q, got %v", c.want, err)
		}
	}
}

// A reference reading of the sensor ties its drift down; one of a lamp its
// level.
func TestReferenceReadingsNarrow(t *testing.T) {
	in := toy()
	in.Groups[2].References = nil
	get := func() Posterior {
		fit, err := Run(in, Options{})
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range fit.Posteriors() {
			if p.Fixture == "f6" {
				return p
			}
		}
		t.Fatal("no f6")
		return Posterior{}
	}
	before := get()
	in.Groups[2].References = []Reference{{Day: 1400, Lamp: -1, Ln: -.05, SD: .005}}
	after := get()
	if after.SensorDrift[1] >= .8*before.SensorDrift[1] {
		t.Errorf("drift ± %v before, ± %v after a reference reading of the sensor", before.SensorDrift[1],
			after.SensorDrift[1])
	}
	_, s0 := before.Output(before.HoursNow)
	in.Groups[2].References = []Reference{{Day: 1400, Lamp: 6, Ln: -.05, SD: .002}}
	p := get()
	if _, s1 := p.Output(p.HoursNow); s1 >= s0 {
		t.Errorf("level ± %v before, ± %v after a reference reading of the lamp", s0, s1)
	}
}

// A week that holds a cleaning of the fixture or a recalibration of its sensor
// is not fitted: taken for the side its middle lies on, it makes steps look
// smaller than they are.
func TestWeeksWithAStepAreLeftOut(t *testing.T) {
	in := toy()
	in.Lamps[0].Cleanings = []Clean{{Day: 700 - 3}, {Day: 707 + 4}} // the second lies in the week after
	m := newModel(in, Options{})
	for _, g := range m.groups {
		for _, l := range g.lamps {
			if len(l.parts) > 1 || len(l.segs) > 0 {
				continue
			}
			steps := append([]int(nil), g.sensors[l.parts[0].sensor].from[1:]...)
			for _, c := range in.Lamps[l.in].Cleanings {
				steps = append(steps, c.Day)
			}
			want := 0
			for _, b := range l.bins {
				held := false
				for _, s := range steps {
					held = held || (s >= b.Day-3 && s <= b.Day+3)
				}
				if !held {
					want++
				}
			}
			if got := len(m.rows(g, l, nil)); got != want || want == len(l.bins) {
				t.Errorf("%s: %d rows of %d bins, want %d", in.Lamps[l.in].Fixture, got, len(l.bins), want)
			}
		}
	}
}

// Where nothing ties the drift down, "under" is said only if it holds were the
// assumed drift 2 %/year off, and nothing is said to be separable of a lamp
// whose due lies past the horizon.
func TestReluctantWhereDriftIsUnseen(t *testing.T) {
	d := DefaultTable()
	p := Posterior{HoursNow: 9000, Threshold: .9, Tau: 2000, Memory: .15, Last: 9000,
		Past: []PastPoint{{Seasoning, 0, 0}, {9000, -.12, .005}},
		Mean: [5]float64{.13}, SlopePriorSD: .03, DirtPriorSD: .03, DirtSD: .01, MostHours: 9000}
	p.PastShift = [2][]float64{{0, 0}, {0, .001}}
	ask := Asking{}
	if s := p.Answer(d, ask).Status; s != StatusUnder {
		t.Errorf("drift hardly matters: %s", s)
	}
	p.PastShift[1][1], p.SiteShift[0] = .012, -.0135 // 2 %/year more drift would lift it over the threshold
	if s := p.Answer(d, ask).Status; s != StatusInseparable {
		t.Errorf("under hangs on drift that nothing has seen: %s", s)
	}
	p.Sees.References, p.Sees.SiteWithFactor = 1, 1
	if s := p.Answer(d, ask).Status; s != StatusUnder {
		t.Errorf("drift is tied down: %s", s)
	}
}
