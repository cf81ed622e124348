package survey

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"
)

// lab is an invented rig: what it declares is what it does, save for a drift
// that it does not know of.
type lab struct {
	u        Uncertainty
	driftPct float64 // per year, of the rig's gain
	rng      *rand.Rand
}

var pattern = func() [][]float64 {
	m := make([][]float64, 5)
	for r := range m {
		m[r] = make([]float64, 5)
		for c := range m[r] {
			x, y := float64(c-2), float64(r-2)
			m[r][c] = math.Exp(-(x*x + y*y) / 14)
		}
	}
	return m
}()

func (l lab) gain(years float64) float64 {
	return math.Exp(math.Log1p(l.driftPct/100)*years + l.u.occ()*l.rng.NormFloat64())
}

// read surveys a fixture of true level on a day whose rig has a gain.
func (l lab) read(id, fixture string, at time.Time, level, gain float64) Survey {
	s := Survey{ID: id, Fixture: fixture, TakenAt: at, HeightM: .6, Conditions: Conditions{Sensor: "Q1"},
		Geometry: Geometry{SpacingM: .25}}
	h := math.Exp(l.u.hang() * l.rng.NormFloat64())
	for r := range pattern {
		for c, p := range pattern[r] {
			s.Spots = append(s.Spots, Spot{Row: r + 1, Col: c + 1,
				PPFD: 900 * p * level * gain * h * math.Exp(l.u.rep()*l.rng.NormFloat64())})
		}
	}
	return s
}

// TestDriftingRigNeedsTheReference: a rig gaining 2 % a year, a fixture that
// truly lost 9 % in three years. The 95 % intervals hold only because of the
// reference fixture, and the words say which figure is which.
func TestDriftingRigNeedsTheReference(t *testing.T) {
	const runs, truth, years = 600, .91, 3.0
	u := Assumed()
	l := lab{u, 2, rand.New(rand.NewPCG(8, 1))}
	t0 := time.Date(2021, 3, 1, 9, 0, 0, 0, time.UTC)
	t1 := t0.AddDate(int(years), 0, 0)
	with, without, raw, moved := 0, 0, 0, 0
	for i := 0; i < runs; i++ {
		g0, g1 := l.gain(0), l.gain(years)
		f0, f1 := l.read("f0", "F1", t0, 1, g0), l.read("f1", "F1", t1, truth, g1)
		refLater := math.Exp(u.ref() * l.rng.NormFloat64())
		r0, r1 := l.read("r0", "REF", t0, 1, g0), l.read("r1", "REF", t1, refLater, g1)
		o0, o1 := Occasion{From: t0, To: t0, References: []Survey{r0}}, Occasion{From: t1, To: t1, References: []Survey{r1}}
		c, err := Compare(f0, f1, o0, o1, u)
		if err != nil {
			t.Fatal(err)
		}
		in := func(lo, hi float64) int {
			if lo <= truth && truth <= hi {
				return 1
			}
			return 0
		}
		with += in(c.Level.Lo, c.Level.Hi)
		raw += in(c.RawLevel.Lo, c.RawLevel.Hi)
		if c.Rig.State == RigMoved {
			moved++
		}
		d, err := Compare(f0, f1, Occasion{}, Occasion{}, u)
		if err != nil {
			t.Fatal(err)
		}
		without += in(d.Level.Lo, d.Level.Hi)
		if d.Rig.State != RigUnknown || !strings.Contains(strings.Join(d.Words, "\n"),
			"the rig's own drift is in this figure") {
			t.Fatalf("without a reference it must be said: %v", d.Words)
		}
	}
	t.Logf("95 %% intervals hold: with reference %.3f, without %.3f, raw beside a reference %.3f; rig called moved %.3f",
		float64(with)/runs, float64(without)/runs, float64(raw)/runs, float64(moved)/runs)
	// Binomial spread of 0.95 over 600 is 0.009.
	if p := float64(with) / runs; p < .92 || p > .98 {
		t.Errorf("with the reference %.3f of 95 %% intervals hold", p)
	}
	if p := float64(without) / runs; p > .2 {
		t.Errorf("without the reference %.3f of 95 %% intervals hold: the test shows nothing", p)
	}
	if raw != without {
		t.Errorf("the raw figure is the one without a reference: %d and %d", raw, without)
	}
	if float64(moved)/runs < .95 {
		t.Errorf("a rig 6 %% off was called moved in %d of %d runs", moved, runs)
	}
}

// TestIntervalsHold checks the coverage of the single-survey numbers and that
// shape and rig alarms come as rarely as they claim on a rig that is as declared.
func TestIntervalsHold(t *testing.T) {
	const runs = 600
	u := Assumed()
	l := lab{u, 0, rand.New(rand.NewPCG(8, 2))}
	t0 := time.Date(2021, 3, 1, 9, 0, 0, 0, time.UTC)
	hold := map[string]int{}
	var truth Numbers
	{
		s := l.read("x", "F", t0, 1, 1)
		for i := range s.Spots {
			s.Spots[i].PPFD = 900 * pattern[s.Spots[i].Row-1][s.Spots[i].Col-1]
		}
		truth, _ = Summarise(s, Options{})
	}
	count := func(name string, ok bool) {
		if ok {
			hold[name]++
		}
	}
	for i := 0; i < runs; i++ {
		sensor := math.Exp(u.sens() * l.rng.NormFloat64())
		g0, g1 := l.gain(0)*sensor, l.gain(1)*sensor
		a, b := l.read("a", "F", t0, 1, g0), l.read("b", "F", t0.AddDate(1, 0, 0), 1, g1)
		n, err := Summarise(a, Options{Uncertainty: u})
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range []struct {
			name     string
			lo, hi   float64
			expected float64
		}{
			{"average", n.Average.Lo, n.Average.Hi, truth.Average.Centre},
			{"min", n.Min.Lo, n.Min.Hi, truth.Min.Centre}, {"max", n.Max.Lo, n.Max.Hi, truth.Max.Centre},
			{"min/avg", n.MinAvg.Lo, n.MinAvg.Hi, truth.MinAvg.Centre},
			{"min/max", n.MinMax.Lo, n.MinMax.Hi, truth.MinMax.Centre},
			{"max/avg", n.MaxAvg.Lo, n.MaxAvg.Hi, truth.MaxAvg.Centre}, {"cv", n.CV.Lo, n.CV.Hi, truth.CV.Centre},
			{"edge", n.EdgeShare.Lo, n.EdgeShare.Hi, truth.EdgeShare.Centre}, {"centre x", n.CentreX.Lo, n.CentreX.Hi, 0},
			{"centre y", n.CentreY.Lo, n.CentreY.Hi, 0},
			{"footprint", n.Footprint.Lo, n.Footprint.Hi, truth.Footprint.Centre},
		} {
			count(x.name, x.lo <= x.expected && x.expected <= x.hi)
		}
		c, err := Compare(a, b, Occasion{}, Occasion{}, u)
		if err != nil {
			t.Fatal(err)
		}
		count("level", c.Level.Lo <= 1 && 1 <= c.Level.Hi)
		count("average ratio", c.Average.Lo <= 1 && 1 <= c.Average.Hi)
		count("no shape alarm", !c.Shape.Changed)
		count("no shift x", c.ShiftX.Lo <= 0 && 0 <= c.ShiftX.Hi)
		quiet := true
		for _, s := range c.Spots {
			quiet = quiet && !s.StandsOut
		}
		count("no spot alarm", quiet)
		count("spot 7", c.Spots[6].Ratio.Lo <= 1 && 1 <= c.Spots[6].Ratio.Hi)
	}
	report := ""
	for _, k := range []string{"average", "min", "max", "min/avg", "min/max", "max/avg", "cv", "edge", "centre x",
		"centre y", "footprint", "level", "average ratio", "no shape alarm", "no spot alarm", "no shift x", "spot 7"} {
		p := float64(hold[k]) / runs
		report += fmt.Sprintf(" %s %.3f", k, p)
		if p < .92 {
			t.Errorf("%s: 95 %% intervals hold %.3f", k, p)
		}
	}
	t.Log(report)
}

func TestAChangeOfShapeIsTold(t *testing.T) {
	u := Assumed()
	l := lab{u, 0, rand.New(rand.NewPCG(8, 3))}
	t0 := time.Date(2021, 3, 1, 9, 0, 0, 0, time.UTC)
	seen, shifted := 0, 0
	for i := 0; i < 100; i++ {
		a, b := l.read("a", "F", t0, 1, 1), l.read("b", "F", t0.AddDate(1, 0, 0), .95, 1)
		for k := range b.Spots { // the aim tilts: right side up, left side down
			b.Spots[k].PPFD *= 1 + .015*float64(b.Spots[k].Col-3)
		}
		c, err := Compare(a, b, Occasion{}, Occasion{}, u)
		if err != nil {
			t.Fatal(err)
		}
		if c.Shape.Changed {
			seen++
		}
		if c.ShiftX.Lo > 0 {
			shifted++
		}
	}
	if seen < 95 || shifted < 95 {
		t.Errorf("a tilt of 1.5 %% a column was seen as shape in %d and as a shift in %d of 100", seen, shifted)
	}
}
