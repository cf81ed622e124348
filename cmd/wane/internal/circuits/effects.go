package circuits

import (
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"wane/cmd/wane/internal/derive"
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

// Effect is what the supply does to one lamp's output.
type Effect struct {
	Life        *derive.Life
	Coefficient estimate.Estimate // per cent of light for each per cent of voltage
	Origin      string
	FirstV      estimate.Estimate // at the lamp's first days with a level
	LaterV      estimate.Estimate // at its last
	Change      estimate.Estimate // of output as read, later over first
	supply.Share
	// AtRated is the output at the voltage of the last days over that at the
	// rated voltage, by the same coefficient.
	AtRated estimate.Estimate
}

func (c *Circuit) ratings(q Asking) error {
	for _, f := range c.Fixtures {
		r := Rated{Fixture: f}
		if f.RatedV <= 0 {
			r.Words = "the register gives no rated voltage"
			c.Rated = append(c.Rated, r)
			continue
		}
		r.Known = true
		var err error
		text := fmt.Sprintf("%g", f.RatedV)
		rating := supply.Rating{Text: text, Taps: []float64{f.RatedV}}
		if r.Verdict, err = supply.CheckRating(rating, c.Profile, q.Site.Config.Supply.GearTolerancePct); err != nil {
			return err
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

// span is how many days with a level stand for a lamp's first and last.
const span = 14

const level95 = .95

func (c *Circuit) effects(q Asking) {
	on := map[string]bool{}
	for _, f := range c.Fixtures {
		on[f.ID] = true
	}
	for _, l := range q.Lives {
		if !on[l.Fixture.ID] || !l.InService() || !l.Latest {
			continue
		}
		var raw, volts []float64
		full := l.WithSeries()
		for _, lv := range full.Levels {
			d := full.DayAt(lv.Day)
			if lv.Raw > 0 && d.SupplyV > 0 && !math.IsNaN(lv.Level) {
				raw, volts = append(raw, lv.Raw), append(volts, d.SupplyV)
			}
		}
		e := Effect{Life: l}
		e.Coefficient, e.Origin = coefficient(q.Site, l.Gear)
		if n := len(raw); n < 2*span {
			e.Share = supply.Explain(estimate.None("", "fewer than 28 days with both level and voltage"), estimate.Estimate{})
			e.Share.Words = fmt.Sprintf("%d days with both a level and a voltage; %d are needed", n, 2*span)
			none := estimate.None("median of days", e.Share.Words)
			e.FirstV, e.LaterV, e.Change, e.AtRated, e.Supply, e.Rest = none, none, none, none, none, none
			c.Effects = append(c.Effects, e)
			continue
		}
		n := len(raw)
		e.FirstV, e.LaterV = median(volts[:span]), median(volts[n-span:])
		e.Change = ratio(median(raw[n-span:]), median(raw[:span]))
		e.Share = supply.Explain(e.Change, supply.Effect(e.Coefficient, e.FirstV, e.LaterV))
		e.AtRated = estimate.None("", "the register gives no rated voltage")
		if v := l.Fixture.RatedV; v > 0 {
			e.AtRated = supply.Effect(e.Coefficient, estimate.Estimate{Centre: v, Lo: v, Hi: v, Level: level95, N: 1, Method: "register"}, e.LaterV)
			if math.Abs(e.LaterV.Centre/v-1) > .05 {
				e.AtRated = e.AtRated.Warn("more than 5 % from the rated voltage: a coefficient that holds near it is stretched here")
			}
		}
		c.Effects = append(c.Effects, e)
	}
}

// coefficient is the declared one of the gear, or that of the corrections with
// the spread that the forecast assumes.
func coefficient(s derive.Site, g fleet.Gear) (estimate.Estimate, string) {
	if k, ok := s.Config.Supply.Coefficients[g]; ok {
		return k.Estimate(), "site.yaml supply: " + k.Origin
	}
	name := string(g)
	if name == "" {
		name = forecast.UnknownGear
	}
	p := forecast.DefaultTable().Supply[name]
	m := s.Config.Corrections.Supply[g]
	h := p.SD * distuv.UnitNormal.Quantile(.5+level95/2)
	return estimate.Estimate{Centre: m, Lo: m - h, Hi: m + h, Level: level95, Method: "declared"},
		"site.yaml corrections; spread: " + p.Basis
}

// median gives the median of days with the interval that their scatter allows:
// 1.2533 standard errors of a mean for normal scatter.
func median(v []float64) estimate.Estimate {
	s := append([]float64(nil), v...)
	sort.Float64s(s)
	m := stat.Quantile(.5, stat.LinInterp, s, nil)
	h := distuv.UnitNormal.Quantile(.5+level95/2) * 1.2533 * stat.StdDev(s, nil) / math.Sqrt(float64(len(s)))
	return estimate.Estimate{Centre: m, Lo: m - h, Hi: m + h, Level: level95, N: len(s), Method: fmt.Sprintf("median of %d days, interval from their scatter", len(s))}
}

func ratio(a, b estimate.Estimate) estimate.Estimate {
	r := a.Centre / b.Centre
	h := math.Hypot((a.Hi-a.Centre)/a.Centre, (b.Hi-b.Centre)/b.Centre)
	return estimate.Estimate{Centre: r, Lo: r * math.Exp(-h), Hi: r * math.Exp(h), Level: level95, N: a.N + b.N,
		Method: fmt.Sprintf("output as read, median of the last %d days over that of the first %d", span, span)}
}
