package level

import (
	"fmt"
	"math"

	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/robust"
)

// Life is what the levels of one lamp life rest on besides its days.
type Life struct {
	LampType fleet.LampType
	Gear     fleet.Gear
	RatedV   float64 // reference of the supply correction; 0: the median of the life's first metered days
	Gains    map[string]Gain
}

// Result is the levels of one lamp life. Baseline is in umol/m2/s of corrected
// output with a 95 % interval of the median; Warnings say what is odd about it.
type Result struct {
	Levels     []Level
	Baseline   estimate.Estimate
	ReferenceV float64 // NaN where supply is never read
}

// Of makes the levels of one lamp life from its days, in day order.
func Of(days []Day, life Life, c Corrections, b Baseline) Result {
	res := Result{ReferenceV: reference(days, life)}
	coef := c.Supply[life.Gear]
	for _, d := range days {
		if !d.Readable() {
			continue
		}
		l := Level{Day: d.Day, RunHours: d.RunHours, Raw: d.Raw(), LevelRaw: math.NaN(), Level: math.NaN()}
		if d.DimPct != 100 {
			l.Flags |= Dimmed
		}
		gain, flag := life.Gains[d.Sensor].At(d.Day)
		l.Gain, l.Flags = -gain, l.Flags|flag
		if math.IsNaN(d.SupplyV) || d.SupplyV <= 0 {
			l.Flags |= NoSupply
		} else {
			l.Supply = -coef * math.Log(d.SupplyV/res.ReferenceV)
		}
		if math.IsNaN(d.AmbientC) {
			l.Flags |= NoAmbient
		} else {
			l.Ambient = -c.Ambient[life.LampType] * (d.AmbientC - c.ReferenceC)
		}
		l.Output = l.Raw * math.Exp(l.Gain+l.Supply+l.Ambient)
		res.Levels = append(res.Levels, l)
	}
	res.baseline(life, b)
	return res
}

// Readable says whether the day has a level: light, and a set point to bring it
// to full power.
func (d *Day) Readable() bool { return d.PPFD > 0 && d.DimPct > 0 }

// Raw is the light brought to full power, umol/m2/s, nothing else corrected.
func (d *Day) Raw() float64 { return d.PPFD / (d.DimPct / 100) }

// BaseOf gives what Of gives but for the levels, from as few days as settle it:
// the baseline and the reference voltage are of a life's first days.
func BaseOf(days []Day, life Life, c Corrections, b Baseline) Result {
	n := len(days)
	if life.RatedV > 0 {
		n = min(n, 4*b.Days)
	}
	r := Of(days[:n], life, c, b)
	if n < len(days) && r.Baseline.N < b.Days {
		r = Of(days, life, c, b)
	}
	r.Levels = nil
	return r
}

// ReferenceDays is of how many days with a voltage the reference is the median,
// where the rated one is not known.
const ReferenceDays = 30

// reference is the voltage to which light is brought.
func reference(days []Day, life Life) float64 {
	if life.RatedV > 0 {
		return life.RatedV
	}
	var v []float64
	for _, d := range days {
		if !math.IsNaN(d.SupplyV) && d.SupplyV > 0 {
			if v = append(v, d.SupplyV); len(v) == ReferenceDays {
				break
			}
		}
	}
	return robust.Median(v)
}

// baseline finds 100 % and makes the outputs levels.
func (r *Result) baseline(life Life, b Baseline) {
	season := 0.0
	if life.LampType.Discharge() {
		season = b.SeasoningHours
	}
	var raw, out []float64
	first := math.NaN()
	start := len(r.Levels)
	for i := range r.Levels {
		l := &r.Levels[i]
		if l.RunHours < season {
			l.Flags |= Seasoning
			continue
		}
		if len(out) == 0 {
			first, start = l.RunHours, i
		}
		if len(out) < b.Days {
			raw, out = append(raw, l.Raw), append(out, l.Output)
		}
	}
	method := fmt.Sprintf("median of the first %d days after %g h", b.Days, season)
	if len(out) == 0 {
		r.Baseline = estimate.None(method, fmt.Sprintf("no day with a level after %g run-hours yet", season))
		return
	}
	base, baseRaw := robust.Median(out), robust.Median(raw)
	se := medianError(out, base)
	r.Baseline = estimate.Estimate{Centre: base, Lo: base - 1.96*se, Hi: base + 1.96*se, Level: 0.95, N: len(out), Method: method}
	var flags Flags
	if len(out) < b.Days {
		flags |= BaselineShort
		r.Baseline = r.Baseline.Warn(fmt.Sprintf("baseline rests on %d of %d days", len(out), b.Days))
	}
	if first > b.LatestHours {
		flags |= LateBaseline
		r.Baseline = r.Baseline.Warn(fmt.Sprintf("first reading at %.0f run-hours: 100 %% is the lamp at that age, not when new", first))
	}
	for i := start; i < len(r.Levels); i++ {
		l := &r.Levels[i]
		l.Level, l.LevelRaw = l.Output/base, l.Raw/baseRaw
		l.Flags |= flags
	}
}

// medianError is the standard error of a median of near-normal values: 1.2533
// times that of the mean (the large-sample efficiency of the median,
// sqrt(pi/2)), with the spread taken from the absolute deviations.
func medianError(v []float64, mid float64) float64 {
	if len(v) < 2 {
		return 0.02 * mid // one day: common practice, no source
	}
	return 1.2533 * robust.SD(v, mid) / math.Sqrt(float64(len(v)))
}
