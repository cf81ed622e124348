package level

import (
	"fmt"
	"math"
	"slices"

	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/robust"
	"wane/transform/setting"
)

// Corrections are the declared coefficients that take supply voltage and
// ambient temperature out of a reading. No published value for the light of
// HPS gear against voltage was found; all are inputs, printed with each result
// that rests on them.
type Corrections struct {
	// Supply is the per cent of light per per cent of supply voltage, by gear
	// (common practice, no source). The empty gear is "not known".
	Supply map[fleet.Gear]float64 `yaml:"supply"`
	// Ambient is the relative change of light per degree Celsius, by lamp type
	// (common practice, no source; for LED compare Vinogradova et al. 2013:
	// board 25 to 50 degC, 455 nm -4 %, 660 nm -7 %).
	Ambient map[fleet.LampType]float64 `yaml:"ambient"`
	// Estimate lets the site's own day-to-day swings replace a declared
	// coefficient where their interval is narrow (package sensitivity).
	Estimate bool `yaml:"estimate"`
	// ReferenceC is the ambient temperature to which light is brought, degC.
	ReferenceC float64 `yaml:"reference_c"`
}

// DefaultCorrections holds for a site that declares none.
func DefaultCorrections() Corrections {
	return Corrections{
		Supply:     map[fleet.Gear]float64{fleet.Magnetic: 1.5, fleet.Electronic: 0.05, fleet.Driver: 0.05, "": 0},
		Ambient:    map[fleet.LampType]float64{fleet.LED: -0.003},
		ReferenceC: 25,
	}
}

// Validate lists what cannot be used.
func (c Corrections) Validate() []setting.Fault {
	var out []setting.Fault
	for g, v := range c.Supply {
		path := "supply." + string(g)
		if g != "" && !slices.Contains(fleet.Gears, g) {
			out = append(out, setting.Fault{Path: path, What: fmt.Sprintf("%q is not a kind of gear", g),
				Do: "known: magnetic, electronic, driver"})
		}
		if v < -1 || v > 5 {
			out = append(out, setting.Fault{Path: path,
				What: fmt.Sprintf("%g per cent of light per per cent of voltage is not within -1 to 5",
					v), Do: "write a coefficient such as 1.5"})
		}
	}
	for t, v := range c.Ambient {
		path := "ambient." + string(t)
		if !slices.Contains(fleet.LampTypes, t) {
			out = append(out, setting.Fault{Path: path, What: fmt.Sprintf("%q is not a lamp type", t),
				Do: "see register/fixtures.csv for the known ones"})
		}
		if v < -0.05 || v > 0.05 {
			out = append(out, setting.Fault{Path: path, What: fmt.Sprintf("%g per degree is not within -0.05 to 0.05",
				v), Do: "write a share per degree such as -0.003"})
		}
	}
	return out
}

// Baseline says what 100 % is.
type Baseline struct {
	// SeasoningHours is when a discharge lamp's 100 % is read: the first 100
	// burning hours are seasoning (IES LM-54; CIE e-ILV term 636 declares
	// initial flux at 100 h). LEDs have none.
	SeasoningHours float64 `yaml:"seasoning_hours"`
	// Days is how many days with a level the baseline is taken over.
	Days int `yaml:"days"`
	// LatestHours is the run-hours after which a baseline is no longer one of a
	// new lamp, and is said to be late.
	LatestHours float64 `yaml:"latest_hours"`
}

// DefaultBaseline holds for a site that declares none (days and the late limit:
// common practice, no source).
func DefaultBaseline() Baseline {
	return Baseline{SeasoningHours: 100, Days: 14, LatestHours: 500}
}

// Validate lists what cannot be used.
func (b Baseline) Validate() []setting.Fault {
	var out []setting.Fault
	if b.SeasoningHours < 0 || b.SeasoningHours > 1000 {
		out = append(out, setting.Fault{Path: "seasoning_hours", What: fmt.Sprintf("%g is not within 0 to 1000 h",
			b.SeasoningHours), Do: "write hours; 100 is the usual"})
	}
	if b.Days < 1 || b.Days > 365 {
		out = append(out, setting.Fault{Path: "days", What: fmt.Sprintf("%d is not within 1 to 365", b.Days),
			Do: "write a number of days such as 14"})
	}
	if b.LatestHours < b.SeasoningHours {
		out = append(out, setting.Fault{Path: "latest_hours", What: fmt.Sprintf("%g h is before the end of seasoning",
			b.LatestHours), Do: "write hours such as 500"})
	}
	return out
}

// Of is the baseline of a life: the median output of its first days after the
// seasoning, umol/m2/s, with a 95 % interval of the median. deviation is the
// median absolute deviation of the n days, first the run-hours on the first.
func (b Baseline) Of(median, deviation, season float64, n int, first float64) estimate.Estimate {
	// 1.2533 times the standard error of a mean of near-normal values: the
	// large-sample efficiency of the median, sqrt(pi/2).
	se := 1.2533 * robust.Normal * deviation / math.Sqrt(float64(n))
	if n < 2 {
		se = 0.02 * median // one day: common practice, no source
	}
	e := estimate.Estimate{Centre: median, Lo: median - 1.96*se, Hi: median + 1.96*se, Level: 0.95, N: n,
		Method: b.method(season)}
	if n < b.Days {
		e = e.Warn(fmt.Sprintf("baseline rests on %d of %d days", n, b.Days))
	}
	if first > b.LatestHours {
		e = e.Warn(fmt.Sprintf("first reading at %.0f run-hours: 100 %% is the lamp at that age, not when new", first))
	}
	return e
}

// None is the baseline of a life that has no day for it.
func (b Baseline) None(season float64) estimate.Estimate {
	return estimate.None(b.method(season), fmt.Sprintf("no day with a level after %g run-hours yet", season))
}

func (b Baseline) method(season float64) string {
	return fmt.Sprintf("median of the first %d days after %g h", b.Days, season)
}
