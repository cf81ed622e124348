package survey

import (
	"fmt"
	"math"

	"wane/transform/estimate"

	"gonum.org/v1/gonum/stat/distuv"
)

// Uncertainty declares how far a reading can be trusted: standard deviations
// in per cent of the reading, each by what it is common to. Common parts cancel
// in ratios; that is the whole point of a fixed rig and of a reference fixture.
type Uncertainty struct {
	// RepeatPct: the same spot read again at once (sensor put down again).
	// Independent from spot to spot.
	RepeatPct float64
	// HangPct: the same fixture hung and read again on the same day (height,
	// centring, warm-up). Common to one survey.
	HangPct float64
	// OccasionPct: the rig from one occasion to the next (sensor gain, supply,
	// floor). Common to all surveys of an occasion, so to fixture and reference.
	OccasionPct float64
	// SensorPct: the sensor's absolute calibration. Common to all that one
	// sensor has read.
	SensorPct float64
	// ReferencePct: what the reference fixture itself may have changed by
	// between two occasions.
	ReferencePct float64
	// PowerPct: the power meter.
	PowerPct float64
	// RepeatDF are the degrees of freedom RepeatPct rests on, where it was
	// measured (see Repeat); 0 = declared, taken as known.
	RepeatDF int
	// Level is the probability content of intervals; 0 means 0.95.
	Level float64
}

// Assumed is the uncertainty used where a site has declared none. All are
// assumptions: absolute accuracy of 5 % at two standard deviations is a typical
// published sensor specification; the rest is common practice, no source.
func Assumed() Uncertainty {
	return Uncertainty{RepeatPct: 1, HangPct: .5, OccasionPct: .7, SensorPct: 2.5, ReferencePct: .3, PowerPct: 1,
		Level: .95}
}

// Check refuses shares that are negative, not finite or above 100 %.
func (u Uncertainty) Check() error {
	for _, v := range []struct {
		what string
		v    float64
	}{
		{"repeat", u.RepeatPct}, {"hang", u.HangPct}, {"occasion", u.OccasionPct},
		{"sensor", u.SensorPct}, {"reference", u.ReferencePct}, {"power", u.PowerPct},
	} {
		if !estimate.Finite(v.v) || v.v < 0 || v.v > 100 {
			return fmt.Errorf("%s uncertainty %v %%: give a standard deviation from 0 to 100 %% of the reading", v.what, v.v)
		}
	}
	if u.RepeatDF < 0 {
		return fmt.Errorf("repeat uncertainty on %d degrees of freedom: give 0 where it is declared, not measured",
			u.RepeatDF)
	}
	if u.Level != 0 && !(u.Level > 0 && u.Level < 1) {
		return fmt.Errorf("level %v: give a probability between 0 and 1, such as 0.95", u.Level)
	}
	return nil
}

func (u Uncertainty) level() float64 {
	if u.Level == 0 {
		return .95
	}
	return u.Level
}

func (u Uncertainty) rep() float64  { return u.RepeatPct / 100 }
func (u Uncertainty) hang() float64 { return u.HangPct / 100 }
func (u Uncertainty) occ() float64  { return u.OccasionPct / 100 }
func (u Uncertainty) sens() float64 { return u.SensorPct / 100 }
func (u Uncertainty) ref() float64  { return u.ReferencePct / 100 }

// z is the two-sided normal quantile of the level.
func (u Uncertainty) z() float64 { return zOf(u.level()) }

func zOf(level float64) float64 { return distuv.UnitNormal.Quantile(.5 + level/2) }

// around gives the symmetric interval of a value with a standard deviation.
func (u Uncertainty) around(v, sd float64, n int, method string) estimate.Estimate {
	h := u.z() * sd
	return estimate.Estimate{Centre: v, Lo: v - h, Hi: v + h, Level: u.level(), N: n, Method: method}
}

// aroundLog gives the interval of a positive value whose logarithm has a
// standard deviation.
func (u Uncertainty) aroundLog(v, sd float64, n int, method string) estimate.Estimate {
	h := u.z() * sd
	return estimate.Estimate{Centre: v, Lo: v * math.Exp(-h), Hi: v * math.Exp(h), Level: u.level(), N: n, Method: method}
}

func hypot(xs ...float64) float64 {
	s := 0.0
	for _, x := range xs {
		s += x * x
	}
	return math.Sqrt(s)
}

// Repeat measures RepeatPct from surveys of one fixture read again and again
// with nothing changed: what is left of the logarithms after the mean of each
// spot and of each round is taken out, in per cent, with its chi-square
// interval. N is the degrees of freedom, (rounds-1) x (spots-1). Only spots read
// above 0 in every round count.
func Repeat(rounds []Survey, level float64) estimate.Estimate {
	const method = "two-way residual of ln PPFD (spot and round means removed), chi-square interval"
	if len(rounds) < 2 {
		return estimate.None(method, "one round: read the same grid at least twice with nothing changed")
	}
	if !(level > 0 && level < 1) {
		return estimate.None(method, fmt.Sprintf("level %v is not between 0 and 1", level))
	}
	for _, r := range rounds {
		if err := r.Check(); err != nil {
			return estimate.None(method, err.Error())
		}
		if w := sameGeometry(rounds[0], r); w != "" {
			return estimate.None(method, "rounds are not repeats: "+w)
		}
	}
	logs := commonLogs(rounds)
	n, k := len(logs), len(rounds)
	if n < 2 {
		return estimate.None(method, "fewer than 2 spots were read above 0 in every round")
	}
	grand := 0.0
	row, col := make([]float64, n), make([]float64, k)
	for i := range logs {
		for j, v := range logs[i] {
			row[i] += v / float64(k)
			col[j] += v / float64(n)
			grand += v / float64(n*k)
		}
	}
	ss := 0.0
	for i := range logs {
		for j, v := range logs[i] {
			d := v - row[i] - col[j] + grand
			ss += d * d
		}
	}
	df := (n - 1) * (k - 1)
	chi := distuv.ChiSquared{K: float64(df)}
	pct := func(q float64) float64 { return 100 * math.Sqrt(ss/q) }
	return estimate.Estimate{
		Centre: pct(float64(df)), Lo: pct(chi.Quantile(.5 + level/2)), Hi: pct(chi.Quantile(.5 - level/2)),
		Level: level, N: df, Method: method,
	}
}

// commonLogs gives, for each spot read above 0 in all surveys, in order of its
// number, the logarithms survey by survey.
func commonLogs(ss []Survey) [][]float64 {
	_, cols := ss[0].Size()
	at := make([]map[int]float64, len(ss))
	for j, s := range ss {
		at[j] = map[int]float64{}
		for _, p := range s.Spots {
			at[j][Number(p.Row, p.Col, cols)] = p.PPFD
		}
	}
	rows, _ := ss[0].Size()
	var out [][]float64
	for n := 1; n <= rows*cols; n++ {
		line := make([]float64, len(ss))
		ok := true
		for j := range ss {
			v := at[j][n]
			if v <= 0 {
				ok = false
				break
			}
			line[j] = math.Log(v)
		}
		if ok {
			out = append(out, line)
		}
	}
	return out
}

// atLeast cuts an interval at the least value the quantity can have.
func atLeast(e estimate.Estimate, least float64) estimate.Estimate {
	e.Lo = math.Max(e.Lo, least)
	return e
}

// atMost cuts an interval at the greatest value the quantity can have.
func atMost(e estimate.Estimate, most float64) estimate.Estimate {
	e.Hi = math.Min(e.Hi, most)
	return e
}
