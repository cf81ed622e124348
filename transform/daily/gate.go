package daily

import (
	"fmt"
	"slices"

	"wane/transform/fleet"
	"wane/transform/setting"
)

// Gate says which moments show a lamp's steady output. All of it is declared:
// a site replaces what does not fit its loggers.
type Gate struct {
	// RunUp is the time from switching on to steady output, minutes. Run-up
	// itself takes 2-3 min (metal halide) to 3-5 min (HPS) after van Bommel
	// 2015, section 10.2; the rest lets lamp, gear and housing warm through
	// (common practice, no source; for LED the half hour is LM-79's least
	// stabilisation time, from memory).
	RunUp map[fleet.LampType]float64 `yaml:"run_up_min"`
	// OnFloor is the PPFD, umol/m2/s, under which a lamp counts as dark
	// whatever the rest of its day shows.
	OnFloor float64 `yaml:"on_floor"`
	// OnShare is the share of the day's typical lit reading from which a lamp
	// counts as on.
	OnShare float64 `yaml:"on_share"`
	// Highest is the largest plausible PPFD, umol/m2/s.
	Highest float64 `yaml:"highest_ppfd"`
	// StuckHours is how long a lit sensor may print the same digits before it
	// counts as stuck.
	StuckHours float64 `yaml:"stuck_hours"`
	// SupplyShare is how far, as a share, the supply may be from the day's
	// median before the moment is left out.
	SupplyShare float64 `yaml:"supply_share"`
	// DipShare is how far, as a share, a moment may be from the day's median
	// before it counts as a shadow or a spike.
	DipShare float64 `yaml:"dip_share"`
	// SunBelow is how far, degrees, the sun must be below the horizon where
	// daylight reaches the sensors. 6 is the end of civil twilight (a
	// definition): some 3 lux are left, nothing beside a lamp.
	SunBelow float64 `yaml:"sun_below_deg"`
	// LeastMoments is how many usable moments a day needs to have a level,
	// where the logger records more than one a day.
	LeastMoments int `yaml:"least_moments"`
	// GapMinutes is the longest silence, minutes, that is bridged when lamp-on
	// time is summed; a slower logger's own cadence is bridged too.
	GapMinutes float64 `yaml:"gap_minutes"`
}

// DefaultGate is the gate of a site that declares none (common practice, no
// source, except as said at the fields).
func DefaultGate() Gate {
	return Gate{
		RunUp: map[fleet.LampType]float64{
			fleet.HPSDE: 20, fleet.HPSSE: 20, fleet.CMH: 20, fleet.MH: 20, fleet.Fluorescent: 20, fleet.LED: 30,
		},
		OnFloor: 5, OnShare: 0.2, Highest: 5000, StuckHours: 8, SupplyShare: 0.2, DipShare: 0.15, SunBelow: 6,
		LeastMoments: 3, GapMinutes: 60,
	}
}

// Validate lists what cannot be used.
func (g Gate) Validate() []setting.Fault {
	var out []setting.Fault
	bad := func(path string, v float64, what, do string) {
		out = append(out, setting.Fault{Path: path, What: fmt.Sprintf("%g %s", v, what), Do: do})
	}
	for t, m := range g.RunUp {
		path := "run_up_min." + string(t)
		if !slices.Contains(fleet.LampTypes, t) {
			out = append(out, setting.Fault{Path: path, What: fmt.Sprintf("%q is not a lamp type", t),
				Do: "see register/fixtures.csv for the known ones"})
		}
		if m < 0 || m > 240 {
			bad(path, m, "is not within 0 to 240 minutes", "write minutes from switching on to steady output")
		}
	}
	share := func(path string, v float64) {
		if !(v > 0 && v < 1) {
			bad(path, v, "is not between 0 and 1", "write a share such as 0.2")
		}
	}
	share("on_share", g.OnShare)
	share("supply_share", g.SupplyShare)
	share("dip_share", g.DipShare)
	positive := func(path string, v float64, unit string) {
		if !(v > 0) {
			bad(path, v, "is not above 0", "write "+unit)
		}
	}
	if g.SunBelow < 0 || g.SunBelow > 18 {
		bad("sun_below_deg", g.SunBelow, "is not within 0 to 18 degrees", "write 6 for the end of civil twilight")
	}
	positive("on_floor", g.OnFloor, "umol/m2/s")
	positive("highest_ppfd", g.Highest, "umol/m2/s")
	positive("stuck_hours", g.StuckHours, "hours")
	positive("gap_minutes", g.GapMinutes, "minutes")
	positive("least_moments", float64(g.LeastMoments), "a count")
	return out
}

// runUp gives the run-up in microseconds; a type that is not declared waits as
// long as the slowest.
func (g Gate) runUp(t fleet.LampType) int64 {
	m, ok := g.RunUp[t]
	if !ok {
		for _, v := range g.RunUp {
			m = max(m, v)
		}
	}
	return int64(m * 60e6)
}
