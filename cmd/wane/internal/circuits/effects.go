package circuits

import (
	"math"

	"wane/cmd/wane/internal/sitefolder"
	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/supply"
)

// Rated is whether a fixture is rated for what it gets.
type Rated struct {
	Fixture *fleet.Fixture
	Known   bool // the register gives a rated voltage
	supply.Verdict
}

// Effect is what the supply does to the output of the lamp in a fixture.
type Effect struct {
	Fixture string
	Gear    fleet.Gear
	Origin  string // of the coefficient
	supply.LampEffect
}

func (c *Circuit) ratings(q Asking) (err error) {
	for _, f := range c.Fixtures {
		r := Rated{Fixture: f, Known: f.RatedV > 0, Verdict: supply.Verdict{Words: "the register gives no rated voltage"}}
		if r.Known {
			if r.Verdict, err = supply.CheckRating(f.RatedV, c.Profile, q.Site.Config.Supply.GearTolerancePct); err != nil {
				return err
			}
		}
		c.Rated = append(c.Rated, r)
	}
	return nil
}

// Misrated counts the fixtures that are not rated for what they get.
func (c *Circuit) Misrated() int {
	n := 0
	for _, r := range c.Rated {
		if r.Known && !r.OK {
			n++
		}
	}
	return n
}

func (c *Circuit) effects(q Asking) {
	on := map[string]bool{}
	for _, f := range c.Fixtures {
		on[f.ID] = true
	}
	for _, l := range q.Lives {
		if !on[l.Fixture.ID] || !l.InService() || !l.Latest {
			continue
		}
		var days []supply.LampDay
		full := l.WithSeries()
		for _, lv := range full.Levels {
			d := full.DayAt(lv.Day)
			if lv.Raw > 0 && d.SupplyV > 0 && !math.IsNaN(lv.Level) {
				days = append(days, supply.LampDay{Output: lv.Raw, V: d.SupplyV})
			}
		}
		k, origin := coefficient(q.Site, l.Gear)
		c.Effects = append(c.Effects, Effect{l.Fixture.ID, l.Gear, origin, supply.OnLamp(days, k, l.Fixture.RatedV)})
	}
}

// coefficient is the declared one of the gear, or that of the corrections with
// the spread that the forecast assumes.
func coefficient(s sitefolder.Site, g fleet.Gear) (estimate.Estimate, string) {
	if k, ok := s.Config.Supply.Coefficients[g]; ok {
		return k.Estimate(), "site.yaml supply: " + k.Origin
	}
	name := string(g)
	if name == "" {
		name = forecast.UnknownGear
	}
	p := forecast.DefaultTable().Supply[name]
	return supply.Declared(s.Config.Corrections.Supply[g], p.SD), "site.yaml corrections; spread: " + p.Basis
}
