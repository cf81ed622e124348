package forecast

import (
	"fmt"
	"math"
	"sort"
	"wane/transform/robust"
)

// What a backtest compares.
const (
	OnCrossing = "crossing"         // due hours against the observed crossing
	OnLevel    = "level 1,000 h on" // level forecast for 1,000 h later against the level then
)

// levelAhead is how far ahead the level is compared, run-hours.
const levelAhead = 1000

// BacktestOptions of a backtest.
type BacktestOptions struct {
	Every    int     // days between origins; 0: 91
	Interval float64 // 0: 0.8
}

// Scored is one comparison: what a method said at an origin, and what came.
type Scored struct {
	AsOf    int
	Lamp    int // index into Input.Lamps
	Class   string
	Method  string
	On      string
	Hours   float64 // run-hours at the origin
	Ahead   float64 // hours from there to what is compared
	Said    Crossing
	Actual  float64
	Refused bool // no answer was given
}

// Error is (said - actual)/actual for crossings, the difference of levels for
// levels.
func (s Scored) Error() float64 {
	if s.On == OnLevel {
		return s.Said.Centre - s.Actual
	}
	return (s.Said.Centre - s.Actual) / s.Actual
}

// Held says whether the interval holds what came.
func (s Scored) Held() bool { return s.Said.Lo <= s.Actual && s.Actual <= s.Said.Hi }

// Backtest rolls the origin back through the input's own history. At each
// origin the input is cut to what was known (Truncate), the pooled model and
// the plain methods forecast, and what followed is read off a fit of the full
// history: the crossing, where it lies within the hours watched, and the level
// 1,000 h on. That truth is itself an estimate: where the sensors were never
// recalibrated it shares their drift with the forecasts, and a forecast that
// holds against it may still be wrong about the lamp.
func Backtest(in *Input, opt BacktestOptions) ([]Scored, error) {
	if opt.Every == 0 {
		opt.Every = 91
	}
	if opt.Interval == 0 {
		opt.Interval = .8
	}
	full, err := Run(in, Options{})
	if err != nil {
		return nil, err
	}
	truth := make(map[int]*Posterior)
	all := full.posteriors(true)
	for k := range all {
		truth[all[k].Lamp] = &all[k]
	}
	var out []Scored
	for _, day := range in.Origins(opt.Every) {
		cut := in.Truncate(day)
		rows, err := scoreOrigin(&cut, truth, opt.Interval)
		if err != nil {
			return nil, fmt.Errorf("origin day %d: %w", day, err)
		}
		out = append(out, rows...)
	}
	return out, nil
}

// Origins are the days, so many apart, from which a backtest looks ahead.
func (in *Input) Origins(every int) []int {
	first := in.AsOf
	for k := range in.Lamps {
		first = min(first, in.Lamps[k].StartDay)
	}
	var out []int
	for day := first + every; day < in.AsOf; day += every {
		out = append(out, day)
	}
	return out
}

func scoreOrigin(cut *Input, truth map[int]*Posterior, interval float64) ([]Scored, error) {
	fit, err := Run(cut, Options{})
	if err != nil {
		return nil, err
	}
	var out []Scored
	z := normalQuantile(interval)
	for _, p := range fit.Posteriors() {
		t := truth[p.Lamp]
		if t == nil || p.HoursNow < Seasoning || cut.AsOf-p.LastBin > 60 {
			continue
		}
		base := Scored{AsOf: cut.AsOf, Lamp: p.Lamp, Class: p.Class, Hours: p.HoursNow}
		if c := t.Cross(p.Threshold, 0).Centre; c <= t.Last && c > p.HoursNow {
			row := base
			row.On, row.Actual, row.Ahead, row.Method = OnCrossing, c, c-p.HoursNow, Method
			a := p.Answer(fit.d, Asking{Interval: interval})
			row.Refused = a.Status != StatusForecast && a.Status != StatusUnder
			if !row.Refused {
				row.Said = Crossing{a.DueHours.Centre, a.DueHours.Lo, a.DueHours.Hi}
			}
			out = append(out, row)
			for _, method := range PlainMethods {
				row.Method = method
				said, ok := Plain(method, cut, p.Lamp, interval)
				row.Said, row.Refused = said, !ok || math.IsInf(said.Centre, 1)
				out = append(out, row)
			}
		}
		if h := p.HoursNow + levelAhead; h <= t.Last {
			row := base
			m, s := p.Output(h)
			actual, _ := t.Output(h)
			row.On, row.Ahead, row.Method = OnLevel, levelAhead, Method
			row.Actual, row.Said = math.Exp(actual), Crossing{math.Exp(m), math.Exp(m - z*s), math.Exp(m + z*s)}
			out = append(out, row)
		}
	}
	return out, nil
}

// BacktestLine is one line of a backtest's table.
type BacktestLine struct {
	On, Method, Class, Ahead string // Class and Ahead are "all" for totals
	N                        int    // asked
	Lamps                    int    // lamp lives among them
	Answered                 int
	MedianError              float64 // of |error|; NaN where nothing was answered
	Bias                     float64 // median error
	Held                     float64 // share of intervals that held
	Within20                 float64 // answered and within 20 %, over all asked
}

// aheadBins are the horizons of a backtest's table, hours.
var aheadBins = []struct {
	to   float64
	name string
}{{2000, "to 2,000 h"}, {5000, "2,000 to 5,000 h"}, {10000, "5,000 to 10,000 h"}, {math.Inf(1), "over 10,000 h"}}

func aheadBin(h float64) string {
	for _, b := range aheadBins {
		if h <= b.to {
			return b.name
		}
	}
	return ""
}

// Summarise makes the table: for each kind of comparison and method the total,
// then by lamp type, then by horizon, in a fixed order.
func Summarise(rows []Scored) []BacktestLine {
	var out []BacktestLine
	classes := map[string]int{}
	for _, r := range rows {
		classes[r.Class]++
	}
	for _, on := range []string{OnCrossing, OnLevel} {
		for _, method := range append([]string{Method}, PlainMethods...) {
			line := func(class, ahead string) {
				l := BacktestLine{On: on, Method: method, Class: class, Ahead: ahead}
				l.sum(rows)
				if l.N > 0 {
					out = append(out, l)
				}
			}
			line("all", "all")
			for _, c := range sortedKeys(classes) {
				line(c, "all")
			}
			if on == OnCrossing {
				for _, b := range aheadBins {
					line("all", b.name)
				}
			}
		}
	}
	return out
}

func (l *BacktestLine) sum(rows []Scored) {
	var abs, signed []float64
	held, hit := 0, 0
	lamps := map[int]bool{}
	for _, r := range rows {
		if r.On != l.On || r.Method != l.Method || (l.Class != "all" && r.Class != l.Class) ||
			(l.Ahead != "all" && aheadBin(r.Ahead) != l.Ahead) {
			continue
		}
		l.N++
		lamps[r.Lamp] = true
		if r.Refused {
			continue
		}
		e := r.Error()
		abs, signed = append(abs, math.Abs(e)), append(signed, e)
		if r.Held() {
			held++
		}
		if math.Abs(e) <= .2 {
			hit++
		}
	}
	l.Lamps, l.Answered = len(lamps), len(abs)
	l.MedianError, l.Bias, l.Held = math.NaN(), math.NaN(), math.NaN()
	if l.Answered > 0 {
		l.MedianError, l.Bias = robust.Sort(abs), robust.Sort(signed)
		l.Held = float64(held) / float64(l.Answered)
	}
	if l.N > 0 {
		l.Within20 = float64(hit) / float64(l.N)
	}
}

// Calibration is what a site's own record says of its intervals.
type Calibration struct {
	Widen float64 // factor on spreads; 1 where the record is too short or agrees
	Held  float64 // share of the intervals that held
	Cases int
	Lamps int
	Note  string // to be said with every forecast; empty where Widen is 1
	// Types is the same of each lamp type whose own record says otherwise than the site's.
	Types map[string]Calibration
}

// Few lamps tell little about intervals: their forecasts share errors, and
// one lamp's origins are no independent cases.
const (
	minCalibrationLamps = 30
	minTypeLamps        = 10
	calibrationPrior    = 60 // pseudo-lamps for a factor of 1, and of a type for its site's
)

// Calibrate compares how many of the pooled model's intervals held with what
// they claimed, over crossings, or over levels where fewer than
// minCalibrationLamps crossed. The factor makes the record's own intervals
// hold as claimed, drawn towards 1 by calibrationPrior pseudo-lamps; between
// 0.95 and 1.05 nothing is changed. So it does for each lamp type, whose factor
// is drawn towards the site's: a fleet's intervals may hold as claimed while those
// of one type do not.
func Calibrate(rows []Scored, interval float64) Calibration {
	c := calibrateOn(rows, "", interval, 1, minCalibrationLamps)
	of := map[string]int{}
	for _, r := range rows {
		of[r.Class]++
	}
	if len(of) < 2 {
		return c
	}
	for class := range of {
		t := calibrateOn(rows, class, interval, c.Widen, minTypeLamps)
		if math.Abs(t.Widen/c.Widen-1) <= .05 {
			continue
		}
		if c.Types == nil {
			c.Types = map[string]Calibration{}
		}
		c.Types[class] = t
	}
	return c
}

// calibrateOn calibrates on the rows of a lamp type, all where it is empty, drawn
// towards a factor.
func calibrateOn(rows []Scored, class string, interval, towards float64, least int) Calibration {
	need, c := recordOf(rows, class, OnCrossing)
	if c.Lamps < least {
		need, c = recordOf(rows, class, OnLevel)
	}
	c.Widen = towards
	if c.Lamps < least {
		return c
	}
	sort.Float64s(need)
	f := need[min(int(interval*float64(len(need))), len(need)-1)]
	w := float64(c.Lamps) / float64(c.Lamps+calibrationPrior)
	f = min(max(math.Exp(w*math.Log(max(f, .1))+(1-w)*math.Log(towards)), .7), 3)
	if math.Abs(f-1) <= .05 {
		c.Widen = 1
		return c
	}
	c.Widen = f
	verb, of := "widened", ""
	if f < 1 {
		verb = "narrowed"
	}
	if class != "" {
		of = " of " + class
	}
	c.Note = fmt.Sprintf("interval %s by a factor of %.2f: on this site's own record %.0f %% of the %.0f %% intervals%s held "+
		"(%d cases of %d lamps)", verb, f, 100*c.Held, 100*interval, of, c.Cases, c.Lamps)
	return c
}

// recordOf gives by how much each interval of a lamp type, of all where it is empty,
// had to be wider, and how many held.
func recordOf(rows []Scored, class, on string) (need []float64, c Calibration) {
	lamps := map[int]bool{}
	held := 0
	for _, r := range rows {
		if r.On != on || r.Method != Method || r.Refused || class != "" && r.Class != class {
			continue
		}
		lamps[r.Lamp] = true
		edge := r.Said.Hi
		if r.Actual < r.Said.Centre {
			edge = r.Said.Lo
		}
		n := 0.0
		if half := math.Log(edge / r.Said.Centre); half != 0 && !math.IsInf(half, 0) {
			n = math.Log(r.Actual/r.Said.Centre) / half
		}
		need = append(need, n)
		if r.Held() {
			held++
		}
	}
	if c.Cases, c.Lamps = len(need), len(lamps); c.Cases > 0 {
		c.Held = float64(held) / float64(c.Cases)
	}
	return need, c
}

// NoNarrower is the calibration without what would narrow intervals: what came is read
// off the same sensors by the same model, so that a record too good is no proof.
func (c Calibration) NoNarrower() Calibration {
	types := c.Types
	c.Types = nil
	if c.Widen <= 1 {
		c.Widen, c.Note = 1, ""
	}
	for class, t := range types {
		if t = t.NoNarrower(); t.Widen == c.Widen {
			continue
		}
		if c.Types == nil {
			c.Types = map[string]Calibration{}
		}
		c.Types[class] = t
	}
	return c
}
