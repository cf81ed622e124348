package survey

import (
	"fmt"
	"math"

	"wane/transform/estimate"

	"gonum.org/v1/gonum/stat/distuv"
)

// Change is what came between the first survey of a fixture and a later one.
// All ratios are later over first, 1 = no change.
type Change struct {
	Common int // spots read above 0 in both
	Rig    Rig

	// Level is the common ratio: the mean log ratio of the spots, relative to
	// the reference fixture where that was surveyed on both occasions.
	Level estimate.Estimate
	// RawLevel is the same as read, the rig's drift left in. Its interval allows
	// for OccasionPct only; a rig that drifts more makes it wrong.
	RawLevel estimate.Estimate
	// Average is the ratio of the plain averages of the common spots, corrected
	// like Level.
	Average estimate.Estimate

	Spots []SpotChange
	Shape Shape

	ShiftX, ShiftY estimate.Estimate // move of the centre of light, later less first
	ShiftUnit      string            // "m" or "spots"

	Words    []string // the answer in sentences
	Warnings []string
}

// SpotChange is the change at one spot.
type SpotChange struct {
	Number, Row, Col int
	First, Later     float64           // umol/m2/s as read
	Ratio            estimate.Estimate // relative to the reference where there is one
	Pattern          estimate.Estimate // ratio over the common ratio
	StandsOut        bool              // pattern beyond repeat noise, allowing for the number of spots looked at
}

// Shape says whether the pattern changed beyond what repeats do.
type Shape struct {
	RMSPct   float64 // scatter of the spots' ratios about the common one, per cent
	NoisePct float64 // scatter expected from repeats alone, per cent
	Excess   estimate.Estimate
	P        float64 // probability of such scatter from repeats alone; 1 where it cannot be tested
	Tested   bool
	Changed  bool // P below 1 - level
	Method   string
}

// Compare sets a later survey against the first of the same fixture. The
// occasions carry the reference surveys; an empty Occasion means there was
// none, and the Change says so. Different geometry, height or grid is an
// error.
func Compare(first, later Survey, firstDay, laterDay Occasion, u Uncertainty) (Change, error) {
	if err := u.Check(); err != nil {
		return Change{}, err
	}
	for _, s := range []Survey{first, later} {
		if err := s.Check(); err != nil {
			return Change{}, err
		}
	}
	l, err := logRatio(first, later)
	if err != nil {
		return Change{}, err
	}
	c := Change{Common: len(l), Rig: RigBetween(firstDay, laterDay, u)}
	if first.Fixture != later.Fixture {
		c.Warnings = append(c.Warnings, fmt.Sprintf("two fixtures: %s and %s; this is a comparison, not ageing",
			first.Fixture, later.Fixture))
	}
	if rows, cols := first.Size(); len(l) < rows*cols {
		c.Warnings = append(c.Warnings, fmt.Sprintf("%d of %d spots were read above 0 both times; the change is theirs",
			len(l), rows*cols))
	}
	n := float64(len(l))
	mean := meanOf(l)
	sensors := c.sensorSD(first, later, u)
	own := hypot(u.rep()*math.Sqrt(2/n), u.hang()*math.Sqrt2)
	c.RawLevel = u.aroundLog(math.Exp(mean), hypot(own, u.occ()*math.Sqrt2, sensors), len(l),
		"mean log ratio of the spots, as read")
	drift, common := 0.0, hypot(u.occ()*math.Sqrt2, sensors)
	method := "mean log ratio of the spots, as read"
	if c.Rig.Drift.Known() {
		drift, common = math.Log(c.Rig.Drift.Centre), c.Rig.sd
		if c.changedSensorUnshared(first, later, firstDay, laterDay) {
			common = hypot(common, sensors)
			c.Warnings = append(c.Warnings, "the reference fixture was read with another sensor than the fixture: the sensors' calibration does not cancel")
		}
		method = "mean log ratio of the spots, over that of the reference fixture"
	}
	c.Level = u.aroundLog(math.Exp(mean-drift), hypot(own, common), len(l), method)
	c.average(first, later, drift, hypot(u.hang()*math.Sqrt2, common), u)
	c.spots(first, later, mean, drift, hypot(u.hang()*math.Sqrt2, common), u)
	c.shape(l, mean, u)
	c.shift(first, later, u)
	c.words(u)
	return c, nil
}

// sensorSD is what two different sensors leave in a ratio.
func (c *Change) sensorSD(first, later Survey, u Uncertainty) float64 {
	a, b := fmt.Sprint(first.Sensors()), fmt.Sprint(later.Sensors())
	if a == b {
		return 0
	}
	c.Warnings = append(c.Warnings, fmt.Sprintf("read with different sensors, %s and %s: their calibration does not cancel as read", sensorNames(first), sensorNames(later)))
	return u.sens() * math.Sqrt2
}

func sensorNames(s Survey) string {
	out := ""
	for i, n := range s.Sensors() {
		if n == "" {
			n = "one not written down"
		}
		if i > 0 {
			out += " with "
		}
		out += n
	}
	return out
}

// changedSensorUnshared says whether the sensor changed between the occasions
// in a way the reference did not see.
func (c *Change) changedSensorUnshared(first, later Survey, a, b Occasion) bool {
	if len(a.References) == 0 || len(b.References) == 0 {
		return false
	}
	fixtureSame := fmt.Sprint(first.Sensors()) == fmt.Sprint(later.Sensors())
	refSame := fmt.Sprint(a.References[0].Sensors()) == fmt.Sprint(b.References[0].Sensors())
	shared := fmt.Sprint(first.Sensors()) == fmt.Sprint(a.References[0].Sensors()) &&
		fmt.Sprint(later.Sensors()) == fmt.Sprint(b.References[0].Sensors())
	return !shared && !(fixtureSame && refSame)
}

func (c *Change) average(first, later Survey, drift, common float64, u Uncertainty) {
	a, b, sa, sb := 0.0, 0.0, 0.0, 0.0
	eachCommon(first, later, func(_ Spot, x, y float64) {
		a, b, sa, sb = a+x, b+y, sa+x*x, sb+y*y
	})
	sd := hypot(u.rep()*math.Sqrt(sa)/a, u.rep()*math.Sqrt(sb)/b, common)
	c.Average = u.aroundLog(b/a*math.Exp(-drift), sd, c.Common, "ratio of the averages of the spots read both times")
}

func (c *Change) spots(first, later Survey, mean, drift, common float64, u Uncertainty) {
	_, cols := first.Size()
	n := float64(c.Common)
	rep := u.rep() * math.Sqrt2
	inner := rep * math.Sqrt(1-1/n)
	alpha := 1 - u.level()
	zn := distuv.UnitNormal.Quantile(1 - alpha/(2*n))
	if u.RepeatDF > 0 {
		zn = distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(u.RepeatDF)}.Quantile(1 - alpha/(2*n))
	}
	eachCommon(first, later, func(p Spot, x, y float64) {
		r := math.Log(y / x)
		s := SpotChange{Number: Number(p.Row, p.Col, cols), Row: p.Row, Col: p.Col, First: x, Later: y,
			Ratio:   u.aroundLog(math.Exp(r-drift), hypot(rep, common), 1, "log ratio of the spot"),
			Pattern: u.aroundLog(math.Exp(r-mean), inner, c.Common, "log ratio of the spot less the common one"),
		}
		s.StandsOut = n > 1 && math.Abs(r-mean) > zn*inner && inner > 0
		c.Spots = append(c.Spots, s)
	})
}

// eachCommon calls f for each spot read above 0 in both, by number.
func eachCommon(first, later Survey, f func(p Spot, first, later float64)) {
	rows, cols := first.Size()
	a, b := map[int]Spot{}, map[int]Spot{}
	for _, p := range first.Spots {
		a[Number(p.Row, p.Col, cols)] = p
	}
	for _, p := range later.Spots {
		b[Number(p.Row, p.Col, cols)] = p
	}
	for k := 1; k <= rows*cols; k++ {
		if a[k].PPFD > 0 && b[k].PPFD > 0 {
			f(a[k], a[k].PPFD, b[k].PPFD)
		}
	}
}

// shape tests the scatter of the log ratios about their mean against repeat
// noise: chi-square where the noise is declared, F where it was measured with
// RepeatDF degrees of freedom.
func (c *Change) shape(l []float64, mean float64, u Uncertainty) {
	df := float64(len(l) - 1)
	s := Shape{P: 1, NoisePct: 100 * u.rep() * math.Sqrt2,
		Method: "scatter of log ratios about the common one against repeat noise"}
	const mEx = "scatter beyond repeat noise, per cent (difference of variances, chi-square interval)"
	if df < 1 || u.rep() == 0 {
		why := "one spot in common: a pattern needs at least two"
		if df >= 1 {
			why = "repeat noise is declared as 0: nothing to test a pattern against; measure it by reading a grid twice"
		}
		s.Excess = estimate.None(mEx, why)
		c.Shape = s
		return
	}
	ss := 0.0
	for _, v := range l {
		ss += (v - mean) * (v - mean)
	}
	noise := 2 * u.rep() * u.rep()
	s.RMSPct, s.Tested = 100*math.Sqrt(ss/df), true
	chi := distuv.ChiSquared{K: df}
	if u.RepeatDF > 0 {
		s.P = distuv.F{D1: df, D2: float64(u.RepeatDF)}.Survival(ss / df / noise)
		s.Method += ", F test"
	} else {
		s.P = chi.Survival(ss / noise)
		s.Method += ", chi-square test"
	}
	s.Changed = s.P < 1-u.level()
	ex := func(v float64) float64 { return 100 * math.Sqrt(math.Max(0, v-noise)) }
	s.Excess = estimate.Estimate{Centre: ex(ss / df), Lo: ex(ss / chi.Quantile(.5+u.level()/2)),
		Hi: ex(ss / chi.Quantile(.5-u.level()/2)), Level: u.level(), N: len(l), Method: mEx}
	c.Shape = s
}

func (c *Change) shift(first, later Survey, u Uncertainty) {
	ratioOnly := u
	ratioOnly.HangPct, ratioOnly.OccasionPct = 0, 0
	a, errA := Summarise(first, Options{Uncertainty: ratioOnly})
	b, errB := Summarise(later, Options{Uncertainty: ratioOnly})
	if errA != nil || errB != nil {
		return // both were checked before
	}
	c.ShiftUnit = a.CentreUnit
	if b.CentreUnit != a.CentreUnit {
		why := "spacing is declared for one of the two surveys only"
		c.ShiftX, c.ShiftY = estimate.None("centre of light", why), estimate.None("centre of light", why)
		return
	}
	sub := func(x, y estimate.Estimate) estimate.Estimate {
		if !x.Known() {
			return x
		}
		if !y.Known() {
			return y
		}
		return u.around(y.Centre-x.Centre, hypot(x.Hi-x.Centre, y.Hi-y.Centre)/u.z(), c.Common,
			"difference of the centres of light")
	}
	c.ShiftX, c.ShiftY = sub(a.CentreX, b.CentreX), sub(a.CentreY, b.CentreY)
}

func (c *Change) words(u Uncertainty) {
	pct := func(e estimate.Estimate) string {
		return fmt.Sprintf("%+.1f %% (%+.1f to %+.1f)", 100*(e.Centre-1), 100*(e.Lo-1), 100*(e.Hi-1))
	}
	c.Words = append(c.Words, c.Rig.Words)
	w := "level: " + pct(c.Level)
	switch {
	case c.Level.Lo > 1 || c.Level.Hi < 1:
		w += ", a change"
	default:
		w += ", no change that this rig can see"
	}
	if !c.Rig.Drift.Known() {
		w += "; the rig's own drift is in this figure"
	}
	c.Words = append(c.Words, w)
	switch {
	case !c.Shape.Tested:
		c.Words = append(c.Words, "shape: not tested, "+c.Shape.Excess.Warnings[0])
	case c.Shape.Changed:
		var out []int
		for _, s := range c.Spots {
			if s.StandsOut {
				out = append(out, s.Number)
			}
		}
		w := fmt.Sprintf("shape: changed, the spots scatter by %.1f %% where repeats give %.1f %%; look at reflector, lens and aim", c.Shape.RMSPct, c.Shape.NoisePct)
		if len(out) > 0 {
			w += "; spots that stand out: " + numberList(out)
		}
		c.Words = append(c.Words, w)
	default:
		c.Words = append(c.Words, fmt.Sprintf("shape: no change beyond repeat noise (%.1f %% where repeats give %.1f %%); a change of level alone points at the lamp, or at even dirt", c.Shape.RMSPct, c.Shape.NoisePct))
	}
}
